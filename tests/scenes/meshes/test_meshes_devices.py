"""Machine, emitter and targets stand where the layout puts them."""

import ast
from pathlib import Path

import numpy as np
import pytest
import pyvista as pv

import scenes.meshes
from scenes.checks.check import check_layout
from scenes.meshes.anchors import finding_anchor, station_labels
from scenes.meshes.cameras import PRESETS, VIEW_ANGLE, camera_preset
from scenes.meshes.emitters import EXIT_AHEAD, emitter_parts
from scenes.meshes.finding_marks import finding_marks
from scenes.meshes.machine import floor, machine_parts, surface_edges, surface_mesh
from scenes.meshes.plan_scene import layout_parts, plan_parts
from scenes.meshes.scene_parts import Role, bounds_of, corners_of
from scenes.meshes.targets import device_parts, first_rows, spot_mesh, target_parts
from scenes.model.finding import Finding, Severity
from scenes.tracing.sight import Sight
from scenes.tracing.spots import aimed_azimuths

NANOMETRE = 1e-9


def of_role(parts, role):
    return next(part for part in parts if part.role is role)


def test_surfaces_are_those_that_stop_light(press_bed):
    surface = press_bed.surfaces["bed"]
    mesh = surface_mesh(surface)
    local = surface.world_from_surface.inverse().points(np.asarray(mesh.points))
    half = 0.5 * np.array([surface.shape.length, surface.shape.width])
    np.testing.assert_allclose(np.abs(local[:, :2]), np.broadcast_to(half, (len(local), 2)))
    assert set(np.round(local[:, 2], 9)) == {0.0, -round(surface.shape.thickness, 9)}
    assert mesh.n_cells == 12
    np.testing.assert_allclose(np.sort(np.abs(mesh.point_data["Normals"]), axis=1)[:, :2], 0.0, atol=1e-6)


def test_box_has_twelve_edges(press_bed):
    assert surface_edges(press_bed.surfaces["column_a"]).n_cells == 12
    assert len(machine_parts(press_bed)) == 2 * len(press_bed.surfaces)


def test_floor_has_a_metre_grid_around_the_scene():
    bounds = np.array([[-2.3, -1.1, 0.0], [2.0, 1.4, 3.0]])
    ground = floor(bounds)
    assert ground.step == 1.0
    low, high = np.reshape(ground.sheet.bounds, (3, 2)).T
    assert (low[:2] <= bounds[0, :2] - 0.5).all()
    assert (high[:2] >= bounds[1, :2] + 0.5).all()
    np.testing.assert_allclose(np.asarray(ground.grid.points)[:, :2] % 1.0, 0.0)
    wide = floor(np.array([[0.0, 0.0, 0.0], [180.0, 20.0, 5.0]]))
    assert wide.step == 5.0
    assert wide.grid.n_cells < 100


@pytest.mark.parametrize("name", ["plan", "hidden"])
def test_beam_leaves_at_the_exit_port(name, request):
    plan = request.getfixturevalue(name)
    geometry, row = plan.geometry, 17
    parts = emitter_parts(plan.layout, geometry, row)
    azimuth = aimed_azimuths(geometry)[row]
    heading = geometry.launch_rotation[row] @ np.array([np.cos(azimuth), np.sin(azimuth), 0.0])
    port = np.asarray(of_role(parts, Role.EXIT_PORT).mesh.points)
    middle = 0.5 * (port.min(axis=0) + port.max(axis=0))
    expected = geometry.beam_origins()[row] + (EXIT_AHEAD + 0.002) * heading
    np.testing.assert_allclose(middle, expected, atol=1e-4)
    housing = np.asarray(of_role(parts, Role.EMITTER).mesh.points) - geometry.beam_origins()[row]
    assert (housing @ heading).max() == pytest.approx(EXIT_AHEAD)


def test_stand_reaches_from_floor_to_base(plan):
    setup = plan.layout.setups["plane"]
    parts = emitter_parts(plan.layout, plan.geometry, 0)
    stand = np.asarray(of_role(parts, Role.TRIPOD).mesh.points)
    assert stand[:, 2].min() == pytest.approx(0.0, abs=NANOMETRE)
    assert stand[:, 2].max() == pytest.approx(setup.mount.height)
    np.testing.assert_allclose(stand.mean(axis=0)[:2], setup.at[:2], atol=0.15)
    base = np.asarray(of_role(parts, Role.BASE).mesh.points) - plan.geometry.launch_origin[0]
    along = base @ plan.geometry.launch_rotation[0, :, 2]
    assert along.min() == pytest.approx(0.0, abs=NANOMETRE)
    assert along.max() == pytest.approx(plan.layout.bases["base"].height)


