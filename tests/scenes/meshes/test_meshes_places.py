"""Devices of every method stand where the light and the layout say."""

from dataclasses import replace

import numpy as np
import pytest

from scenes.frames import Pose
from scenes.meshes.emitters import HOUSING_LENGTH, SPINDLE_AHEAD, emitter_parts
from scenes.meshes.plan_scene import plan_parts, stand_parts, survey_parts
from scenes.meshes.prisms import GLASS_OUTLINE, nose_pose, prism_parts
from scenes.meshes.scene_parts import Role
from scenes.meshes.stands import stage, v_block
from scenes.meshes.targets import device_parts, first_rows
from scenes.tracing.spots import spots
from scenes.tracing.state import RowState

NANOMETRE = 1e-9


def rows_of(plan, setup):
    return np.nonzero(plan.geometry.rows.setup == plan.geometry.rows.setups.index(setup))[0]


def points_of(parts, role, station=None):
    """World points of all parts of a role, or of the cells of one station."""
    found = []
    for part in parts:
        if part.role is role and part.mesh.n_cells:
            cells = part.mesh.regular_faces
            if station is not None:
                cells = cells[part.mesh.cell_data["station"] == station]
            found.append(np.asarray(part.mesh.points)[cells].reshape(-1, 3))
    return np.vstack(found)


@pytest.fixture(scope="module")
def targets(lines):
    return device_parts(lines.layout, lines.geometry, first_rows(lines.geometry))


@pytest.mark.parametrize("setup", ["shared", "stepping", "in a v", "base line", "through the bore"])
def test_line_leaves_at_the_exit_port(lines, setup):
    """The port is round about the beam and begins at most 4 mm before its start; the housing lies behind it."""
    geometry, row = lines.geometry, int(rows_of(lines, setup)[0])
    frame = Pose(geometry.launch_rotation[row], geometry.beam_origins()[row]).inverse()
    parts = emitter_parts(lines.layout, geometry, row)
    port = frame.points(points_of(parts, Role.EXIT_PORT))
    np.testing.assert_allclose(0.5 * (port.min(axis=0) + port.max(axis=0)), [0.002, 0.0, 0.0], atol=1e-6)
    housing = frame.points(points_of(parts, Role.EMITTER))
    assert housing[:, 0].max() == pytest.approx(0.0, abs=1e-6)
    assert np.ptp(housing[:, 0]) == pytest.approx(HOUSING_LENGTH)
    name = lines.layout.setups[setup].emitter
    bottom = (
        points_of(parts, Role.V_BLOCK) if setup in ("in a v", "through the bore") else points_of(parts, Role.EMITTER)
    )
    assert frame.points(bottom)[:, 2].min() == pytest.approx(-lines.layout.emitters[name].beam_height)


def test_a_stage_fills_the_room_below_its_emitter(lines):
    """On the rail: from the rail at 0.5 m over the stage of 60 mm to the emitter, whose beam is 45 mm above."""
    parts = emitter_parts(lines.layout, lines.geometry, int(rows_of(lines, "shared")[0]))
    under = points_of(parts, Role.STAGE)
    assert under[:, 2].min() == pytest.approx(0.5)
    assert under[:, 2].max() == pytest.approx(0.56)
    assert points_of(parts, Role.EMITTER)[:, 2].min() == pytest.approx(0.56)
    assert all(part.role is not Role.TRIPOD for part in parts)  # it stands on the rail


def test_a_stand_reaches_from_the_floor(lines):
    """In front of the bore: a pillar from the floor to the stage; the base line: a tripod to the housing."""
    for setup, top in (("through the bore", 1.2 - 0.032 - 0.06), ("base line", 1.255)):
        parts = emitter_parts(lines.layout, lines.geometry, int(rows_of(lines, setup)[0]))
        stand = points_of(parts, Role.TRIPOD)
        assert stand[:, 2].min() == pytest.approx(0.0, abs=1e-6)
        assert stand[:, 2].max() == pytest.approx(top, abs=1e-6)


def test_a_shank_lies_in_its_v_block():
    """The block touches the shank at 45 degrees either side and lets it in nowhere."""
    radius, height = 0.02, 0.032
    solid = v_block(radius, height)
    assert solid.vertices[:, 2].min() == 0.0
    off = solid.vertices[:, 1:] - [0.0, height]
    assert np.linalg.norm(off, axis=1).min() > 0.99 * radius
    flank = np.array([[0.0, height - np.sqrt(2.0) * radius], [1.0, height - np.sqrt(2.0) * radius + 1.0]])
    along = (flank[1] - flank[0]) / np.sqrt(2.0)
    to_axis = np.array([0.0, height]) - flank[0]
    assert abs(along[0] * to_axis[1] - along[1] * to_axis[0]) == pytest.approx(radius)
    assert any(np.allclose(vertex[1:], flank[0]) for vertex in solid.vertices)  # the groove's ground is that flank's


