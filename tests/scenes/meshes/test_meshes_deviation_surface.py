"""Deviation surfaces: nothing invented between or beyond the stations, and quick to redraw."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from scenes.errors import GeometryError
from scenes.frames import IDENTITY, pose_from_axes
from scenes.meshes.deviation_surface import (
    DEVIATION,
    UNCERTAINTY,
    deviation_mesh,
    deviation_surface,
    redraw,
    spanned_surface,
    zero_outline,
)
from scenes.meshes.station_net import RIBBON, station_net

MICROMETRE = 1e-6
NANOMETRE = 1e-9
TILTED = pose_from_axes([1.0, -2.0, 0.5], [0.2, -0.3, 1.0], [1.0, 0.4, 0.0])


def grid(columns, rows, length=2.8, width=1.6):
    x, y = np.meshgrid(np.linspace(-length / 2, length / 2, columns), np.linspace(-width / 2, width / 2, rows))
    return np.column_stack([x.ravel(), y.ravel()])


def area_of(net):
    one, two = (net.xy[net.faces[:, i]] - net.xy[net.faces[:, 0]] for i in (1, 2))
    return 0.5 * (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).sum()


def flat(xy):
    return np.column_stack([xy, np.zeros(len(xy))])


def kinds_of_stations(rng):
    """Sets of stations of every kind: grids, shuffled grids, grids with a gap, scattered, two rows, a line."""
    for _ in range(210):
        columns, rows = rng.integers(2, 9, 2)
        full = grid(columns, rows, *rng.uniform(0.1, 20.0, 2))
        yield full
        yield full[rng.permutation(len(full))]
        if len(full) > 5:
            yield np.delete(full, rng.integers(len(full)), axis=0)
        yield rng.uniform(-1.0, 1.0, (rng.integers(4, 40), 2)) * rng.uniform(0.1, 20.0, 2)
        yield rng.uniform(-1.0, 1.0, (rng.integers(2, 12), 1)) * rng.normal(size=2) + rng.normal(size=2)


@pytest.fixture(scope="module")
def nets():
    return [(xy, station_net(xy)) for xy in kinds_of_stations(np.random.default_rng(3))]


def test_drawn_values_are_means_of_station_values(nets):
    rng = np.random.default_rng(3)
    assert len(nets) > 900
    for xy, net in nets:
        values = rng.normal(0.0, 20 * MICROMETRE, len(xy))
        drawn = net.weights @ values
        assert net.weights.data.min() >= 0.0
        np.testing.assert_allclose(net.weights @ np.ones(len(xy)), 1.0, rtol=1e-12)
        assert drawn.min() >= values.min() - 1e-18
        assert drawn.max() <= values.max() + 1e-18


def test_surface_goes_through_every_station(nets):
    rng = np.random.default_rng(4)
    for xy, net in nets:
        values = rng.normal(size=len(xy))
        drawn = net.weights @ values
        on_line = len(xy) == 2 or np.linalg.matrix_rank(xy - xy.mean(axis=0), tol=1e-6 * np.ptp(xy)) < 2
        middles = 0.5 * (net.xy[: len(xy)] + net.xy[len(xy) :]) if on_line else net.xy
        distance, nearest = cKDTree(middles).query(xy)
        assert distance.max() < 1e-6 * np.ptp(xy, axis=0).max()
        np.testing.assert_allclose(drawn[nearest], values, rtol=1e-12)


def test_planes_are_reproduced_with_their_slopes():
    rng = np.random.default_rng(5)
    for xy in (grid(7, 5), grid(3, 2), rng.uniform(-1, 1, (30, 2))):
        net = station_net(xy)
        a, b, c = rng.normal(size=3)
        values = a + b * xy[:, 0] + c * xy[:, 1]
        np.testing.assert_allclose(net.weights @ values, a + b * net.xy[:, 0] + c * net.xy[:, 1], atol=1e-12)
        np.testing.assert_allclose(net.slope_x @ values, b, atol=1e-9)
        np.testing.assert_allclose(net.slope_y @ values, c, atol=1e-9)


def test_grid_cells_are_bilinear():
    xy = grid(4, 3, 3.0, 2.0)
    values = xy[:, 0] * xy[:, 1]
    net = station_net(xy)
    np.testing.assert_allclose(net.weights @ values, net.xy[:, 0] * net.xy[:, 1], atol=1e-12)
    assert len(net.xy) > 10 * len(xy)


def test_nothing_is_drawn_beyond_the_outer_stations():
    rng = np.random.default_rng(6)
    corner = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.3, 0.3], [0.2, 0.5]])
    net = station_net(corner)
    assert (net.xy.sum(axis=1) <= 1.0 + 1e-12).all()
    assert area_of(net) == pytest.approx(0.5)
    scattered = rng.uniform(-1, 1, (50, 2))
    assert np.abs(station_net(scattered).xy).max() <= np.abs(scattered).max()


def test_faces_look_along_the_normal(nets):
    for _, net in nets:
        p = net.xy[net.faces]
        one, two = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
        assert (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] > 0.0).all()


def test_bore_stays_open():
    angle = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    xy = np.vstack([0.45 * circle, 0.3 * circle])
    net = station_net(xy, bore=0.4)
    radius = np.linalg.norm(net.xy, axis=1)
    assert radius.min() == pytest.approx(0.2)
    assert (np.abs(radius - 0.2) < 1e-9).sum() > 40
    polygon = 0.5 * 12 * 0.45**2 * np.sin(np.pi / 6)
    assert area_of(net) == pytest.approx(polygon - np.pi * 0.2**2, rel=2e-3)
    assert area_of(station_net(xy)) == pytest.approx(polygon)
    assert net.weights.data.min() >= 0.0
    values = 1.0 + 2.0 * xy[:, 0] - xy[:, 1]
    np.testing.assert_allclose(net.weights @ values, 1.0 + 2.0 * net.xy[:, 0] - net.xy[:, 1], atol=1e-12)


def test_bore_is_cut_out_of_a_grid_too():
    net = station_net(grid(6, 6, 2.0, 2.0), bore=0.7)
    assert np.linalg.norm(net.xy, axis=1).min() == pytest.approx(0.35)
    assert area_of(net) == pytest.approx(4.0 - np.pi * 0.35**2, rel=2e-3)


def test_stations_on_a_line_become_a_ribbon():
    along = np.array([0.6, 0.8])
    xy = np.array([0.0, 3.0, 1.0, 2.0])[:, None] * along
    net = station_net(xy)
    assert len(net.faces) == 6
    across = net.xy @ np.array([-0.8, 0.6])
    assert np.ptp(across) == pytest.approx(RIBBON * 3.0)
    assert np.ptp(net.xy @ along) == pytest.approx(3.0)


def test_stations_at_the_same_place_are_averaged():
    xy = np.vstack([grid(3, 3), grid(3, 3)[4:5]])
    values = np.zeros(10)
    values[4], values[9] = 1.0, 3.0
    drawn = station_net(xy).weights @ values
    assert drawn.max() == pytest.approx(2.0)


def test_one_place_is_no_surface():
    with pytest.raises(GeometryError, match="one place"):
        station_net(np.zeros((5, 2)))


@pytest.mark.parametrize("count", [4, 35, 400, 10_000])
def test_cells_stay_within_bounds(count):
    rng = np.random.default_rng(8)
    side = int(np.sqrt(count))
    for xy in (grid(side, side), rng.uniform(-1, 1, (count, 2))):
        assert 2 <= len(station_net(xy).faces) <= 25_000


def test_heights_follow_factor_lift_and_pose():
    places = flat(grid(5, 4))
    deviations = 30 * MICROMETRE * np.sin(places[:, 0]) * np.cos(places[:, 1])
    surface = spanned_surface(places, TILTED)
    mesh = deviation_mesh(surface, deviations, 2000.0, 0.25, np.full(20, 3 * MICROMETRE))
    local = TILTED.inverse().points(np.asarray(mesh.points, dtype=np.float64))
    np.testing.assert_allclose(local[:, 2], 0.25 + 2000.0 * 1e-6 * mesh.point_data[DEVIATION], atol=NANOMETRE)
    np.testing.assert_allclose(mesh.point_data[UNCERTAINTY], 3.0)
    np.testing.assert_allclose(local[:, :2], surface.net.xy, atol=NANOMETRE)


def test_normals_stand_square_to_the_drawn_surface():
    places = flat(grid(6, 6))
    deviations = MICROMETRE * (40.0 * places[:, 0] - 15.0 * places[:, 1])
    mesh = deviation_mesh(spanned_surface(places, TILTED), deviations, 5000.0, 0.1)
    p = np.asarray(mesh.points)[mesh.regular_faces]
    normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    np.testing.assert_allclose(mesh.point_data["Normals"], np.broadcast_to(normal[0], mesh.points.shape), atol=1e-9)
    np.testing.assert_allclose(normal, np.broadcast_to(normal[0], normal.shape), atol=1e-9)


def test_redrawing_gives_the_same_mesh_as_drawing():
    places = flat(grid(7, 5))
    rng = np.random.default_rng(9)
    first, second, u = rng.normal(0, 1e-5, (3, 35))
    surface = spanned_surface(places, IDENTITY)
    mesh = deviation_mesh(surface, first, 1000.0, 0.1)
    redraw(mesh, surface, second, 500.0, 0.2, np.abs(u))
    fresh = deviation_mesh(surface, second, 500.0, 0.2, np.abs(u))
    np.testing.assert_array_equal(mesh.points, fresh.points)
    np.testing.assert_array_equal(mesh.point_data["Normals"], fresh.point_data["Normals"])
    for name in (DEVIATION, UNCERTAINTY):
        np.testing.assert_array_equal(mesh.point_data[name], fresh.point_data[name])
    redraw(mesh, surface, first, 1000.0, 0.1)
    assert UNCERTAINTY not in mesh.point_data


def test_meshes_share_no_memory_with_what_they_are_made_from():
    places = flat(grid(3, 3))
    surface = spanned_surface(places, IDENTITY)
    mesh = deviation_mesh(surface, np.zeros(9), 1000.0, 0.0)
    mesh.points[:] = 7.0
    assert np.abs(surface.zero).max() < 2.0
    assert np.abs(places).max() < 2.0


def test_short_form_is_the_same_surface():
    places = flat(grid(3, 4))
    deviations = np.linspace(-1e-5, 1e-5, 12)
    one = deviation_surface(places, deviations, TILTED, 100.0, 0.1)
    two = deviation_mesh(spanned_surface(places, TILTED), deviations, 100.0, 0.1)
    np.testing.assert_array_equal(one.points, two.points)


def test_zero_outline_runs_around_the_stations():
    outline = zero_outline(spanned_surface(flat(grid(4, 3, 3.0, 2.0)), IDENTITY), 0.4)
    p = np.asarray(outline.points)[outline.lines.reshape(-1, 3)[:, 1:]]
    assert np.linalg.norm(p[:, 1] - p[:, 0], axis=1).sum() == pytest.approx(10.0)
    np.testing.assert_allclose(p[..., 2], 0.4)
