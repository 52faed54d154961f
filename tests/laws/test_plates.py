"""Laws of plane plates: what a see-through target does to the beam that passes it."""

from __future__ import annotations

import numpy as np
import pytest

from scenes.tracing.plates import through_plate
from scenes.vectors import dot, length, unit

CASES = 2000
NANOMETRE = 1e-9
ROUNDING = 2e-15
FLAT = np.zeros(3)
X, Y, Z = np.eye(3)

rng = np.random.default_rng(21)


def leaning_plates(steepest):
    """Origins, directions and plates met at up to ``steepest`` rad: point, normal, thickness, index."""
    normal = unit(rng.normal(size=(CASES, 3)))
    angle, round_it = rng.uniform(0.0, steepest, CASES), unit(np.cross(normal, rng.normal(size=(CASES, 3))))
    direction = np.cos(angle)[:, None] * normal + np.sin(angle)[:, None] * round_it
    origin = rng.normal(size=(CASES, 3))
    point = origin + rng.uniform(0.1, 20.0, CASES)[:, None] * direction + np.cross(normal, rng.normal(size=(CASES, 3)))
    return origin, direction, point, normal, rng.uniform(0.5e-3, 20e-3, CASES), rng.uniform(1.3, 1.9, CASES)


def test_a_parallel_plate_keeps_the_direction():
    plates = leaning_plates(1.5)
    assert np.abs(through_plate(*plates, FLAT)[1] - plates[1]).max() < 10.0 * ROUNDING  # near grazing


def test_a_parallel_plate_displaces_the_beam_by_the_law_of_the_plate():
    """By t sin th (1 - cos th / sqrt(n^2 - sin^2 th)), toward the normal through the point where the beam came in."""
    origin, direction, _, normal, t, n = plates = leaning_plates(1.3)
    point, _, _ = through_plate(*plates, FLAT)
    off = point - origin
    off = off - dot(off, direction)[:, None] * direction
    cos = dot(direction, normal)
    sin = length(np.cross(direction, normal))
    expected = t * sin * (1.0 - cos / np.sqrt(n**2 - sin**2))
    toward = unit(normal - cos[:, None] * direction)
    assert np.abs(off - expected[:, None] * toward).max() < 0.01 * NANOMETRE
    assert expected.max() > 5e-3
    assert expected.min() >= 0.0


def test_the_way_in_glass_ends_on_the_back_face():
    origin, direction, point, normal, t, n = plates = leaning_plates(1.3)
    left, _, glass = through_plate(*plates, FLAT)
    sin = length(np.cross(direction, normal))
    assert np.abs(dot(left - point, normal) - t).max() < 1e-13  # coordinates of tens of metres
    assert np.abs(glass - t / np.sqrt(1.0 - (sin / n) ** 2)).max() < 1e-13
    assert origin.shape == left.shape


def test_plates_on_one_beam_add_their_offsets_in_any_order():
    origin, direction, *_ = leaning_plates(0.1)
    plates = []
    for _ in range(3):
        normal = unit(direction + rng.uniform(-0.2, 0.2, (CASES, 3)))
        plates.append((normal, rng.uniform(1e-3, 10e-3, CASES), rng.uniform(1.4, 1.8, CASES)))
    ends = []
    for order in ((0, 1, 2), (2, 0, 1)):
        at, along = origin, direction
        for place, which in enumerate(order):
            normal, t, n = plates[which]
            at, along, _ = through_plate(at, along, origin + (place + 1.0) * direction, normal, t, n, FLAT)
        off = at - origin
        ends.append(off - dot(off, direction)[:, None] * direction)
    assert np.abs(ends[0] - ends[1]).max() < 1e-13
    assert np.abs(ends[0]).max() > 1e-4


def wedged(scale):
    """Remainder beyond -(n - 1) w of small wedges met at small angles."""
    case = np.random.default_rng(7)
    n = case.uniform(1.4, 1.9, CASES)
    normal = unit(case.normal(size=(CASES, 3)))
    wedge = np.cross(normal, scale * case.uniform(-1.0, 1.0, (CASES, 3)))
    direction = unit(normal + np.cross(normal, scale * case.uniform(-1.0, 1.0, (CASES, 3))))
    _, out, _ = through_plate(-direction, direction, FLAT, normal, 5e-3, n, wedge)
    return np.abs(out - direction + (n - 1.0)[:, None] * wedge).max()


