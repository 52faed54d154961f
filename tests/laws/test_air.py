"""Law 12: light in air with a gradient, against the exact ray equation; slopes of the index."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from scenes.errors import InputError
from scenes.tracing.air import INDEX_PER_KELVIN, bend, bend_in, gradient_of_weight
from scenes.tracing.air_index import air_density, index_slopes, refractive_index, temperature_slope, vapour_pressure
from scenes.tracing.beam import point_on_path
from scenes.vectors import dot, length, rotation_from_vector, unit

CASES = 1000
EPS = float(np.finfo(np.float64).eps)
PICOMETRE = 1e-12
WARM = 293.15


def directions(rng, n=CASES):
    return unit(rng.normal(size=(n, 3)))


def airs(rng, n=CASES):
    """Wavelength, temperature, pressure and humidity as they come in halls."""
    ranges = (0.5e-6, 0.9e-6), (274.0, 320.0), (80e3, 110e3), (0.0, 1.0)
    return tuple(rng.uniform(*between, n) for between in ranges)


def off_chord(points):
    """Distance of the middle of three points ``(3, ..., 3)`` from the line through the others."""
    along = unit(points[2] - points[0])
    off = points[1] - points[0]
    return length(off - dot(off, along)[..., None] * along)


# Bending


def test_without_a_gradient_the_beam_is_straight():
    rng = np.random.default_rng(1)
    direction, way = directions(rng), rng.uniform(0.1, 40.0, CASES)
    curvature = bend(direction, np.zeros(CASES), 300.0)
    assert not curvature.any()
    assert not bend_in(direction, np.zeros(3), INDEX_PER_KELVIN).any()
    ends = point_on_path(np.zeros(3), direction, curvature, way)
    assert np.all(length(np.cross(ends, direction)) < 1e-15 * way)


def test_a_gradient_drops_the_beam_by_half_k_l_squared_and_zeroing_leaves_an_eighth():
    """Level beams of up to 40 m: k L^2 / 2 at the end; k L^2 / 8 in the middle once near and far are zeroed."""
    rng = np.random.default_rng(2)
    azimuth, gradient, way = rng.uniform(0, 7, CASES), rng.uniform(-1, 1, CASES), rng.uniform(1, 40, CASES)
    direction = np.stack([np.cos(azimuth), np.sin(azimuth), np.zeros(CASES)], axis=-1)
    k = INDEX_PER_KELVIN * gradient
    curvature = bend(direction, gradient, WARM)
    near, middle, far = (point_on_path(np.zeros(3), direction, curvature, part * way) for part in (0.0, 0.5, 1.0))
    rounding = 4.0 * EPS * way**2 * 1e-6
    assert np.all(np.abs(far[:, 2] - 0.5 * k * way**2) <= rounding)
    zeroed = middle[:, 2] - 0.5 * (near[:, 2] + far[:, 2])
    assert np.all(np.abs(zeroed + k * way**2 / 8.0) <= rounding)
    assert np.all(np.sign(far[:, 2]) == -np.sign(gradient))  # warmer above: down, toward the colder side


def test_zeroing_leaves_an_eighth_for_any_direction_and_gradient():
    rng = np.random.default_rng(3)
    direction, gradient, way = directions(rng), rng.normal(0.0, 1.0, (CASES, 3)), rng.uniform(1, 40, CASES)
    curvature = bend_in(direction, gradient, INDEX_PER_KELVIN)
    points = np.stack([point_on_path(np.zeros(3), direction, curvature, part * way) for part in (0.0, 0.5, 1.0)])
    expected = length(curvature) * way**2 / 8.0
    assert np.allclose(off_chord(points), expected, rtol=1e-8, atol=4.0 * EPS * 40.0)


def exact_rays(direction, gradient, slope, start_index, way):
    """Ends and directions of rays by numerical integration of d/ds (n dr/ds) = grad n, n = n0 + slope gradient . r."""
    count = len(direction)
    index_gradient = slope * gradient

    def rate(_, state):
        place, momentum = state.reshape(2, count, 3)
        index = start_index + dot(place, index_gradient)
        return np.concatenate([(momentum / index[:, None]).ravel(), index_gradient.ravel()])

    start = np.concatenate([np.zeros(3 * count), (start_index * direction).ravel()])
    path = solve_ivp(rate, (0.0, way), start, method="DOP853", rtol=1e-13, atol=1e-16)
    assert path.success
    place, momentum = path.y[:, -1].reshape(2, count, 3)
    return place, unit(momentum)


def test_the_parabola_follows_the_exact_ray_equation():
    """1000 rays, any direction, 40 m, up to 1 K/m in any direction: to 3.1e-4 of what the air bends them.

    2.7e-4 of it is the divisor n, which is left out; the rest is the index changing along the ray.
    """
    rng = np.random.default_rng(4)
    direction, way = directions(rng), 40.0
    gradient = unit(rng.normal(size=(CASES, 3))) * rng.uniform(0.0, 1.0, (CASES, 1))
    index = float(refractive_index(633e-9, WARM))
    place, final = exact_rays(direction, gradient, INDEX_PER_KELVIN, index, way)
    curvature = bend_in(direction, gradient, INDEX_PER_KELVIN)
    share = index - 1.0 + abs(INDEX_PER_KELVIN) * length(gradient) * way
    rounding = 40.0 * 8.0 * EPS
    off = length(place - point_on_path(np.zeros(3), direction, curvature, np.full(CASES, way)))
    assert np.all(off <= share * 0.5 * length(curvature) * way**2 + rounding)
    turned = length(final - unit(direction + way * curvature))
    assert np.all(turned <= share * length(curvature) * way + rounding)
    assert off.max() < 0.25e-6


def test_a_level_beam_of_40_m_in_1_k_per_m_is_off_by_the_index_alone():
    """Stated in `bend_in`: 0.76 mm; without n the parabola is 0.21 um off, with n less than a picometre."""
    direction, gradient = np.array([[1.0, 0.0, 0.0]]), np.array([[0.0, 0.0, 1.0]])
    index = float(refractive_index(633e-9, WARM))
    place, _ = exact_rays(direction, gradient, INDEX_PER_KELVIN, index, 40.0)
    exact = float(place[0, 2])
    closed = 2.0 * index / INDEX_PER_KELVIN * np.sinh(0.5 * INDEX_PER_KELVIN * float(place[0, 0]) / index) ** 2
    assert exact == pytest.approx(closed, abs=PICOMETRE)  # the catenary (n / k) (cosh(k x / n) - 1)
    drop = 0.5 * float(bend(direction, np.ones(1), WARM)[0, 2]) * 40.0**2
    assert drop == pytest.approx(-0.7638e-3, abs=0.5e-7)
    assert abs(drop - exact) == pytest.approx(0.207e-6, abs=0.5e-9)
    assert abs(drop / index - exact) < PICOMETRE


def test_curvature_is_square_to_the_beam_turns_with_everything_and_is_linear():
    rng = np.random.default_rng(5)
    direction, gradient = directions(rng), rng.normal(size=(CASES, 3))
    slope = temperature_slope(*airs(rng))
    curvature = bend_in(direction, gradient, slope)
    assert np.max(np.abs(dot(curvature, direction))) < 1e-20
    assert np.all(dot(curvature, gradient) <= 0.0)  # toward the colder side
    turn = rotation_from_vector(rng.normal(size=(CASES, 3)))
    turned = bend_in(np.einsum("nij,nj->ni", turn, direction), np.einsum("nij,nj->ni", turn, gradient), slope)
    assert np.allclose(turned, np.einsum("nij,nj->ni", turn, curvature), atol=1e-20)
    other = rng.normal(size=(CASES, 3))
    both = bend_in(direction, gradient + 2.0 * other, slope)
    assert np.allclose(both, curvature + 2.0 * bend_in(direction, other, slope), atol=1e-20)


def test_bend_is_the_vertical_case():
    rng = np.random.default_rng(6)
    direction, gradient = directions(rng), rng.normal(size=CASES)
    wavelength, temperature, pressure, humidity = airs(rng)
    upward = np.stack([np.zeros(CASES), np.zeros(CASES), gradient], axis=-1)
    for mixed in (False, True):
        slope = temperature_slope(wavelength, temperature, pressure, humidity, mixed=mixed)
        bent = bend(direction, gradient, temperature, pressure=pressure, humidity=humidity, wavelength=wavelength,
                    mixed=mixed)  # fmt: skip
        assert np.array_equal(bent, bend_in(direction, upward, slope))
    assert not bend(np.array([[0.0, 0.0, 1.0]]), np.ones(1), WARM).any()
    trials = bend(direction, rng.normal(size=(5, CASES)), WARM, wavelength=wavelength)
    assert trials.shape == (5, CASES, 3)


# The index


def test_slopes_are_those_of_differences():
    """Central differences of the index itself; what they leave is rounding of n over the step."""
    rng = np.random.default_rng(7)
    wavelength, t, p, rh = airs(rng)
    rh = 0.05 + 0.9 * rh
    slopes = index_slopes(wavelength, t, p, rh)

    def difference(step_t, step_p, step_rh):
        ends = [refractive_index(wavelength, t + s * step_t, p + s * step_p, rh + s * step_rh) for s in (1, -1)]
        return 0.5 * (ends[0] - ends[1])

    for slope, step in ((slopes.per_kelvin, (0.05, 0, 0)), (slopes.per_pascal, (0, 50, 0)),
                        (slopes.per_humidity, (0, 0, 0.02))):  # fmt: skip
        size = max(step)
        assert np.allclose(difference(*step) / size, slope, rtol=1e-5, atol=2.0 * EPS / size)
    assert np.array_equal(slopes.per_kelvin, temperature_slope(wavelength, t, p, rh))
    assert np.array_equal(slopes.per_kelvin_mixed, temperature_slope(wavelength, t, p, rh, mixed=True))


def test_mixed_air_keeps_its_vapour():
    """Warmed air that takes up no water: its humidity falls as the pressure of saturated vapour rises."""
    rng = np.random.default_rng(14)
    light, t, p, rh = airs(rng)
    rh, step = 0.1 + 0.8 * rh, 0.05
    ends = [refractive_index(light, t + s, p, rh * vapour_pressure(t) / vapour_pressure(t + s)) for s in (step, -step)]
    found = (ends[0] - ends[1]) / (2.0 * step)
    # the enhancement factor is left out here: 6e-5 per kelvin of a humidity that changes by 4e-2 and more
    assert np.allclose(found, temperature_slope(light, t, p, rh, mixed=True), rtol=3e-4)
    wet = (t > 310.0) & (rh > 0.5)
    assert np.all(found[wet] / temperature_slope(light, t, p, rh)[wet] < 0.95)


def test_humid_air_is_thinner_and_bends_less_when_mixed():
    rng = np.random.default_rng(8)
    wavelength, t, p, rh = airs(rng)
    slopes = index_slopes(wavelength, t, p, rh)
    assert np.all(slopes.per_kelvin <= slopes.per_kelvin_mixed)
    assert np.all(slopes.per_kelvin_mixed < 0.0)
    assert np.all(slopes.per_pascal > 0.0)
    assert np.all(slopes.per_humidity < 0.0)
    dry = refractive_index(wavelength, t, p, 0.0)
    assert np.all(dry >= refractive_index(wavelength, t, p, rh))
    # n - 1 of dry air goes as p / T but for its compressibility, 5e-4 at most with a slope of 1e-5 per kelvin
    assert np.allclose(index_slopes(wavelength, t, p, 0.0).per_kelvin * t / (dry - 1.0), -1.0, atol=5e-3)


def test_density_is_that_of_a_mixture_of_ideal_gases_but_for_compressibility():
    rng = np.random.default_rng(9)
    _, t, p, _ = airs(rng)
    ideal = p * 0.028964 / (8.314472 * t)
    ratio = air_density(t, p, 0.0) / ideal
    assert np.all((ratio > 0.9998) & (ratio < 1.0010))
    assert np.all(air_density(t, p, 1.0) < air_density(t, p, 0.0))


@pytest.mark.parametrize("wrong", [
    {"wavelength": 2e-6}, {"temperature": 20.0}, {"pressure": 1013.25}, {"humidity": 50.0}, {"co2": -1.0},
    {"temperature": np.nan},
])  # fmt: skip
def test_air_outside_the_range_is_refused(wrong):
    with pytest.raises(InputError, match="index of air is known for"):
        refractive_index(**{"wavelength": 633e-9, "temperature": WARM, **wrong})


def test_boiling_air_is_refused():
    with pytest.raises(InputError, match="boils"):
        refractive_index(633e-9, 370.0, 20e3, 1.0)


def test_the_weight_of_the_air_bends_as_its_gradient_does():
    """Up by a metre the index of air of one temperature falls by what the gradient stands for."""
    rng = np.random.default_rng(10)
    wavelength, t, p, rh = airs(rng)
    up = 1.0
    thinner = refractive_index(wavelength, t, p - up * 9.80665 * air_density(t, p, rh), rh)
    change = (thinner - refractive_index(wavelength, t, p, rh)) / up
    for mixed in (False, True):
        gradient = gradient_of_weight(t, pressure=p, humidity=rh, wavelength=wavelength, mixed=mixed)
        slope = temperature_slope(wavelength, t, p, rh, mixed=mixed)
        assert np.allclose(gradient * slope, change, rtol=2e-4, atol=2.0 * EPS)
    drops = 0.5 * INDEX_PER_KELVIN * float(gradient_of_weight(WARM)) * np.array([10.0, 40.0]) ** 2
    assert drops == pytest.approx([-1.6e-6, -25e-6], rel=0.03)  # as its docstring says
