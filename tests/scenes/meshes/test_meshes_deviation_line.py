"""Lines of deviations are drawn where the given numbers say, and nothing is invented between stations."""

import numpy as np
import pytest

from scenes.meshes.deviation_line import deviation_arrows, deviation_line, line_size
from scenes.meshes.deviation_surface import DEVIATION
from scenes.meshes.scene_parts import Role

MICROMETRE = 1e-6


def rail(n=9):
    return np.column_stack([np.linspace(0.0, 8.0, n), np.full(n, 1.0), np.full(n, 0.5)])


def bow(n=9):
    """Up to 80 um up and 30 um aside."""
    x = np.linspace(-1.0, 1.0, n)
    up, aside = 80e-6 * (1.0 - x**2), 30e-6 * x
    return np.column_stack([np.zeros(n), aside, up]), up


def test_tips_and_tube_stand_at_the_enlarged_places():
    rng = np.random.default_rng(7)
    for _ in range(120):
        n = int(rng.integers(2, 30))
        points, displacement = rail(n), rng.normal(0, 50e-6, (n, 3))
        factor, lift = 10.0 ** rng.uniform(0, 3), rng.normal(0, 0.1, 3)
        line = deviation_line(points, displacement, displacement[:, 2], factor=factor, lift=lift)
        np.testing.assert_allclose(line.tips, points + lift + factor * displacement, atol=1e-12)
        tube = np.asarray(line.tube.points)
        away = np.linalg.norm(tube[:, None] - line.tips[None], axis=-1)
        np.testing.assert_allclose(away.min(axis=1), 1.7 * line_size(points), rtol=1e-6)
        values = line.tube.point_data[DEVIATION]
        np.testing.assert_allclose(values, 1e6 * displacement[away.argmin(axis=1), 2], atol=1e-9)


def test_zero_line_is_the_line_of_the_stations():
    displacement, up = bow()
    line = deviation_line(rail(), displacement, up, factor=500.0, lift=(0.0, 0.0, 0.2))
    np.testing.assert_allclose(np.asarray(line.zero.points), rail() + np.array([0.0, 0.0, 0.2]))
    assert line.zone.n_cells == 0


def test_a_station_without_a_value_opens_the_tube():
    """Station 4 of 0..8 has none: no triangle lies between 3 and 5, and no arrow stands there."""
    displacement, up = bow()
    displacement[4], up[4] = np.nan, np.nan
    line = deviation_line(rail(), displacement, up, factor=100.0)
    assert np.isnan(line.tips[4]).all()
    triangles = np.asarray(line.tube.points)[line.tube.regular_faces]
    middle = triangles[..., 0].mean(axis=1)
    assert not ((middle > 3.1) & (middle < 4.9)).any()
    assert set(line.vectors.cell_data["station"]) == set(range(9)) - {4}
    assert np.isfinite(line.tube.points).all()


def test_tube_is_closed_where_it_ends():
    """Every edge of the tube belongs to two triangles, also on either side of a gap."""
    displacement, up = bow()
    displacement[4], up[4] = np.nan, np.nan
    tube = deviation_line(rail(), displacement, up, factor=100.0).tube.clean()
    edges = tube.extract_feature_edges(
        boundary_edges=True, feature_edges=False, manifold_edges=False, non_manifold_edges=True
    )
    assert edges.n_cells == 0


def test_arrows_point_along_the_displacement():
    """Each arrow begins at its station and ends at the enlarged place; next to nothing is a dot."""
    displacement, up = bow()
    displacement[0], up[0] = 0.0, 0.0
    mesh = deviation_arrows(rail(), displacement, up, 2000.0)
    for station in range(1, 9):
        cells = mesh.cell_data["station"] == station
        points = np.asarray(mesh.points)[mesh.regular_faces[cells]].reshape(-1, 3) - rail()[station]
        along = displacement[station] / np.linalg.norm(displacement[station])
        assert (points @ along).max() == pytest.approx(2000.0 * np.linalg.norm(displacement[station]), abs=MICROMETRE)
        assert (points @ along).min() == pytest.approx(0.0, abs=MICROMETRE)
        np.testing.assert_allclose(mesh.cell_data[DEVIATION][cells], 1e6 * up[station])
    dot = np.asarray(mesh.points)[mesh.regular_faces[mesh.cell_data["station"] == 0]].reshape(-1, 3)
    assert np.ptp(dot[:, 2]) == 0.0


def test_a_band_is_as_wide_as_the_limit():
    displacement, up = bow()
    line = deviation_line(rail(), displacement, up, limit=100e-6, factor=1000.0, across=(0.0, 0.0, 2.0))
    low, high = np.reshape(line.zone.bounds, (3, 2)).T
    np.testing.assert_allclose(low, [0.0, 1.0, 0.45], atol=1e-9)
    np.testing.assert_allclose(high, [8.0, 1.0, 0.55], atol=1e-9)


def test_a_round_zone_has_the_diameter_of_the_limit():
    displacement, up = bow()
    line = deviation_line(rail(), displacement, up, limit=100e-6, factor=1000.0)
    off = np.asarray(line.zone.points) - rail()[0]
    np.testing.assert_allclose(np.linalg.norm(off[:, 1:], axis=1), 0.05, atol=1e-9)
    assert (off[:, 0].min(), off[:, 0].max()) == pytest.approx((0.0, 8.0), abs=1e-9)


def test_parts_have_the_roles_of_deviations():
    displacement, up = bow()
    parts = deviation_line(rail(), displacement, up, limit=100e-6, factor=1000.0).parts("rail_a", "surface", "rail_a")
    assert [part.role for part in parts] == [
        Role.DEVIATION_SURFACE, Role.DEVIATION_VECTOR, Role.ZERO_OUTLINE, Role.LIMIT_PLANE
    ]  # fmt: skip
    assert {part.place_name for part in parts} == {"rail_a"}
    assert all(part.name.startswith("rail_a ") for part in parts)


def test_a_long_line_stays_drawable():
    n = 5000
    displacement = np.column_stack([np.zeros((n, 2)), 1e-4 * np.sin(np.arange(n))])
    line = deviation_line(rail(n), displacement, displacement[:, 2], limit=1e-4, factor=100.0)
    assert sum(mesh.n_cells for mesh in (line.tube, line.vectors, line.zero, line.zone)) < 2e5


def test_one_station_is_no_line():
    with pytest.raises(ValueError, match="two stations"):
        deviation_line(rail(1), np.zeros((1, 3)), np.zeros(1))
    with pytest.raises(ValueError, match="two stations"):
        deviation_line(rail(3), np.zeros((2, 3)), np.zeros(3))
