"""Batched trials against single values, fits against other libraries, leverages, geometry without a form value."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skspatial.objects import Line, Plane, Points

from scenes.errors import GeometryError
from scenes.reductions import zones_of_trials
from scenes.reductions.form import (
    Reference,
    flatness,
    flatness_of_trials,
    leverages,
    straightness,
    straightness_of_trials,
)
from scenes.reductions.zones_of_trials import TRIAL_DOUBT

MICROMETRE = 1e-6
ROUNDING = 1e-12
"""Share of a value of tens of um over metres that rounding of the coordinates (1e-16 m) may change."""

some = settings(max_examples=200, deadline=None, database=None)
seeds = st.integers(0, 2**32 - 1)

PLANES = [Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS]
LINES = [Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.END_POINTS]


@pytest.mark.parametrize("reference", PLANES)
@pytest.mark.parametrize("trials", [1, 40, 5000])
def test_trials_equal_single_surfaces(reference: Reference, trials: int) -> None:
    rng = np.random.default_rng(trials)
    xy = rng.random((23, 2)) * [3.0, 1.8] + [100.0, -50.0]
    z = rng.normal(0.0, 10.0 * MICROMETRE, (23, trials)) + 1e-3 * xy[:, :1] + 2.5
    values = flatness_of_trials(xy, z, reference)
    assert values.shape == (trials,)
    for trial in range(0, trials, max(1, trials // 97)):
        single = flatness(np.column_stack((xy, z[:, trial])), reference)
        # Coordinates of 100 m round to 1.4e-14 m, and x times the slope of 1e-3 enters the height.
        assert values[trial] == pytest.approx(single.value, rel=ROUNDING, abs=1e-14)


@pytest.mark.parametrize("reference", LINES)
@pytest.mark.parametrize(("repeats", "share"), [(1, ROUNDING), (2, TRIAL_DOUBT)])
@pytest.mark.parametrize("trials", [1, 40, 5000])
def test_trials_equal_single_profiles(reference: Reference, repeats: int, share: float, trials: int) -> None:
    rng = np.random.default_rng(trials)
    # Two readings of one place can hold a zone alone, whatever its slope: contacts without weight.
    x = np.repeat(np.arange(24.0 / repeats) * 0.4, repeats)
    z = rng.normal(0.0, 10.0 * MICROMETRE, (24, trials)) + 1e-3 * x[:, None]
    values = straightness_of_trials(x, z, reference)
    for trial in range(0, trials, max(1, trials // 97)):
        single = straightness(np.column_stack((x, z[:, trial])), reference)
        assert values[trial] == pytest.approx(single.value, rel=share, abs=1e-15)


@pytest.mark.parametrize("thickness", [10.0 * MICROMETRE, 1e-2])
def test_trials_on_grids_of_whole_micrometres(thickness: float) -> None:
    rng = np.random.default_rng(5)
    xy = np.stack(np.meshgrid(np.arange(6) * 0.2, np.arange(5) * 0.2), axis=-1).reshape(-1, 2)
    z = np.round(rng.normal(0.0, thickness / 4.0, (30, 300)) / MICROMETRE) * MICROMETRE + 1e-3 * xy[:, :1]
    values = flatness_of_trials(xy, z)
    single = np.array([flatness(np.column_stack((xy, column))).value for column in z.T])
    np.testing.assert_allclose(values, single, rtol=TRIAL_DOUBT, atol=0)
    # Only contacts without weight leave any doubt at all.
    assert np.mean(np.abs(values / single - 1.0) < ROUNDING) > 0.5


@pytest.mark.parametrize(
    ("columns", "rows", "length", "breadth"), [(60, 3, 30.0, 1.0), (40, 5, 80.0, 4.0), (10, 5, 3.0, 2.0)]
)
@pytest.mark.parametrize("step", [0.0, MICROMETRE])
def test_trials_on_narrow_beds_are_hardly_ever_worked_out_singly(
    monkeypatch: pytest.MonkeyPatch, columns: int, rows: int, length: float, breadth: float, step: float
) -> None:
    """Lines of contacts along a bed let its zone lean; a third of the trials on 60 x 3 stations have such a line."""
    singly = []
    single = zones_of_trials.minimum_zone
    monkeypatch.setattr(zones_of_trials, "minimum_zone", lambda points: singly.append(0) or single(points))
    rng = np.random.default_rng(columns)
    xy = np.stack(np.meshgrid(np.linspace(0, length, columns), np.linspace(0, breadth, rows)), axis=-1).reshape(-1, 2)
    count = 1500
    for size in (2e-6, 20e-6, 200e-6):
        z = rng.normal(0.0, size, (len(xy), count))
        z = np.round(z / step) * step if step else z
        singly.clear()
        values = flatness_of_trials(xy, z)
        assert len(singly) <= count / 1000
        alone = [flatness(np.column_stack((xy, column))).value for column in z[:, :40].T]
        np.testing.assert_allclose(values[:40], alone, rtol=TRIAL_DOUBT, atol=1e-15)


def test_trials_of_thick_zones_are_worked_out_singly_where_a_lean_might_pay() -> None:
    """Noise of up to 3 % of the breadth: there a zone that leans may be narrower by more than the doubt."""
    rng = np.random.default_rng(3)
    xy = np.stack(np.meshgrid(np.linspace(0, 3, 12), np.linspace(0, 1, 3)), axis=-1).reshape(-1, 2)
    for size in (1e-3, 3e-3, 1e-2, 3e-2):
        z = rng.normal(0.0, size, (len(xy), 120))
        alone = [flatness(np.column_stack((xy, column))).value for column in z.T]
        np.testing.assert_allclose(flatness_of_trials(xy, z), alone, rtol=TRIAL_DOUBT, atol=0)


def test_trials_go_through_the_datum_stations_given() -> None:
    rng = np.random.default_rng(2)
    xy, z = rng.random((9, 2)), rng.normal(0.0, MICROMETRE, (9, 7))
    values = flatness_of_trials(xy, z, Reference.THREE_POINTS, datum=[2, 5, 7])
    singles = [flatness(np.column_stack((xy, c)), Reference.THREE_POINTS, datum=[2, 5, 7]).value for c in z.T]
    np.testing.assert_allclose(values, singles, rtol=1e-9)
    lines = straightness_of_trials(xy[:, 0], z, Reference.END_POINTS, datum=[3, 8])
    singles = [straightness(np.column_stack((xy[:, 0], c)), Reference.END_POINTS, datum=[3, 8]).value for c in z.T]
    np.testing.assert_allclose(lines, singles, rtol=1e-9)


@some
@given(seed=seeds)
def test_least_squares_plane_is_that_of_another_library(seed: int) -> None:
    points = np.random.default_rng(seed).normal(size=(12, 3)) * [2.0, 1.0, 0.1]
    result = flatness(points, Reference.LEAST_SQUARES)
    other = Plane.best_fit(Points(points))
    signed = np.array([other.distance_point_signed(point) for point in points])
    assert result.value == pytest.approx(float(np.ptp(signed)), rel=1e-11)
    np.testing.assert_allclose(np.abs(result.deviations), np.abs(signed), rtol=0, atol=1e-13)


@some
@given(seed=seeds)
def test_least_squares_line_is_that_of_another_library(seed: int) -> None:
    points = np.random.default_rng(seed).normal(size=(9, 2)) * [2.0, 0.1]
    result = straightness(points, Reference.LEAST_SQUARES)
    other = Line.best_fit(Points(points))
    distances = [other.distance_point(point) for point in points]
    np.testing.assert_allclose(np.abs(result.deviations), distances, rtol=0, atol=1e-13)


@some
@given(seed=seeds)
def test_least_squares_leaves_no_smaller_sum_of_squares(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(15, 3)) * [2.0, 1.0, 0.1]
    weights = rng.uniform(0.1, 3.0, 15)
    result = flatness(points, Reference.LEAST_SQUARES, weights=weights)
    least = weights @ result.deviations**2
    for _ in range(5):
        normal = result.normal + rng.normal(0.0, 1e-3, 3)
        normal /= np.linalg.norm(normal)
        rest = points @ normal
        assert weights @ (rest - rest.mean()) ** 2 > least


def test_whole_weights_count_as_repeats() -> None:
    points = np.random.default_rng(3).normal(size=(8, 3)) * [1.0, 1.0, 1e-4]
    counts = np.array([1, 2, 1, 3, 1, 1, 2, 1])
    weighted = flatness(points, Reference.LEAST_SQUARES, weights=counts)
    repeated = flatness(np.repeat(points, counts, axis=0), Reference.LEAST_SQUARES)
    assert weighted.value == pytest.approx(repeated.value, rel=ROUNDING)
    np.testing.assert_allclose(weighted.normal, repeated.normal, rtol=0, atol=1e-15)


@some
@given(seed=seeds, plan=st.sampled_from([1, 2]))
def test_leverages_add_up_to_the_parameters(seed: int, plan: int) -> None:
    rng = np.random.default_rng(seed)
    stations = rng.normal(size=(int(rng.integers(plan + 1, 40)), plan)) * 3.0 + 20.0
    found = leverages(stations)
    assert found.sum() == pytest.approx(plan + 1.0, abs=1e-12)
    assert found.min() > 0.0
    assert found.max() <= 1.0 + 1e-12
    design = np.column_stack((np.ones(len(stations)), stations - stations.mean(axis=0)))
    hat = design @ np.linalg.pinv(design)
    np.testing.assert_allclose(found, np.diag(hat), rtol=0, atol=1e-9)


def test_a_station_nobody_checks_has_leverage_one() -> None:
    assert leverages([[0, 0], [1, 0], [2, 0], [1, 1]])[3] == pytest.approx(1.0, abs=1e-14)
    np.testing.assert_allclose(leverages([0.0, 1.0, 2.0]), [5 / 6, 1 / 3, 5 / 6], rtol=1e-14)


@pytest.mark.parametrize("reference", PLANES)
@pytest.mark.parametrize("slopes", [(0.0, 0.0), (0.25, -0.5), (0.1, 0.3)])
def test_coplanar_points_are_flat(reference: Reference, slopes: tuple[float, float]) -> None:
    grid = np.stack(np.meshgrid(np.arange(5.0), np.arange(4.0)), axis=-1).reshape(-1, 2)
    result = flatness(np.column_stack((grid, grid @ slopes)), reference)
    assert result.value <= 8.0 * np.finfo(float).eps * 5.0
    if slopes == (0.0, 0.0):
        assert result.value == 0.0
    assert set(result.high) | set(result.low) <= set(range(20))
    assert result.high_weights.sum() == pytest.approx(1.0)
    a, b, c = result.coefficients
    np.testing.assert_allclose([a, b, c], [0.0, *slopes], rtol=0, atol=1e-14)


@pytest.mark.parametrize("reference", LINES)
def test_points_on_a_line_are_straight(reference: Reference) -> None:
    x = np.arange(7.0)
    assert straightness(np.column_stack((x, 0.0 * x)), reference).value == 0.0
    assert straightness(np.column_stack((x, 0.3 * x)), reference).value <= 1e-14


def test_three_points_have_no_deviation() -> None:
    for reference in PLANES:
        assert flatness([[0, 0, 1e-3], [1, 0, 0], [0, 1, 2e-3]], reference).value <= 1e-15


def test_default_datum_is_the_largest_triangle_and_the_first_of_equal_ones() -> None:
    grid = np.stack(np.meshgrid(np.arange(5.0), np.arange(4.0)), axis=-1).reshape(-1, 2)
    heights = np.random.default_rng(0).normal(0.0, MICROMETRE, 20)
    assert flatness(np.column_stack((grid, heights)), Reference.THREE_POINTS).datum.tolist() == [0, 4, 15]


def test_repeated_end_readings_count_with_their_mean() -> None:
    points = np.array([[0.0, 1.0], [0.0, 3.0], [1.0, 2.0], [2.0, 4.0], [2.0, 0.0]]) * MICROMETRE
    result = straightness(points, Reference.END_POINTS)
    assert sorted(result.datum) == [0, 1, 3, 4]
    assert result.deviations[2] == pytest.approx(0.0, abs=1e-20)


def test_upright_faces_are_measured_across_themselves() -> None:
    rng = np.random.default_rng(4)
    lying = np.column_stack((rng.random((30, 2)), rng.normal(0.0, MICROMETRE, 30)))
    upright = lying[:, [0, 2, 1]]  # bumps now stand along y
    before, after = flatness(lying), flatness(upright)
    assert after.value == pytest.approx(before.value, rel=1e-9)
    assert after.normal[1] == pytest.approx(1.0, abs=1e-9)
    np.testing.assert_allclose(after.deviations, before.deviations, rtol=0, atol=1e-15)
    with pytest.raises(GeometryError, match="upright"):
        _ = after.coefficients


def test_results_cannot_be_written_to() -> None:
    result = flatness(np.random.default_rng(0).random((9, 3)))
    for part in (result.deviations, result.normal, result.high, result.gradient, result.high_weights):
        with pytest.raises(ValueError, match="read-only"):
            part[0] = 0


ROW = [[x, 0.5 * x, 1e-5 * (-1) ** x] for x in range(6)]
GOOD = [[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 1e-5]]


@pytest.mark.parametrize("reference", PLANES)
@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([[0, 0, 0], [1, 0, 0]], "at least 3 points"),
        ([[0, 0], [1, 0], [0, 1]], "x, y, z"),
        (ROW, "one line in plan"),
        ([[x, 2.0 * x, 3.0 * x] for x in range(5)], "one line"),
        ([[1, 2, z] for z in range(5)], "one line"),
        ([[7, 8, 9]] * 5, "same place"),
        ([*GOOD[:3], [1, 1, np.nan]], "not a finite number"),
        ([*GOOD[:3], [np.inf, 1, 0]], "not a finite number"),
    ],
)
def test_no_plane_no_flatness(reference: Reference, points: list[list[float]], words: str) -> None:
    with pytest.raises(GeometryError, match=words):
        flatness(points, reference)


@pytest.mark.parametrize("reference", LINES)
@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([[0, 0]], "at least 2 points"),
        ([[0, 0, 0], [1, 0, 0]], "position, height"),
        ([[1, 0], [1, 1], [1, 2]], "same position"),
        ([[1, 2]] * 4, "same place"),
        ([[0, 0], [1, np.nan], [2, 0]], "not a finite number"),
        ([[0, 0], [-np.inf, 1], [2, 0]], "not a finite number"),
    ],
)
def test_no_line_no_straightness(reference: Reference, points: list[list[float]], words: str) -> None:
    with pytest.raises(GeometryError, match=words):
        straightness(points, reference)


def test_one_bad_height_among_many_is_found() -> None:
    rng = np.random.default_rng(0)
    points = np.column_stack((rng.random((50_000, 2)), rng.normal(0.0, MICROMETRE, 50_000)))
    for bad in (np.nan, np.inf, -np.inf):
        points[33_333, 2] = bad
        with pytest.raises(GeometryError, match="33333"):
            flatness(points)
    z = np.zeros((4, 9000))
    z[2, 8500] = np.nan
    with pytest.raises(GeometryError, match="station 2 in trial 8500"):
        flatness_of_trials(np.array(GOOD)[:, :2], z)


def test_a_large_set_whose_sample_is_a_row_is_still_measured() -> None:
    points = np.zeros((40_000, 3))
    points[:, 0] = np.linspace(0.0, 1.0, 40_000)
    points[12_345] = [0.5, 1.0, 0.0]
    points[::2, 2] = MICROMETRE
    assert flatness(points).value == pytest.approx(MICROMETRE, rel=1e-5)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: flatness(GOOD, Reference.END_POINTS), "not a plane"),
        (lambda: straightness([[0, 0], [1, 0], [2, 1]], Reference.THREE_POINTS), "not a line"),
        (lambda: flatness(GOOD, datum=[0, 1, 2]), "takes no datum"),
        (lambda: flatness(GOOD, weights=[1, 1, 1, 1]), "takes no weights"),
        (lambda: flatness(GOOD, Reference.LEAST_SQUARES, weights=[1, 1, 1, -1]), "one weight per point"),
        (lambda: flatness(GOOD, Reference.LEAST_SQUARES, weights=[1, 1, 0, 0]), "at least|same place|one line"),
        (lambda: flatness(GOOD, Reference.THREE_POINTS, datum=[0, 1]), "3 different datum points"),
        (lambda: flatness(GOOD, Reference.THREE_POINTS, datum=[0, 1, 1]), "3 different datum points"),
        (lambda: flatness(GOOD, Reference.THREE_POINTS, datum=[0, 1, 9]), "not among"),
        (lambda: flatness([*ROW, [0, 1, 0]], Reference.THREE_POINTS, datum=[0, 1, 2]), "one line"),
        (lambda: straightness([[0, 0], [0, 1], [2, 1]], Reference.END_POINTS, datum=[0, 1]), "same position"),
        (lambda: flatness_of_trials([[0, 0], [1, 1], [2, 2]], np.zeros((3, 4))), "one line in plan"),
        (lambda: flatness_of_trials(np.array(GOOD)[:, :2], np.zeros((5, 4))), "one row per station"),
        (lambda: straightness_of_trials([1, 1, 1], np.zeros((3, 4))), "same position"),
        (lambda: leverages([[0, 0], [1, 1], [2, 2]]), "one line in plan"),
        (lambda: leverages([3.0, 3.0]), "same position"),
        (lambda: leverages([[0, 0], [np.nan, 1], [2, 2]]), "not a finite number"),
    ],
)
def test_what_makes_no_sense_is_explained(call: object, words: str) -> None:
    with pytest.raises(GeometryError, match=words):
        call()  # type: ignore[operator]
