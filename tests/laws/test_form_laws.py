"""Laws of form values: invariance, order of the references, certificates, and agreement of independent methods."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.spatial.transform import Rotation

from scenes.reductions.form import FormResult, Reference, flatness, straightness
from scenes.reductions.spans import frame_along
from scenes.reductions.zone_hull import narrowest_direction

MICROMETRE = 1e-6
ROUNDING = 32.0 * np.finfo(float).eps
"""Rounding of one coordinate times the few operations that a distance takes; times the largest coordinate."""

many = settings(max_examples=1000, deadline=None, database=None)
some = settings(max_examples=200, deadline=None, database=None)
seeds = st.integers(0, 2**32 - 1)


def surface(kind: str, seed: int) -> np.ndarray:
    """Return a random surface (n, 3) of the kind named, in metres."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(5, 60))
    plan = rng.random((n, 2)) * rng.uniform(0.2, 5.0, 2)
    rough = rng.normal(0.0, 10.0 * MICROMETRE, n)
    rows, columns = rng.integers(3, 8, 2)
    grid = np.stack(np.meshgrid(np.arange(columns) * 0.1, np.arange(rows) * 0.1), axis=-1).reshape(-1, 2)
    if kind == "scattered":
        return np.column_stack((plan, rough))
    if kind == "grid rounded to 1 um":
        step = rng.normal(0.0, rng.choice([1.0, 4.0]) * MICROMETRE, len(grid))
        return np.column_stack((grid, np.round(step / MICROMETRE) * MICROMETRE))
    if kind == "tilted grid rounded to 1 um":
        step = 1e-3 * grid @ rng.normal(size=2) + rng.normal(0.0, 2.0 * MICROMETRE, len(grid))
        return np.column_stack((grid, np.round(step / MICROMETRE) * MICROMETRE))
    if kind == "repeated stations":
        points = np.column_stack((plan, rough))
        again = points[rng.integers(0, n, n)] + np.array([0.0, 0.0, 1.0]) * rng.normal(0.0, MICROMETRE, (n, 1))
        return np.vstack((points, again, points[:3]))
    if kind == "two rails":
        along = np.tile(np.linspace(0.0, 20.0, n), 2)
        across = np.repeat([0.0, 1.435], n)
        return np.column_stack((along, across, rng.normal(0.0, 50.0 * MICROMETRE, 2 * n)))
    if kind == "cloud":
        return rng.normal(size=(n, 3))
    if kind == "lattice":
        return rng.integers(0, 4, (n + 20, 3)).astype(float)
    raise AssertionError(kind)


THIN = ["scattered", "grid rounded to 1 um", "tilted grid rounded to 1 um", "repeated stations", "two rails"]
ANY = [*THIN, "cloud", "lattice"]