def test_a_wedge_turns_the_beam_toward_its_thick_side():
    """By -(n - 1) w for small angles, where the normal of the back face is normal + w."""
    rest = wedged(1e-3)
    assert rest < 3.0 * 1e-6
    assert rest / wedged(0.5e-3) == pytest.approx(4.0, rel=0.02)


def test_a_wedge_met_square_deviates_by_snell_at_the_back_face():
    angle, n = rng.uniform(0.0, 0.3, CASES), rng.uniform(1.3, 1.9, CASES)
    wedge = np.tan(angle)[:, None] * Y
    _, out, _ = through_plate(-X, X, FLAT, X, 5e-3, n, wedge)
    assert np.abs(out[:, 1] + np.sin(np.arcsin(n * np.sin(angle)) - angle)).max() < ROUNDING


def test_the_plate_is_thinner_where_the_wedge_points():
    off, wedge = rng.uniform(-0.01, 0.01, (2, CASES)), rng.uniform(-1e-3, 1e-3, CASES)
    origin = np.stack([np.full(CASES, -1.0), *off], axis=-1)
    _, _, glass = through_plate(origin, X, FLAT, X, 5e-3, 1.5, wedge[:, None] * Z)
    assert np.abs(glass - (5e-3 - off[1] * wedge)).max() < ROUNDING


def test_light_goes_back_through_the_plate_the_way_it_came():
    origin, direction, point, normal, t, n = leaning_plates(1.0)
    wedge = np.cross(normal, rng.uniform(-0.02, 0.02, (CASES, 3)))
    left, out, glass = through_plate(origin, direction, point, normal, t, n, wedge)
    entered = origin + (dot(point - origin, normal) / dot(direction, normal))[:, None] * direction
    back = -unit(normal + wedge)  # the back face is now the front, and the front leans against it
    lean = -normal / dot(-normal, back)[:, None] - back
    again, home, way = through_plate(left, -out, left, back, dot(entered - left, -normal) / dot(back, -normal), n, lean)
    assert np.abs(home + direction).max() < 10.0 * ROUNDING
    assert np.abs(again - entered).max() < 1e-13
    assert np.abs(way - glass).max() < 1e-13


def test_no_thickness_and_no_wedge_change_nothing_at_all():
    origin, direction = rng.normal(size=(CASES, 3)), unit(rng.normal(size=(CASES, 3)))
    t = np.where(np.arange(CASES) % 2 == 0, 0.0, 5e-3)
    point, out, glass = through_plate(origin, direction, FLAT, unit(rng.normal(size=(CASES, 3))), t, 1.5, FLAT)
    bare = t == 0.0
    assert np.array_equal(point[bare], origin[bare])
    assert np.array_equal(out[bare], direction[bare])
    assert np.all(glass[bare] == 0.0)
    assert not np.any(glass[~bare] == 0.0)


def test_a_thin_wedge_is_still_a_wedge():
    point, out, glass = through_plate(-X, X, FLAT, X, 0.0, 1.5, 1e-3 * Y)
    assert np.array_equal(point, FLAT)
    assert glass == 0.0
    assert out[1] == pytest.approx(-0.5e-3, rel=1e-5)


def test_what_does_not_get_through_is_nan():
    d = np.stack([X, -X, Y])
    parts = through_plate(np.zeros(3), d, X, X, 5e-3, 1.5, FLAT)
    assert all(np.isnan(part).reshape(3, -1).all(axis=1).tolist() == [False, True, True] for part in parts)
    steep = through_plate(np.zeros(3), X, X, X, 5e-3, 1.5, 1.0 * Y)  # 45 deg inside: beyond the critical 41.8 deg
    assert all(np.isnan(part).all() for part in steep)


def test_leading_axes_broadcast():
    d = unit(X + rng.uniform(-0.1, 0.1, (4, 1, 3)))
    point, out, glass = through_plate(np.zeros((3, 1, 1, 3)), d, X, X, np.full(6, 5e-3), np.full(6, 1.5), FLAT)
    assert point.shape == out.shape == (3, 4, 6, 3)
    assert glass.shape == (3, 4, 6)
