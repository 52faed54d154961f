"""The level surface of a round Earth: exact against sixty digits, and what its heights keep."""

from __future__ import annotations

from decimal import Decimal, localcontext

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.errors import GeometryError
from scenes.tracing.earth import EARTH_RADIUS, heights_above_level, level_drop
from scenes.vectors import rotation_from_vector

CASES = 1000
EPS = float(np.finfo(np.float64).eps)


def exact_drop(distance: float) -> float:
    with localcontext() as context:
        context.prec = 60
        radius, d = Decimal(EARTH_RADIUS), Decimal(distance)
        return float(radius - (radius * radius - d * d).sqrt())


def exact_height(q: list[float]) -> float:
    with localcontext() as context:
        context.prec = 60
        radius = Decimal(EARTH_RADIUS)
        x, y, z = (Decimal(part) for part in q)
        return float((x * x + y * y + (z + radius) ** 2).sqrt() - radius)


def test_level_drop_is_exact_at_every_distance():
    rng = np.random.default_rng(11)
    distance = 10.0 ** rng.uniform(-6.0, 6.5, CASES)
    drop = level_drop(distance)
    assert np.allclose(drop, [exact_drop(one) for one in distance], rtol=4.0 * EPS, atol=0.0)
    assert np.array_equal(drop, level_drop(-distance))
    short = distance < 1e3
    assert np.allclose(drop[short], distance[short] ** 2 / (2.0 * EARTH_RADIUS), rtol=1e-7, atol=0.0)
    assert level_drop(0.0) == 0.0


@settings(max_examples=CASES, deadline=None)
@given(st.floats(-100.0, 100.0), st.floats(-100.0, 100.0), st.floats(-20.0, 20.0))
def test_heights_above_the_level_surface_are_exact(x, y, z):
    """To rounding of the sum of its parts, q.q / 2R and h, which may cancel for a point on the surface."""
    height = float(heights_above_level(np.array([x, y, z]), np.zeros(3)))
    parts = (x * x + y * y + z * z) / (2.0 * EARTH_RADIUS) + abs(z)
    assert abs(height - exact_height([x, y, z])) <= 4.0 * EPS * parts + 1e-45  # 60 digits beside the radius


def test_the_level_surface_has_no_height_and_a_plumb_line_keeps_it():
    rng = np.random.default_rng(12)
    d, azimuth = rng.uniform(0.0, 100.0, CASES), rng.uniform(0, 7, CASES)
    drop = level_drop(d)
    surface = np.stack([d * np.cos(azimuth), d * np.sin(azimuth), -drop], axis=-1)
    assert np.all(np.abs(heights_above_level(surface, np.zeros(3))) <= 8.0 * EPS * drop)
    up = rng.uniform(-20.0, 20.0, CASES)
    plumb = np.stack([np.zeros(CASES), np.zeros(CASES), up], axis=-1)
    assert np.allclose(heights_above_level(plumb, np.zeros(3)), up, rtol=4.0 * EPS)


def test_heights_do_not_change_when_the_world_is_turned_about_the_vertical_or_moved():
    rng = np.random.default_rng(13)
    points = rng.uniform(-50.0, 50.0, (CASES, 3)) * [1.0, 1.0, 0.1]
    here = heights_above_level(points, np.zeros(3))
    turn = rotation_from_vector(np.array([0.0, 0.0, 1.1]))
    shift = np.array([300.0, -200.0, 4.0])
    assert np.allclose(heights_above_level(points @ turn.T + shift, shift), here, atol=1e-12)
    assert heights_above_level(points.reshape(10, 100, 3), np.zeros(3)).shape == (10, 100)


def test_a_horizontal_plane_rises_above_the_level_surface():
    """Two stations at the same height of a plane 40 m apart: the far one is 125.6 um above level."""
    ends = np.array([[0.0, 0.0, 0.9], [40.0, 0.0, 0.9]])
    low, high = heights_above_level(ends, ends[0])
    assert low == 0.0
    assert high == pytest.approx(float(level_drop(40.0)), rel=1e-10)


def test_there_is_no_level_surface_beyond_the_radius():
    with pytest.raises(GeometryError, match="radius of the Earth"):
        level_drop([1.0, 7e6])