def test_posts_carry_targets_and_windows_have_their_true_size(plan):
    layout, geometry = plan.layout, plan.geometry
    rows = first_rows(geometry)
    assert len(rows) == len(geometry.rows.stations)
    parts = device_parts(layout, geometry, rows)
    posts, bodies, windows = (of_role(parts, role).mesh for role in (Role.POST, Role.TARGET, Role.WINDOW))
    for row in rows[:5]:
        station = geometry.rows.station[row]
        name = geometry.rows.stations[station]
        target = layout.targets[layout.stations[name].target]

        def local(mesh, station=station, row=row):
            cells = mesh.regular_faces[mesh.cell_data["station"] == station]
            points = np.asarray(mesh.points)[cells].reshape(-1, 3) - geometry.foot[row]
            return points @ np.column_stack([geometry.axis_h[row], geometry.axis_v[row], geometry.facing[row]])

        height = layout.stations[name].mount.height
        assert np.ptp(local(posts)[:, 1]) == pytest.approx(height)
        assert local(bodies)[:, 1].min() == pytest.approx(height)
        window = local(windows)
        assert np.ptp(window[:, 0]) == pytest.approx(target.window_h)
        assert np.ptp(window[:, 1]) == pytest.approx(target.window_v)
        assert 0.5 * (window[:, 1].max() + window[:, 1].min()) == pytest.approx(height + target.centre_height)
        assert -NANOMETRE <= window[:, 2].min() < window[:, 2].max() < 1e-3


def test_spots_stand_at_the_readings(hidden):
    rows = first_rows(hidden.geometry)
    mesh = spot_mesh(hidden.geometry, hidden.spots, rows)
    assert np.abs(hidden.spots.v).max() > 1e-3
    for row in rows[:10]:
        cells = mesh.regular_faces[mesh.cell_data["row"] == row]
        points = np.asarray(mesh.points)[np.unique(cells)]
        off = points - hidden.spots.hit[row]
        np.testing.assert_allclose(off.mean(axis=0) @ hidden.geometry.axis_v[row], 0.0, atol=1e-6)
        away = np.linalg.norm(off - (off @ hidden.geometry.facing[row])[:, None] * hidden.geometry.facing[row], axis=1)
        np.testing.assert_allclose(away, hidden.spots.radius[row], rtol=1e-3)


def test_no_light_is_drawn_on_hidden_targets(hidden):
    rows = first_rows(hidden.geometry)
    parts = target_parts(hidden.layout, hidden.geometry, hidden.spots, hidden.sight, rows)
    lit = set(of_role(parts, Role.SPOT).mesh.cell_data["row"])
    assert lit == {int(row) for row in rows if hidden.sight.sight[row] != Sight.BLOCKED}
    assert len(lit) < len(rows)


def test_scene_of_a_plan_is_complete(plan):
    parts = plan_parts(plan, row=3)
    names = [part.name for part in parts]
    assert len(names) == len(set(names))
    assert {part.role for part in parts} >= {
        Role.MACHINE_SURFACE, Role.FLOOR, Role.EMITTER, Role.BASE, Role.TRIPOD, Role.POST, Role.TARGET, Role.SPOT,
        Role.BEAM_CLEAR, Role.SWEPT_PLANE, Role.STATION_MARK, Role.FOOT,
    }  # fmt: skip
    assert all(part.mesh.n_cells for part in parts)
    assert all(np.isfinite(part.mesh.points).all() for part in parts)
    assert 1e4 <= sum(part.mesh.n_cells for part in parts) <= 1e5
    assert {part.name for part in layout_parts(plan.layout)} < set(names)


def test_scene_of_ten_thousand_stations_stays_drawable(survey_of):
    plan = survey_of(100, 50, twice=True)
    assert len(plan.geometry.rows) == 10_000
    parts = plan_parts(plan, row=1234)
    assert sum(part.mesh.n_cells for part in parts) <= 1e5
    assert set(of_role(parts, Role.TARGET).mesh.cell_data["station"]) == {plan.geometry.rows.station[1234]}