def test_a_stage_has_two_plates():
    solid = stage(0.06, 0.2, 0.1)
    heights = solid.vertices[:, 2]
    assert (heights.min(), heights.max()) == (0.0, 0.06)
    assert {0.0162, 0.0438} <= set(np.round(heights, 4))


def test_an_emitter_in_a_spindle_turns_with_it(lines):
    """The key stands where the emitter is turned to; a mark on the flange for every turn."""
    geometry = lines.geometry
    for row in rows_of(lines, "in the spindle")[::2]:
        parts = emitter_parts(lines.layout, geometry, int(row))
        frame = Pose(geometry.launch_rotation[row], geometry.beam_origins()[row]).inverse()
        housing = frame.points(points_of(parts, Role.EMITTER))
        assert (housing[:, 0].min(), housing[:, 0].max()) == pytest.approx((0.0, SPINDLE_AHEAD))
        key = housing[np.linalg.norm(housing[:, 1:], axis=1) > 0.0215][:, 1:].mean(axis=0)
        turn = np.arctan2(-key[0], key[1])  # right-handed about x, from z
        assert np.angle(np.exp(1j * (turn - geometry.rows.turn[row]))) == pytest.approx(0.0, abs=0.02)
        marks = frame.points(points_of(parts, Role.CLOCK_MARK))[:, 1:]
        angles = np.round(np.rad2deg(np.arctan2(-marks[:, 0], marks[:, 1])) / 90.0).astype(int) % 4
        assert set(angles) == {0, 1, 2, 3}


def test_light_folds_inside_the_drawn_glass(lines):
    """Traced corners of every prism lie on the faces of the drawn glass: entrance and exit on the right ones."""
    geometry = replace(lines.geometry, gradient=0.0)  # a nose follows a bent beam by some micrometres
    seen = spots(geometry)
    for row in geometry.noses.rows:
        parts = prism_parts(lines.layout, geometry, int(row))
        glass = next(part.mesh for part in parts if part.role is Role.GLASS)
        corners = seen.train.corners[row, 1:5]
        triangles = np.asarray(glass.points)[glass.regular_faces]
        normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        level = np.einsum("pk,tk->pt", corners, normal) - np.einsum("tk,tk->t", triangles[:, 0], normal)
        assert level.max() < NANOMETRE  # inside, or on a face
        assert np.abs(level).min(axis=1).max() < NANOMETRE
        outward = [normal[np.argmin(np.abs(level[corner]))] for corner in (0, 3)]
        come, go = corners[0] - seen.train.corners[row, 0], seen.hit[row] - corners[3]
        assert outward[0] @ come / np.linalg.norm(come) == pytest.approx(-1.0, abs=1e-3)
        assert outward[1] @ go / np.linalg.norm(go) == pytest.approx(1.0, abs=1e-3)


def test_nothing_of_a_nose_stands_in_its_beam(lines):
    """The beam, 3 mm wide, passes the ring; no corner of holder, ring or saddle is in it before the prism."""
    geometry, row = lines.geometry, int(lines.geometry.noses.rows[0])
    parts = prism_parts(lines.layout, geometry, row)
    start, end = lines.paths.points[row, :2]
    along = (end - start) / np.linalg.norm(end - start)
    for role in (Role.PRISM, Role.PRISM_RING, Role.BRACKET):
        off = points_of(parts, role) - start
        place = off @ along
        away = np.linalg.norm(off - place[:, None] * along, axis=1)
        assert away[(place > 0.0) & (place < np.linalg.norm(end - start))].min() > 5e-3
    assert GLASS_OUTLINE.shape == (5, 2)
    assert prism_parts(lines.layout, geometry, int(rows_of(lines, "shared")[0])) == ()


