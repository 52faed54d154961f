"""Arrows, bars, limit planes, feet and shims, and the exaggeration that they share."""

import numpy as np
import pytest

from scenes.frames import IDENTITY, pose_from_axes
from scenes.meshes.deviation_vectors import (
    deviation_vectors,
    limit_planes,
    mark_size,
    uncertainty_bars,
)
from scenes.meshes.exaggeration import default_factor, default_lift, raised, rounded_125
from scenes.meshes.feet import feet_mesh, foot_places, shim_mesh
from scenes.meshes.station_marks import surface_marks

MICROMETRE = 1e-6
NANOMETRE = 1e-9
MOST_CELLS = 100_000


def places(columns=7, rows=5):
    x, y = np.meshgrid(np.linspace(-1.4, 1.4, columns), np.linspace(-0.8, 0.8, rows))
    return np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])


def heights_of(mesh, array, number):
    """Lowest and highest z of the cells that carry ``number``."""
    cells = mesh.regular_faces[mesh.cell_data[array] == number]
    z = np.asarray(mesh.points)[cells][..., 2]
    return z.min(), z.max()


def test_arrows_reach_from_zero_to_the_deviation():
    at = places()
    deviations = np.linspace(-40, 50, 35) * MICROMETRE
    factor, lift = 5000.0, 0.3
    mesh = deviation_vectors(at, deviations, IDENTITY, factor, lift)
    for number, deviation in enumerate(deviations):
        low, high = heights_of(mesh, "station", number)
        if abs(factor * deviation) < 0.6 * mark_size(at):
            assert (low, high) == (lift, lift)
        else:
            assert low == pytest.approx(lift + min(0.0, factor * deviation), abs=NANOMETRE)
            assert high == pytest.approx(lift + max(0.0, factor * deviation), abs=NANOMETRE)
    np.testing.assert_allclose(mesh.cell_data["deviation [um]"], 1e6 * deviations[mesh.cell_data["station"]])


def test_no_arrow_is_degenerate():
    at = places()
    deviations = np.zeros(35)
    deviations[3], deviations[7], deviations[9] = 1e-12, np.nan, -3e-5
    mesh = deviation_vectors(at, deviations, IDENTITY, 4000.0, 0.1)
    assert set(mesh.cell_data["station"]) == set(range(35)) - {7}
    assert np.isfinite(mesh.points).all()
    assert mesh.compute_cell_sizes(length=False, volume=False).cell_data["Area"].min() > 0.0


def test_arrows_stand_along_the_normal_of_a_tilted_surface():
    pose = pose_from_axes([0.5, 0.2, 1.0], [0.0, 1.0, 0.3])
    at = places(3, 3)
    mesh = deviation_vectors(at, np.full(9, 2e-5), pose, 5000.0, 0.2)
    local = pose.inverse().points(np.asarray(mesh.points))
    assert local[:, 2].min() == pytest.approx(0.2)
    assert local[:, 2].max() == pytest.approx(0.3)


def test_bars_span_twice_the_expanded_uncertainty():
    at = places(3, 2)
    deviations, expanded = np.linspace(-1e-5, 1e-5, 6), np.array([5e-6, 1e-6, np.nan, 0.0, 2e-6, 3e-6])
    mesh = uncertainty_bars(at, deviations, expanded, IDENTITY, 1000.0, 0.1)
    assert set(mesh.cell_data["station"]) == {0, 1, 4, 5}
    for number in (0, 1, 4, 5):
        low, high = heights_of(mesh, "station", number)
        assert low == pytest.approx(0.1 + 1000.0 * (deviations[number] - expanded[number]), abs=NANOMETRE)
        assert high == pytest.approx(0.1 + 1000.0 * (deviations[number] + expanded[number]), abs=NANOMETRE)


def test_ten_thousand_stations_stay_within_the_cells():
    at = places(100, 100)
    rng = np.random.default_rng(1)
    deviations = rng.normal(0, 1e-5, 10_000)
    assert deviation_vectors(at, deviations, IDENTITY, 5000.0, 0.2).n_cells <= MOST_CELLS
    assert uncertainty_bars(at, deviations, np.full(10_000, 5e-6), IDENTITY, 5000.0, 0.2).n_cells <= MOST_CELLS


def test_five_thousand_dots_stay_within_the_cells(survey_of):
    layout = survey_of(100, 50).layout
    marks = surface_marks(layout, tuple(layout.stations))
    assert marks.n_cells <= MOST_CELLS
    assert len(np.unique(marks.cell_data["station"])) == 5000
    np.testing.assert_allclose(np.asarray(marks.points)[:, 2], 0.8 + 2e-3, atol=1e-9)


