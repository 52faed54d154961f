"""Laws of thermal growth: beam theory by numerical integration, freedom from stress, signs, trials."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from scenes.errors import GeometryError
from scenes.tracing.growth import (
    REFERENCE_TEMPERATURE,
    bow,
    column_growth,
    plate_growth,
    rail_growth,
    relative_growth,
)

CASES = 1000
EPS = float(np.finfo(np.float64).eps)
NANOMETRE = 1e-9


def parts(rng, n=CASES):
    """Thickness, expansion, temperature and warmth across, one per trial ``(n, 1)``."""
    ranges = (0.05, 1.0), (5e-6, 25e-6), (273.0, 313.0), (-5.0, 5.0)
    return tuple(rng.uniform(*between, (n, 1)) for between in ranges)


def integrated_beam(thickness, expansion, mean, across, ends):
    """Rise of the middle and deflections at ``ends`` (either side) of an unloaded beam, by numerical integration.

    Source: J. Bernoulli and L. Euler's beam with thermal strain: E I w'' = -M, M the moment of E alpha (T - T0).
    """
    modulus, width, half = 110e9, 0.4, 0.5 * thickness

    def warmth(z):
        return mean - REFERENCE_TEMPERATURE + across * z / thickness

    moment = quad(lambda z: modulus * width * expansion * warmth(z) * z, -half, half)[0]
    stiffness = quad(lambda z: modulus * width * z * z, -half, half)[0]
    rise = quad(lambda z: expansion * warmth(z), -half, half)[0]
    path = solve_ivp(
        lambda _, w: [w[1], -moment / stiffness], (0.0, np.abs(ends).max()), [0.0, 0.0], rtol=1e-12, atol=1e-18,
        dense_output=True,
    )  # fmt: skip
    return rise, path.sol(np.abs(ends))[0]


@pytest.mark.parametrize("thickness", [0.06, 0.35])
@pytest.mark.parametrize("across", [2.0, -0.7])
def test_bow_and_rise_are_those_of_an_integrated_beam(thickness, across):
    expansion, mean, length = 10.8e-6, 297.0, 3.0
    ends = np.array([-1.5, -0.4, 0.3, 1.5])
    rise, deflections = integrated_beam(thickness, expansion, mean, across, ends)
    places = np.column_stack([ends, np.zeros(4)])
    plate = plate_growth(places, thickness, expansion, mean, across)
    assert np.allclose(plate, rise + deflections, rtol=1e-9, atol=1e-15)
    rail = rail_growth(places + np.array([0.5 * length, 0.03]), length, thickness, expansion, mean, across)
    assert np.allclose(rail, rise + deflections, rtol=1e-9, atol=1e-15)
    # a column stands upright: the same beam, held at its foot
    upright = np.column_stack([np.zeros(2), np.zeros(2), ends[2:]])
    column = column_growth(upright, thickness, expansion, mean, across)
    assert np.allclose(column, 0.5 * rise + deflections[2:], rtol=1e-9, atol=1e-15)


def test_the_bowed_plate_is_free_of_stress():
    """The shape belongs to a solid whose strain is everywhere what its temperature asks for, and nothing else.

    Displacements that continue the result into the solid (z from its middle layer); their strains are taken by central
    differences, which are exact for squares. So no edge, outline or Poisson's ratio changes the bow.
    """
    thickness, expansion, mean, across = 0.3, 11.5e-6, 296.0, 1.7
    slope = across / thickness
    excess = mean - REFERENCE_TEMPERATURE

    def moved(place):
        x, y, z = np.moveaxis(place, -1, 0)
        along = expansion * (excess + slope * z)
        up = expansion * (excess * z + 0.5 * slope * (z * z - x * x - y * y))
        return np.stack([along * x, along * y, up], axis=-1)

    rng = np.random.default_rng(1)
    places = rng.uniform(-1.0, 1.0, (CASES, 3)) * [1.5, 0.9, 0.5 * thickness]
    step = 0.01
    slopes = np.stack(
        [(moved(places + step * axis) - moved(places - step * axis)) / (2.0 * step) for axis in np.eye(3)], axis=-1
    )
    strain = 0.5 * (slopes + np.swapaxes(slopes, 1, 2))
    asked = expansion * (excess + slope * places[:, 2])
    assert np.allclose(strain, asked[:, None, None] * np.eye(3), atol=1e-17)

    top = np.column_stack([places[:, :2], np.full(CASES, 0.5 * thickness)])
    foot = moved(np.array([[0.0, 0.0, -0.5 * thickness]]))[:, 2]
    seen = plate_growth(places[:, :2], thickness, expansion, mean, across)
    assert np.allclose(seen, moved(top)[:, 2] - foot, rtol=1e-12, atol=1e-18)


def test_a_side_that_is_warmer_crowns():
    line = np.array([[-1.0, 0.0], [0.0, 0.0], [0.0, 0.8], [1.0, 0.0]])
    warm_top = plate_growth(line, 0.3, 11.5e-6, REFERENCE_TEMPERATURE, 2.0)
    assert warm_top[1] == 0.0
    assert np.all(warm_top[[0, 2, 3]] < 0.0)
    assert np.array_equal(plate_growth(line, 0.3, 11.5e-6, REFERENCE_TEMPERATURE, -2.0), -warm_top)
    rail = rail_growth([[0.0, 0.0], [2.0, 0.02], [4.0, 0.0]], 4.0, 0.2, 11.5e-6, REFERENCE_TEMPERATURE, 1.0)
    assert rail[0] == rail[2] < rail[1] == 0.0
    side = column_growth([[0.2, 0.0, 0.0], [0.2, 0.0, 3.0]], 0.4, 11.5e-6, REFERENCE_TEMPERATURE, 1.0)
    assert side[0] == 0.0 > side[1]  # its top leans away from the warm side


@settings(max_examples=CASES, deadline=None)
@given(st.floats(-5.0, 5.0), st.floats(0.02, 2.0), st.floats(1e-6, 30e-6), st.floats(-10.0, 10.0), st.floats(0.1, 3.0))
def test_the_bow_is_an_arc_of_a_circle(distance, thickness, expansion, across, share):
    """The parabola stands for a circle of radius thickness / (expansion across): to (d / radius)^2 of itself."""
    curvature = expansion * across / thickness
    angle = np.arcsin(curvature * distance)
    circle = -distance * np.tan(0.5 * angle)  # R - R cos(angle) with d = R sin(angle), without their difference
    flat = float(bow(distance, thickness, expansion, across))
    assert abs(flat - circle) <= abs(flat) * ((curvature * distance) ** 2 + 8.0 * EPS) + 1e-300
    assert float(bow(share * distance, thickness, expansion, across)) == pytest.approx(share**2 * flat, rel=1e-14)


def test_nothing_grows_at_the_reference_temperature():
    rng = np.random.default_rng(2)
    at = rng.uniform(-1.0, 1.0, (50, 3))
    thickness, expansion, _, _ = parts(rng)
    for deviation in (
        plate_growth(at, thickness, expansion, REFERENCE_TEMPERATURE),
        rail_growth(at, 2.0, thickness, expansion, REFERENCE_TEMPERATURE),
        column_growth(at, thickness, expansion, REFERENCE_TEMPERATURE),
    ):
        assert deviation.shape == (CASES, 50)
        assert not deviation.any()
    assert not relative_growth(expansion, REFERENCE_TEMPERATURE).any()


def test_an_even_temperature_changes_size_and_no_form():
    rng = np.random.default_rng(3)
    at = rng.uniform(-2.0, 2.0, (40, 3))
    thickness, expansion, temperature, _ = parts(rng)
    grown = relative_growth(expansion, temperature)
    for deviation, size in (
        (plate_growth(at, thickness, expansion, temperature), thickness),
        (rail_growth(at, 4.0, thickness, expansion, temperature), thickness),
        (column_growth(at, thickness, expansion, temperature), 0.5 * thickness),
    ):
        assert np.all(np.ptp(deviation, axis=1) == 0.0)
        assert np.allclose(deviation[:, :1], grown * size, rtol=4.0 * EPS)


def test_trials_are_as_single_parts_and_causes_add():
    rng = np.random.default_rng(4)
    at = rng.uniform(-2.0, 2.0, (30, 2))
    thickness, expansion, temperature, across = parts(rng)
    together = plate_growth(at, thickness, expansion, temperature, across)
    for i in (0, 17, CASES - 1):
        alone = plate_growth(at, thickness[i, 0], expansion[i, 0], temperature[i, 0], across[i, 0])
        assert np.array_equal(together[i], alone)
    warm = plate_growth(at, thickness, expansion, temperature)
    bowed = plate_growth(at, thickness, expansion, REFERENCE_TEMPERATURE, across)
    assert np.allclose(together, warm + bowed, atol=1e-6 * NANOMETRE)
    # a rail is a plate that bows along x alone, told from its start
    line = np.column_stack([at[:, 0], np.zeros(30)])
    rail = rail_growth(line + np.array([2.0, 0.0]), 4.0, thickness, expansion, temperature, across)
    assert np.allclose(rail, plate_growth(line, thickness, expansion, temperature, across), atol=1e-6 * NANOMETRE)


def test_wrong_parts_are_refused():
    with pytest.raises(GeometryError, match="without thickness"):
        plate_growth([[0.0, 0.0]], 0.0, 11.5e-6, 300.0, 1.0)
    with pytest.raises(GeometryError, match="without thickness"):
        bow(1.0, np.nan, 11.5e-6, 1.0)
    with pytest.raises(ValueError, match="two or three coordinates"):
        rail_growth([0.0, 1.0], 1.0, 0.1, 11.5e-6, 300.0)
    with pytest.raises(ValueError, match="have a height"):
        column_growth([[0.0, 1.0]], 0.1, 11.5e-6, 300.0)