def test_an_error_of_the_nose_is_drawn_enlarged(lines):
    """1 mm along the beam, 50 times enlarged, moves the glass by 50 mm; 1 mrad of turn turns it by 50 mrad."""
    geometry, row = lines.geometry, int(lines.geometry.noses.rows[0])
    still = points_of(prism_parts(lines.layout, geometry, row), Role.GLASS)
    state = RowState(prism_x=np.array(1e-3))
    moved = points_of(prism_parts(lines.layout, geometry, row, state, 50.0), Role.GLASS)
    np.testing.assert_allclose(
        moved - still, np.broadcast_to(0.05 * geometry.noses.frame[0, :, 0], moved.shape), atol=1e-6
    )
    turned = points_of(prism_parts(lines.layout, geometry, row, RowState(prism_turn=np.array(1e-3)), 50.0), Role.GLASS)
    centre = geometry.noses.centre[0]
    one, two = still - centre, turned - centre
    x = geometry.noses.frame[0, :, 0]
    one, two = one - np.outer(one @ x, x), two - np.outer(two @ x, x)
    angle = np.arctan2(np.cross(one, two) @ x, np.einsum("ij,ij->i", one, two))
    np.testing.assert_allclose(angle, 0.05, atol=1e-5)


def test_a_nose_follows_the_beam_that_it_is_centred_on(lines):
    """An emitter tilted up by 0.1 mrad lifts the beam at 2 m by 0.2 mm, and the nose with it, drawn 100 times."""
    geometry, row = replace(lines.geometry, gradient=0.0), int(lines.geometry.noses.rows[0])
    state = RowState(tilt_y=np.array(-1e-4), prism_z=np.array(1e-4))
    nose, _ = nose_pose(geometry, row, state, 100.0)
    way = np.linalg.norm(geometry.noses.centre[0] - geometry.beam_origins()[row])
    rise = (nose.origin - geometry.noses.centre[0]) @ geometry.launch_rotation[row, :, 2]
    assert rise == pytest.approx(100.0 * (1e-4 * way + 1e-4), rel=0.02)
    assert nose.rotation[:, 0] @ geometry.launch_rotation[row, :, 2] == pytest.approx(100.0 * 1e-4, rel=1e-2)


def test_a_reversed_line_shows_its_other_end(lines):
    """Ghosts: emitter beyond the far target and the prism at its other stop; a V-block has none."""
    geometry = lines.geometry
    row = int(lines.geometry.noses.rows[0])
    parts = stand_parts(lines, row)
    ghosts = [part for part in parts if part.role is Role.GHOST_STAND]
    assert {part.name.split(" base line")[0] for part in ghosts} == {
        "other end emitter", "other end exit port", "other end stand", "other stop glass", "other stop prism",
        "other stop ring", "other stop saddle",
    }  # fmt: skip
    other = rows_of(lines, "base line")
    far = geometry.beam_origins()[other][geometry.rows.side[other] == 1][0]
    port = next(part.mesh for part in ghosts if part.name.startswith("other end exit port"))
    assert np.linalg.norm(np.asarray(port.points).mean(axis=0) - far) < 0.02
    assert far[0] > 6.0
    assert all(part.role is not Role.GHOST_STAND for part in stand_parts(lines, int(rows_of(lines, "in a v")[0])))


def test_targets_are_right_for_what_they_are(lines, targets):
    """Windows, glass, feet and discs in their true sizes; the beam passes see-through targets."""
    geometry, rows = lines.geometry, lines.geometry.rows
    roles = {part.role for part in targets if part.mesh.n_cells}
    assert roles >= {
        Role.POST, Role.MAGNET, Role.BRACKET, Role.DISCS, Role.TARGET, Role.GLASS, Role.WINDOW, Role.CLOCK_MARK,
        Role.TRIPOD, Role.GHOST_TARGET,
    }  # fmt: skip
    for name in ("A1", "A2"):  # see-through: frame around the beam, pane of the stated thickness in it
        row = int(first_rows(geometry)[rows.stations.index(name)])
        local = np.stack([geometry.axis_h[row], geometry.axis_v[row], geometry.facing[row]])
        frame = (
            points_of(targets, Role.TARGET, rows.stations.index(name)) - geometry.detector_centres()[row]
        ) @ local.T
        assert np.abs(frame[:, :2]).max(axis=1).min() >= 0.5 * geometry.window[row].min()
        pane = (points_of(targets, Role.GLASS, rows.stations.index(name)) - geometry.detector_centres()[row]) @ local.T
        assert np.ptp(pane[:, 2]) == pytest.approx(0.003, abs=1e-6)
        assert np.ptp(pane[:, 0]) >= geometry.window[row, 0]


def test_a_stepping_target_stands_on_two_feet(lines, targets):
    """S1 at x = 3 m with a step of 400 mm: magnets at 2.8 and 3.2 m, and shoes on them."""
    rows = lines.geometry.rows
    magnets = points_of(targets, Role.MAGNET, rows.stations.index("S1"))
    places = np.unique(np.round(magnets[:, 0], 3))
    np.testing.assert_allclose(places, [2.778, 2.822, 3.178, 3.222], atol=1e-3)
    shoes = points_of(targets, Role.BRACKET, rows.stations.index("S1"))
    assert shoes[:, 2].min() == pytest.approx(0.5 + 0.035)
    assert 0.5 * (shoes[:, 0].min() + shoes[:, 0].max()) == pytest.approx(3.0, abs=1e-6)