def test_limit_planes_stand_half_a_limit_to_either_side():
    mesh = limit_planes(places(), 60 * MICROMETRE, IDENTITY, 2000.0, 0.5)
    z = np.asarray(mesh.points)[mesh.regular_faces][..., 2]
    np.testing.assert_allclose(z, np.broadcast_to((0.5 + 0.06 * mesh.cell_data["side"])[:, None], z.shape))
    assert set(mesh.cell_data["side"]) == {-1, 1}


def test_rounding_takes_the_nearest_of_1_2_5():
    rng = np.random.default_rng(2)
    for value in 10.0 ** rng.uniform(-6, 6, 1000):
        rounded = rounded_125(value)
        mantissa = rounded / 10.0 ** np.floor(np.log10(rounded * (1 + 1e-12)))
        assert min(abs(mantissa - 1), abs(mantissa - 2), abs(mantissa - 5)) < 1e-9
        assert np.sqrt(1 / 2.5) - 1e-12 <= rounded / value <= np.sqrt(2.5) + 1e-12


def test_default_factor_draws_the_largest_deviation_at_about_eight_percent():
    rng = np.random.default_rng(3)
    for _ in range(1000):
        side = rng.uniform(0.3, 30.0)
        deviations = rng.normal(0, 10.0 ** rng.uniform(-7, -4), rng.integers(4, 50))
        share = default_factor(deviations, side) * np.abs(deviations).max() / side
        assert 0.05 <= share <= 0.13
    assert default_factor(np.zeros(5), 3.0) == 1.0
    assert default_factor(np.array([1.0, -0.5]), 3.0) == 1.0


def test_lift_keeps_the_lowest_deviation_above_the_surface():
    deviations = np.array([-30e-6, 10e-6, np.nan])
    assert default_lift(deviations, 5000.0, 3.0) == pytest.approx(0.03 + 0.15)
    assert default_lift(np.array([5e-6]), 5000.0, 3.0) == pytest.approx(0.03)


def test_raising_multiplies_only_the_height():
    axis = np.array([0.0, 0.6, 0.8])
    origin = np.array([1.0, 2.0, 3.0])
    across = np.array([0.0, -0.8, 0.6])
    point = origin + 2e-5 * axis + 4.0 * across
    np.testing.assert_allclose(raised(point, origin, axis, 1000.0), origin + 0.02 * axis + 4.0 * across, atol=1e-12)


def test_feet_stand_between_floor_and_underside(press_bed):
    feet = press_bed.feet["bed"]
    mesh = feet_mesh(press_bed, feet)
    assert set(mesh.cell_data["foot"]) == set(range(6))
    shape = press_bed.surfaces["bed"].shape
    underside = press_bed.surfaces["bed"].world_from_surface.origin[2] - shape.thickness
    for number in range(6):
        low, high = heights_of(mesh, "foot", number)
        assert (low, high) == (pytest.approx(0.0, abs=NANOMETRE), pytest.approx(underside))
    np.testing.assert_allclose(foot_places(press_bed, feet)[:, 2], underside)


def test_shims_are_drawn_by_the_same_factor(press_bed):
    feet = press_bed.feet["bed"]
    stacks = [(1e-4, 5e-5), (), (2e-4,), (), (-1e-4,), (5e-5,)]
    top = press_bed.surfaces["bed"].world_from_surface.origin[2]
    mesh = shim_mesh(press_bed, feet, stacks, 1000.0, lift=0.2)
    assert set(mesh.cell_data["foot"]) == {0, 2, 4, 5}
    low, high = heights_of(mesh, "foot", 0)
    assert low == pytest.approx(top + 0.2)
    assert high == pytest.approx(top + 0.2 + 0.15, abs=0.03 * 0.05 + NANOMETRE)
    low, high = heights_of(mesh, "foot", 4)
    assert high == pytest.approx(top + 0.2)
    assert low == pytest.approx(top + 0.1, abs=0.03 * 0.1 + NANOMETRE)
    assert set(mesh.cell_data["piece"][mesh.cell_data["foot"] == 0]) == {0, 1}
    np.testing.assert_allclose(np.unique(mesh.cell_data["thickness [um]"]), [-100, 50, 100, 200])


def test_shims_under_the_feet_hang_from_the_underside(press_bed):
    feet = press_bed.feet["bed"]
    mesh = shim_mesh(press_bed, feet, [(1e-4,)] * 6, 1000.0)
    assert np.asarray(mesh.points)[:, 2].max() == pytest.approx(foot_places(press_bed, feet)[0, 2])


def test_no_shims_give_an_empty_mesh(press_bed):
    assert shim_mesh(press_bed, press_bed.feet["bed"], [()] * 6, 1000.0).n_cells == 0