def test_scene_needs_no_window(plan, monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("a window was opened")

    monkeypatch.setattr(pv, "Plotter", refuse)
    monkeypatch.setattr("vtkmodules.vtkRenderingCore.vtkRenderWindow", refuse)
    assert plan_parts(plan)


def test_vtk_is_never_imported_as_a_whole():
    for file in Path(scenes.meshes.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                assert "vtk" not in [alias.name for alias in node.names], file.name
            if isinstance(node, ast.ImportFrom):
                assert node.module != "vtk", file.name


@pytest.mark.parametrize("name", list(PRESETS))
@pytest.mark.parametrize("aspect", [0.7, 1.6])
def test_presets_show_everything_and_no_more_than_needed(plan, name, aspect):
    corners = corners_of(plan_parts(plan))
    camera = camera_preset(name, corners, aspect)
    toward = camera.position - camera.focal_point
    distance = np.linalg.norm(toward)
    toward = toward / distance
    right = np.cross(camera.up, toward)
    right /= np.linalg.norm(right)
    off = corners - camera.position
    depth = -off @ toward
    half = np.tan(0.5 * np.deg2rad(VIEW_ANGLE))
    wide = np.abs(off @ right) / (depth * half * aspect)
    tall = np.abs(off @ np.cross(toward, right)) / (depth * half)
    assert depth.min() > 0.0
    assert max(wide.max(), tall.max()) <= 1.0
    assert max(wide.max(), tall.max()) > 0.9


def test_bounds_leave_the_floor_out(plan):
    bounds = bounds_of(plan_parts(plan))
    assert bounds[0, 2] == pytest.approx(0.0, abs=1e-6)
    assert bounds[1, 2] == pytest.approx(3.1)
    np.testing.assert_array_equal(bounds_of([]), [[-0.5, -0.5, 0.0], [0.5, 0.5, 1.0]])


def test_labels_stand_over_their_stations(plan):
    labels = station_labels(plan.layout)
    assert labels.names == tuple(plan.layout.stations)
    order = [plan.geometry.rows.stations.index(name) for name in labels.names]
    centres = plan.geometry.detector_centres()[first_rows(plan.geometry)][order]
    np.testing.assert_allclose(labels.points[:, :2], centres[:, :2], atol=1e-6)
    assert (labels.points[:, 2] > centres[:, 2]).all()
    low = station_labels(plan.layout, names=("A1",), above=0.01)
    assert low.points[0, 2] == pytest.approx(plan.geometry.foot[0, 2] + 0.01)


def test_every_finding_has_a_place(hidden):
    found = check_layout(hidden.layout, np.random.default_rng(1)).findings
    assert any(finding.code == "blocked" for finding in found)
    for finding in found:
        anchor = finding_anchor(hidden.layout, finding, hidden)
        assert np.isfinite(anchor.point).all()
        np.testing.assert_array_equal(anchor.camera.focal_point, anchor.point)
        assert 0.3 < np.linalg.norm(anchor.camera.position - anchor.point) < 50.0


def test_blocked_station_is_shown_at_the_obstacle(hidden):
    finding = next(f for f in check_layout(hidden.layout, np.random.default_rng(1)).findings if f.code == "blocked")
    column = hidden.layout.surfaces["column"].world_from_surface
    with_plan, without = (finding_anchor(hidden.layout, finding, plan).point for plan in (hidden, None))
    assert np.abs(column.inverse().points(with_plan)[:2]).max() == pytest.approx(0.1, abs=1e-6)
    row = hidden.geometry.rows.stations.index(finding.name)
    np.testing.assert_allclose(without, hidden.geometry.detector_centres()[first_rows(hidden.geometry)][row])


@pytest.mark.parametrize(
    ("kind", "name"),
    [("surface", "bed"), ("task", "bed flatness"), ("set-up", "plane"), ("device", "base"), ("device", "t1"),
     ("device", "none such"), ("survey", "")],
)  # fmt: skip
def test_places_of_all_kinds(press_bed, kind, name):
    anchor = finding_anchor(press_bed, Finding(Severity.NOTE, "cone-from-shape", kind, name, "", ""))
    corners = corners_of(layout_parts(press_bed))
    low, high = corners.min(axis=0) - 2.0, corners.max(axis=0) + 2.0
    assert ((anchor.point >= low) & (anchor.point <= high)).all()
    assert anchor.camera.position[2] > anchor.point[2]


def test_marks_stand_on_their_points():
    points = np.array([[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]])
    mesh = finding_marks(points)
    for number, point in enumerate(points):
        mine = np.asarray(mesh.points)[mesh.regular_faces[mesh.cell_data["finding"] == number]].reshape(-1, 3)
        np.testing.assert_allclose(mine[mine[:, 2].argmin()], point, atol=1e-12)
