"""Beams and swept planes are drawn where the measurement model says."""

from pathlib import Path

import numpy as np
import pytest

from scenes.checks.plan import traced_plan
from scenes.layout import read_layout
from scenes.meshes.beams import beam_mesh, beam_of, beam_parts, beam_paths, drawn_radius, thinned
from scenes.meshes.emitters import EXIT_AHEAD
from scenes.meshes.scene_parts import Role
from scenes.meshes.swept_plane import fan_of, swept_plane
from scenes.tracing.sight import Sight
from scenes.tracing.spots import aimed_azimuths, beams, beams_at, spots
from scenes.tracing.state import NOMINAL, RowState
from scenes.tracing.sweep import rows_at, state_at, swept_points

NANOMETRE = 1e-9
FREE_LENGTH = 1e-5  # sight lines run to the centre of the detector, beams to the spot a millimetre beside it


def random_state(rng, rows):
    """A state in which every field that moves a beam differs from row to row."""
    return RowState(
        tilt_x=rng.normal(0, 1e-4, rows),
        tilt_y=rng.normal(0, 1e-4, rows),
        lift=rng.normal(0, 1e-3, rows),
        cone=rng.normal(0, 1e-4, rows),
        drift=np.asarray(rng.normal(0, 1e-8)),
        elevation=rng.normal(0, 1e-5, rows),
        gradient=np.asarray(rng.normal(0, 1.0)),
        aim=rng.normal(0, 1e-3, rows),
    )


def test_swept_plane_passes_through_every_spot(plan):
    rng = np.random.default_rng(1)
    geometry = plan.geometry
    rows = len(geometry.rows)
    count = 0
    for _ in range(30):
        state = random_state(rng, rows)
        seen = spots(geometry, state)
        azimuth = aimed_azimuths(geometry, state)
        level = np.stack([np.cos(azimuth), np.sin(azimuth), np.zeros(rows)], axis=-1)
        outward = np.einsum("mij,mj->mi", geometry.launch_rotation, level)
        radius = np.einsum("mi,mi->m", seen.hit - geometry.beam_origins(), outward)
        for row in range(rows):
            sweep = swept_points(geometry, state, row, azimuth[row : row + 1], radius[row : row + 1])
            np.testing.assert_allclose(sweep.points[0, 0], seen.hit[row], atol=NANOMETRE)
            count += 1
    assert count >= 1000


def test_beams_are_those_at_the_aimed_azimuths(plan):
    state = random_state(np.random.default_rng(2), len(plan.geometry.rows))
    one = beams(plan.geometry, state)
    two = beams_at(plan.geometry, state, aimed_azimuths(plan.geometry, state))
    np.testing.assert_array_equal(one.direction, two.direction)
    np.testing.assert_array_equal(one.origin, two.origin)


def test_rows_and_states_are_taken_together(plan):
    rng = np.random.default_rng(3)
    state = random_state(rng, len(plan.geometry.rows))
    index = rng.integers(0, len(plan.geometry.rows), 50)
    part, whole = spots(rows_at(plan.geometry, index), state_at(state, index)), spots(plan.geometry, state)
    np.testing.assert_array_equal(part.v, whole.v[index])
    np.testing.assert_array_equal(part.hit, whole.hit[index])


def test_cone_rises_with_the_radius(plan):
    cone = 40e-6
    mesh = swept_plane(
        plan.geometry, "plane", RowState(cone=np.array(cone), gradient=np.array(-plan.geometry.gradient))
    )
    away = np.asarray(mesh.points) - plan.geometry.beam_origins()[0]
    axis = plan.geometry.launch_rotation[0, :, 2]
    height = away @ axis
    radius = np.linalg.norm(away - height[:, None] * axis, axis=1)
    np.testing.assert_allclose(mesh.point_data["height [um]"], 1e6 * radius * np.tan(cone), atol=1e-3)
    np.testing.assert_allclose(height, radius * np.tan(cone), atol=NANOMETRE)