def test_discs_fill_the_bore_and_marks_stand_at_the_clock_angles(lines, targets):
    """In the bore of 180 mm: rims just inside it, four marks a quarter turn apart, one target for all four."""
    geometry, rows = lines.geometry, lines.geometry.rows
    station = rows.stations.index("R2")
    mine = np.nonzero(rows.station == station)[0]
    assert len(mine) == 4
    centre = geometry.detector_centres()[mine[0]]
    rim = points_of(targets, Role.DISCS, station) - centre
    assert 0.95 * 0.09 < np.linalg.norm(rim[:, 1:], axis=1).max() <= 0.09
    for part in targets:
        if part.role is Role.CLOCK_MARK:
            cells = part.mesh.cell_data["station"] == station
            assert set(part.mesh.cell_data["row"][cells]) == set(mine)
            for row in mine:
                marks = np.asarray(part.mesh.points)[part.mesh.regular_faces[part.mesh.cell_data["row"] == row]]
                toward = marks.reshape(-1, 3).mean(axis=0) - centre
                toward -= (toward @ geometry.facing[row]) * geometry.facing[row]
                assert toward / np.linalg.norm(toward) @ geometry.axis_v[row] == pytest.approx(1.0, abs=1e-6)


def test_brackets_and_magnets_reach_the_foot_of_their_target(lines, targets):
    rows = lines.geometry.rows
    bracket = points_of(targets, Role.BRACKET, rows.stations.index("roll_1 near"))
    assert bracket[:, 2].min() == pytest.approx(1.15, abs=1e-6)
    assert bracket[:, 2].max() == pytest.approx(1.15 + 0.08, abs=1e-6)
    magnet = points_of(targets, Role.MAGNET, rows.stations.index("A1"))
    assert (magnet[:, 2].min(), magnet[:, 2].max()) == pytest.approx((0.5, 0.535))


def test_targets_on_a_moved_part_are_ghosts(lines, targets):
    """M is read with the slide at left, where it is drawn, and at right: the latter is a ghost 0.4 m on."""
    rows = lines.geometry.rows
    assert "M@left" not in rows.stations or "M@right" in rows.stations
    ghosts = next(part.mesh for part in targets if part.role is Role.GHOST_TARGET)
    names = {rows.stations[station] for station in ghosts.cell_data["station"]}
    assert names == {"M@right"}
    solid = {rows.stations[s] for p in targets if p.role is Role.TARGET for s in p.mesh.cell_data["station"]}
    assert "M@left" in solid
    assert "M@right" not in solid


def test_scene_of_all_methods_is_complete(lines):
    parts = plan_parts(lines)
    names = [part.name for part in parts]
    assert len(names) == len(set(names))
    assert all(np.isfinite(part.mesh.points).all() for part in parts)
    assert {part.role for part in parts} >= {
        Role.MACHINE_SURFACE, Role.MACHINE_INSIDE, Role.MACHINE_SHELL, Role.MACHINE_GHOST, Role.EMITTER, Role.V_BLOCK,
        Role.STAGE, Role.TRIPOD, Role.PRISM, Role.PRISM_RING, Role.GLASS, Role.GHOST_STAND, Role.GHOST_TARGET,
        Role.BEAM_CLEAR, Role.BEAM_BLOCKED, Role.BEAM_BENT, Role.SWEPT_PLANE, Role.SPOT, Role.CLOCK_MARK, Role.DISCS,
    }  # fmt: skip
    assert 1e4 <= sum(part.mesh.n_cells for part in parts) <= 1e5


def test_one_set_up_can_be_drawn_alone(lines):
    """Its devices, beams and targets, and those of no other one."""
    geometry = lines.geometry
    parts = survey_parts(lines, setups=("square plane",))
    assert {part.place_name for part in parts if part.place_kind == "set-up"} == {"square plane"}
    mine = set(rows_of(lines, "square plane"))
    for part in parts:
        if "row" in part.mesh.cell_data:
            assert set(part.mesh.cell_data["row"]) <= mine, part.name
    read = {geometry.rows.stations[geometry.rows.station[row]] for row in mine}
    spots = next(part.mesh for part in parts if part.role is Role.SPOT)
    assert {geometry.rows.stations[s] for s in spots.cell_data["station"]} == read