def profile(kind: str, seed: int) -> np.ndarray:
    """Return a random profile (n, 2) of the kind named, in metres."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 60))
    if kind == "scattered":
        return np.column_stack((rng.random(n) * 5.0, rng.normal(0.0, 10.0 * MICROMETRE, n)))
    if kind == "rounded to 1 um":
        steps = np.round(rng.normal(0.0, 2.0, n) + 3.0 * np.arange(n))
        return np.column_stack((np.arange(n) * 0.1, steps * MICROMETRE))
    if kind == "cloud":
        return rng.normal(size=(n, 2))
    raise AssertionError(kind)


WEIGHT_NOISE = 1e-11
"""Share of the extent by which weighted means may miss each other: rounding of weights on narrow plans."""


def noise_of(points: np.ndarray) -> float:
    return ROUNDING * float(np.abs(points).max())


def width_by_hull(points: np.ndarray) -> float:
    centre = points.mean(axis=0)
    size = float(np.abs(points - centre).max())
    found = narrowest_direction((points - centre) / size)
    return 0.0 if found is None else found[1] * size


def vertical_width_by_programme(points: np.ndarray) -> float:
    """Return the least vertical width over all slopes, by linear programming (HiGHS)."""
    rows = points - points.mean(axis=0)
    plan = rows[:, :-1] / np.abs(rows[:, :-1]).max()
    size = float(np.ptp(rows[:, -1]))
    heights = rows[:, -1] / size
    n, d = plan.shape
    one, none = np.ones((n, 1)), np.zeros((n, 1))
    limits = np.vstack((np.hstack((-plan, -one, none)), np.hstack((plan, none, one))))
    solved = linprog(
        np.append(np.zeros(d), [1.0, -1.0]),
        A_ub=limits,
        b_ub=np.concatenate((-heights, heights)),
        bounds=[(None, None)] * (d + 2),
        method="highs",
    )
    assert solved.success
    return float(solved.fun) * size


PROGRAMME = 2e-7
"""Share of the height range that HiGHS leaves open: its feasibility tolerance is 1e-7 on either side of the zone."""


def width_by_trying_all(points: np.ndarray) -> float:
    """Return the least width over every plane through three points and every pair of parallel lines through two."""
    normals = [
        np.cross(points[j] - points[i], points[k] - points[i]) for i, j, k in combinations(range(len(points)), 3)
    ]
    edges = [points[j] - points[i] for i, j in combinations(range(len(points)), 2)]
    normals += [np.cross(one, two) for one, two in combinations(edges, 2)]
    raw = np.array(normals)
    length = np.linalg.norm(raw, axis=1)
    usable = length > 1e-9 * length.max()
    return float(np.ptp((raw[usable] / length[usable, None]) @ points.T, axis=1).min())


def in_own_frame(points: np.ndarray, result: FormResult) -> np.ndarray:
    """Return the points with the last coordinate along the normal of the reference."""
    return (points - points.mean(axis=0)) @ frame_along(result.normal).T


def prove(points: np.ndarray, result: FormResult) -> None:
    """Check the certificate of a minimum zone from the result alone."""
    size = float(np.abs(points - points.mean(axis=0)).max())
    noise = noise_of(points)
    for weights in (result.high_weights, result.low_weights):
        assert weights.min() >= 0.0
        assert abs(weights.sum() - 1.0) <= ROUNDING
    assert result.criterion == f"{result.high.size}-{result.low.size}"
    assert result.high.size + result.low.size == points.shape[1] + 1
    assert np.abs(result.deviations[result.high] - result.value / 2.0).max() <= noise
    assert np.abs(result.deviations[result.low] + result.value / 2.0).max() <= noise
    assert np.abs(result.deviations).max() <= result.value / 2.0 + noise
    # Both weighted means face each other along the normal, so no tilt makes the zone narrower.
    across = result.high_weights @ points[result.high] - result.low_weights @ points[result.low]
    assert np.abs(across - result.value * result.normal).max() <= WEIGHT_NOISE * size + noise


@many
@given(seed=seeds, kind=st.sampled_from(ANY))
def test_minimum_zone_is_proved_and_agrees_with_the_hull(kind: str, seed: int) -> None:
    points = surface(kind, seed)
    result = flatness(points)
    prove(points, result)
    assert result.value == pytest.approx(width_by_hull(points), abs=noise_of(points))


@many
@given(seed=seeds, kind=st.sampled_from(["scattered", "rounded to 1 um", "cloud"]))
def test_straight_zone_is_proved_and_agrees_with_the_hull(kind: str, seed: int) -> None:
    points = profile(kind, seed)
    result = straightness(points)
    prove(points, result)
    assert result.value == pytest.approx(width_by_hull(points), abs=noise_of(points))
    # High-low-high or low-high-low: the single contact lies between the pair, along the line.
    along = in_own_frame(points, result)[:, 0]
    pair, single = (result.high, result.low) if result.high.size == 2 else (result.low, result.high)
    slip = noise_of(points) + 1e-12 * float(np.ptp(along))
    assert along[pair].min() - slip <= along[single[0]] <= along[pair].max() + slip


@some
@given(seed=seeds, kind=st.sampled_from(ANY))
def test_minimum_zone_agrees_with_linear_programming(kind: str, seed: int) -> None:
    points = surface(kind, seed)
    result = flatness(points)
    own = in_own_frame(points, result)
    scale = float(np.ptp(own[:, 2]))
    assert vertical_width_by_programme(own) == pytest.approx(result.value, abs=PROGRAMME * scale + noise_of(points))


@some
@given(seed=seeds)
def test_vertical_programme_over_root_gives_the_same_on_thin_scattered_surfaces(seed: int) -> None:
    points = surface("scattered", seed)
    result = flatness(points)
    upright = vertical_width_by_programme(points) * result.normal[2]
    assert upright == pytest.approx(result.value, rel=PROGRAMME)


@some
@given(seed=seeds, size=st.integers(4, 7))
def test_minimum_zone_agrees_with_trying_all_on_small_sets(seed: int, size: int) -> None:
    points = np.random.default_rng(seed).normal(size=(size, 3))
    assert flatness(points).value == pytest.approx(width_by_trying_all(points), abs=noise_of(points))


@some
@given(
    seed=seeds,
    kind=st.sampled_from(["scattered", "grid rounded to 1 um", "cloud"]),
    exponent=st.integers(-12, 9),
    away=st.floats(-100.0, 100.0),
)
def test_tiny_huge_and_distant_coordinates(kind: str, seed: int, exponent: int, away: float) -> None:
    points = surface(kind, seed)
    moved = (points + np.array([away, -away, away / 2.0])) * 10.0**exponent
    result = flatness(moved)
    # The shift itself rounds each coordinate, and the value follows by that much.
    assert result.value == pytest.approx(flatness(points).value * 10.0**exponent, abs=4.0 * noise_of(moved))


def amplification(points: np.ndarray, reference: Reference) -> float:
    """Return by how much a reference may answer to the rounding of one coordinate.

    A fitted direction answers with the largest moment over the gap between the two least ones. Over the largest
    triangle every point has shares between -1 and 1, so three datum points add up to a factor of 4 at most.
    """
    if reference is Reference.LEAST_SQUARES:
        least, middle, *most = np.linalg.eigvalsh(np.cov(points.T))
        return float((most or [middle])[0] / (middle - least))
    return 4.0


PLANES = [
    *((Reference.MINIMUM_ZONE, kind) for kind in ANY),
    *((Reference.LEAST_SQUARES, kind) for kind in (*THIN, "cloud")),
    *((Reference.THREE_POINTS, kind) for kind in THIN),
]
LINES = [Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.END_POINTS]


@some
@given(seed=seeds, plane=st.sampled_from(PLANES))
def test_rigid_motion_order_and_unit_change_nothing(plane: tuple[Reference, str], seed: int) -> None:
    reference, kind = plane
    points = surface(kind, seed)
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(points))
    back = np.argsort(order)
    moved = Rotation.random(rng=rng).apply(points[order]) + rng.normal(size=3)
    before = flatness(points, reference)
    datum = before.datum if reference is Reference.THREE_POINTS else None
    after = flatness(moved, reference, datum=None if datum is None else back[datum])
    noise = (noise_of(points) + noise_of(moved)) * amplification(points, reference)
    assert after.value == pytest.approx(before.value, abs=noise)
    in_mm = flatness(points * 1e3, reference, datum=datum)
    assert in_mm.value == pytest.approx(1e3 * before.value, abs=1e3 * noise)
    if reference is not Reference.MINIMUM_ZONE:  # two zones of the same width may touch other points
        facing = 1.0 if np.vdot(after.deviations[back], before.deviations) >= 0.0 else -1.0
        np.testing.assert_allclose(facing * after.deviations[back], before.deviations, rtol=0, atol=noise)


@some
@given(seed=seeds, reference=st.sampled_from(LINES), turn=st.floats(-1.0, 1.0))
def test_moving_a_profile_changes_nothing(reference: Reference, seed: int, turn: float) -> None:
    points = profile("scattered", seed)
    cos, sin = np.cos(turn), np.sin(turn)
    moved = points @ np.array([[cos, sin], [-sin, cos]]) + np.array([1.0, -2.0])
    ends = None
    if reference is Reference.END_POINTS:
        ends = [int(points[:, 0].argmin()), int(points[:, 0].argmax())]
    noise = (noise_of(points) + noise_of(moved)) * amplification(points, reference)
    assert straightness(moved, reference, datum=ends).value == pytest.approx(
        straightness(points, reference).value, abs=noise
    )


@some
@given(seed=seeds, plane=st.sampled_from(PLANES[: len(THIN)] + PLANES[len(ANY) :]))
def test_doubled_deviations_double_the_value(plane: tuple[Reference, str], seed: int) -> None:
    reference, kind = plane
    points = surface(kind, seed)
    before = flatness(points, reference)
    own = in_own_frame(points, before)
    datum = before.datum if reference is Reference.THREE_POINTS else None
    if kind == "cloud":
        own[:, 2] *= 1e-6  # doubling a thick cloud may make another direction the narrow one
    plain = flatness(own, reference, datum=datum)
    doubled = flatness(own * [1.0, 1.0, 2.0], reference, datum=datum)
    # A zone held by contacts without weight may lean within its own thickness: second order of thickness over breadth.
    lean = doubled.value**3 / float(np.ptp(own[:, :2], axis=0).min()) ** 2
    noise = 4.0 * noise_of(own) * amplification(own, reference)
    assert doubled.value == pytest.approx(2.0 * plain.value, abs=noise + 2.0 * lean)


@some
@given(seed=seeds, kind=st.sampled_from(THIN))
def test_minimum_zone_is_the_least_and_grows_with_the_set(kind: str, seed: int) -> None:
    points = surface(kind, seed)
    noise = noise_of(points)
    whole = flatness(points).value
    assert whole <= flatness(points, Reference.LEAST_SQUARES).value + noise
    assert whole <= flatness(points, Reference.THREE_POINTS).value + noise
    rng = np.random.default_rng(seed)
    some_points = np.union1d(rng.choice(len(points), len(points) // 2, replace=False), corners_in_plan(points))
    assert flatness(points[some_points]).value <= whole + noise


def corners_in_plan(points: np.ndarray) -> np.ndarray:
    """Return three points that span the plan, so that a subset with them is a surface."""
    return flatness(points, Reference.THREE_POINTS).datum


@some
@given(seed=seeds, kind=st.sampled_from(["scattered", "rounded to 1 um"]))
def test_straight_zone_is_the_least_and_grows_with_the_set(kind: str, seed: int) -> None:
    points = profile(kind, seed)
    noise = noise_of(points)
    whole = straightness(points).value
    assert whole <= straightness(points, Reference.LEAST_SQUARES).value + noise
    assert whole <= straightness(points, Reference.END_POINTS).value + noise
    if len(points) > 4:
        assert straightness(points[::2]).value <= whole + noise


@some
@given(seed=seeds, plane=st.sampled_from([pair for pair in PLANES if pair[1] in ("scattered", "two rails", "cloud")]))
def test_gradient_is_the_difference_quotient(plane: tuple[Reference, str], seed: int) -> None:
    reference, kind = plane
    points = surface(kind, seed)
    result = flatness(points, reference)
    datum = result.datum if reference is Reference.THREE_POINTS else None
    rng = np.random.default_rng(seed)
    step = 1e-5 * float(np.ptp(result.deviations))
    toward = rng.normal(size=len(points))
    shift = np.outer(toward, [0.0, 0.0, 1.0])
    above, below = (flatness(points + sign * step * shift, reference, datum=datum) for sign in (1.0, -1.0))
    if sorted(above.high) != sorted(below.high) or sorted(above.low) != sorted(below.low):
        return  # another point takes over within the step: there is no slope to compare with there
    rounding = 4.0 * noise_of(points) * amplification(points, reference) / step
    bend = 1e-3  # second order of a central difference of 1e-5 of the value, where the least moments nearly agree
    assert (above.value - below.value) / (2.0 * step) == pytest.approx(
        float(result.gradient @ toward), abs=rounding + bend * np.abs(result.gradient).max()
    )


@some
@given(seed=seeds, reference=st.sampled_from(LINES))
def test_gradient_of_a_profile_is_the_difference_quotient(reference: Reference, seed: int) -> None:
    points = profile("cloud", seed)
    result = straightness(points, reference)
    step = 1e-6
    toward = np.random.default_rng(seed).normal(size=len(points))
    shift = np.outer(toward, [0.0, 1.0])
    above, below = (straightness(points + sign * step * shift, reference) for sign in (1.0, -1.0))
    if sorted(above.high) != sorted(below.high) or sorted(above.low) != sorted(below.low):
        return
    rounding = 4.0 * noise_of(points) * amplification(points, reference) / step
    assert (above.value - below.value) / (2.0 * step) == pytest.approx(
        float(result.gradient @ toward), abs=rounding + 1e-3 * np.abs(result.gradient).max()
    )