def test_exaggerated_plane_keeps_its_true_heights_as_numbers(plan):
    state = RowState(cone=np.array(40e-6))
    true, large = (swept_plane(plan.geometry, "plane", state, factor) for factor in (1.0, 500.0))
    np.testing.assert_array_equal(true.point_data["height [um]"], large.point_data["height [um]"])
    axis = plan.geometry.launch_rotation[0, :, 2]
    origin = plan.geometry.beam_origins()[0]
    np.testing.assert_allclose(
        (np.asarray(large.points) - origin) @ axis, 500.0 * (np.asarray(true.points) - origin) @ axis, atol=1e-6
    )


def test_fan_is_the_smallest_that_holds_all_azimuths():
    rng = np.random.default_rng(4)
    for _ in range(1000):
        start, span = rng.uniform(-10, 10), rng.uniform(0, 4.0)
        inside = np.concatenate([[start, start + span], start + span * rng.uniform(0, 1, 40)])
        fan = fan_of(np.angle(np.exp(1j * inside)))
        turned = np.mod(inside - fan[0], 2 * np.pi)
        assert turned.max() <= np.ptp(fan) + 1e-9
        assert np.ptp(fan) <= span + np.deg2rad(3.0) + 1e-9
        assert np.diff(fan).max() <= np.deg2rad(3.0) + 1e-9


def test_whole_turn_closes(plan):
    fan = fan_of(np.array([0.1, 0.5]), full_turn=True)
    assert np.ptp(fan) == pytest.approx(2.0 * np.pi)
    assert swept_plane(plan.geometry, "plane", full_turn=True).n_cells < 10_000


def drawn_ends(paths, rows):
    """First and last drawn points of beams that are one piece."""
    pieces = paths.pieces_of(rows)
    np.testing.assert_array_equal(paths.row[pieces], rows)
    points = paths.of(pieces, paths.span[pieces], 2)
    return points[:, 0], points[:, -1]


def test_clear_beams_run_from_exit_to_spot(plan):
    paths = beam_paths(plan.geometry, plan.spots, plan.sight)
    first, last = drawn_ends(paths, np.arange(len(paths.sight)))
    np.testing.assert_allclose(last, plan.spots.hit, atol=NANOMETRE)
    start = np.linalg.norm(first - plan.geometry.beam_origins(), axis=1)
    np.testing.assert_allclose(start, EXIT_AHEAD, rtol=1e-6)


def test_bent_beams_are_drawn_bent(plan):
    """The beam of a base drops by slope * gradient * L^2 / 2, its middle by a quarter of that, both enlarged."""
    state = RowState(gradient=np.array(5.0))
    paths = beam_paths(plan.geometry, spots(plan.geometry, state), plan.sight, state, factor=1000.0)
    pieces = np.arange(len(paths.row))
    points = paths.of(pieces, np.tile([0.0, 1.0], (len(pieces), 1)), 2)
    first, middle, last = (points[:, i] for i in range(3))
    sag = np.linalg.norm(middle - 0.5 * (first + last), axis=1)
    length = plan.spots.path[paths.row]
    total = 5.0 + plan.geometry.gradient
    np.testing.assert_allclose(sag, 1000.0 * 9.5e-7 * total * length**2 / 8.0, rtol=2e-2)
    np.testing.assert_allclose(last[:, 2] - plan.spots.hit[paths.row, 2], -4.0 * sag, atol=0.05 * sag.max())


def test_blocked_beams_end_at_the_obstacle(hidden):
    sight = hidden.sight.sight
    assert {Sight.CLEAR, Sight.BLOCKED} <= set(sight)
    paths = beam_paths(hidden.geometry, hidden.spots, hidden.sight)
    column = hidden.layout.surfaces["column"]
    rows = np.nonzero(sight == Sight.BLOCKED)[0]
    last = drawn_ends(paths, rows)[1]
    np.testing.assert_allclose(last, paths.mark[rows], atol=NANOMETRE)
    local = column.world_from_surface.inverse().points(last)
    np.testing.assert_allclose(np.abs(local[:, :2]).max(axis=1), 0.1, atol=FREE_LENGTH)


def test_rows_are_split_by_what_becomes_of_them(hidden):
    radius = drawn_radius(hidden.geometry, hidden.spots)
    parts = beam_parts(beam_paths(hidden.geometry, hidden.spots, hidden.sight), radius)
    kinds = {
        Role.BEAM_CLEAR: Sight.CLEAR, Role.BEAM_CLIPPED: Sight.CLIPPED, Role.BEAM_BLOCKED: Sight.BLOCKED,
        Role.BEAM_LOST: -1,
    }  # fmt: skip
    for part in parts:
        drawn = set(part.mesh.cell_data["row"]) if part.mesh.n_cells else set()
        assert drawn <= set(np.nonzero(hidden.sight.sight == kinds[part.role])[0])
        off_middle = np.abs(hidden.geometry.detector_centres()[:, 1]) > 1e-9  # those behind each other are drawn once
        assert drawn >= set(np.nonzero(off_middle & (hidden.sight.sight == kinds[part.role]))[0])


def test_clipped_beams_carry_a_ring_where_they_are_touched(survey_of):
    plan = survey_of(40, 40)
    clipped = np.nonzero(plan.sight.sight == Sight.CLIPPED)[0]
    assert len(clipped)
    paths = beam_paths(plan.geometry, plan.spots, plan.sight)
    mesh = beam_mesh(paths, clipped[:1], 1e-3)
    away = np.linalg.norm(np.asarray(mesh.points) - paths.mark[clipped[0]], axis=1)
    assert away.min() == pytest.approx(np.hypot(5e-3, 1e-3), rel=0.05)
    np.testing.assert_allclose(drawn_ends(paths, clipped)[1], plan.spots.hit[clipped], atol=NANOMETRE)


def test_only_clear_beams_are_thinned(survey_of):
    plan = survey_of(40, 40)
    paths = beam_paths(plan.geometry, plan.spots, plan.sight)
    row = int(np.nonzero(plan.sight.sight == Sight.CLEAR)[0][1])
    rows = thinned(paths, row)
    assert row in rows
    assert set(np.nonzero(plan.sight.sight != Sight.CLEAR)[0]) <= set(rows)
    assert 100 < (plan.sight.sight[rows] == Sight.CLEAR).sum() <= 151
    few = survey_of(9, 7)
    np.testing.assert_array_equal(thinned(beam_paths(few.geometry, few.spots, few.sight), 0), np.arange(63))


def test_one_beam_alone(hidden):
    paths = beam_paths(hidden.geometry, hidden.spots, hidden.sight)
    row = int(np.argmax(hidden.sight.sight == Sight.CLEAR))
    mesh = beam_of(paths, row, 2e-3)
    assert set(mesh.cell_data["row"]) == {row}
    first, last = drawn_ends(paths, np.array([row]))
    line = np.vstack([first, last])
    off = np.linalg.norm(np.cross(np.asarray(mesh.points) - line[0], line[-1] - line[0]), axis=1)
    np.testing.assert_allclose(off / np.linalg.norm(line[-1] - line[0]), 2e-3, atol=5e-6)


def test_nominal_exaggeration_leaves_level_beams_alone(plan):
    level = RowState(gradient=np.array(-plan.geometry.gradient))
    seen = spots(plan.geometry, level)
    one, two = (beam_paths(plan.geometry, seen, plan.sight, level, factor) for factor in (1.0, 1000.0))
    for name in ("start", "end", "bow"):
        np.testing.assert_allclose(getattr(one, name), getattr(two, name), atol=1e-9)
    assert NOMINAL.cone == 0.0


def test_a_fan_whose_hull_ends_at_the_prism_is_drawn():
    """Stations on one side of the nose: the hull reaches to the axis itself, where there is glass and no plane."""
    examples = Path(__file__).parents[3] / "examples"
    plan = traced_plan(read_layout(examples / "gantry_mill" / "layout.yaml"))
    sheet = swept_plane(plan.geometry, "square plane")
    assert np.isfinite(np.asarray(sheet.points)).all()
