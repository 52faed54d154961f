"""Beams through prisms and see-through targets: corner by corner, each line drawn once, stopped where it is stopped."""

from dataclasses import replace

import numpy as np
import pytest

from scenes.checks.plan import traced_plan
from scenes.layout.read import read_layout
from scenes.meshes.beams import Look, beam_mesh, beam_parts, beam_paths, drawn_radius
from scenes.meshes.bent_beams import bent_beams
from scenes.meshes.merged_beams import trimmed, without_doubles
from scenes.meshes.scene_parts import Role
from scenes.tracing.sight import Sight
from scenes.tracing.spots import spots
from scenes.tracing.state import RowState

NANOMETRE = 1e-9
RADIUS = 1e-3


@pytest.fixture(scope="module")
def paths(lines):
    return beam_paths(lines.geometry, lines.spots, lines.sight)


def rows_of(plan, setup):
    return np.nonzero(plan.geometry.rows.setup == plan.geometry.rows.setups.index(setup))[0]


def off_line(points, start, end):
    """Distances of points from a straight piece; points beyond its ends count from there."""
    along = end - start
    share = np.clip((points - start) @ along / (along @ along), 0.0, 1.0)
    return np.linalg.norm(points - start - share[:, None] * along, axis=1)


def test_pieces_run_from_corner_to_corner(lines, paths):
    """Drawn pieces begin and end at the traced corners, glass included, and leave none out."""
    corners, here = lines.paths.points, lines.paths.here
    for row in range(len(lines.geometry.rows)):
        pieces = paths.pieces_of(np.array([row]))
        mine = corners[row, here[row]]
        if lines.sight.sight[row] == Sight.BLOCKED:
            mine = mine[: len(pieces) + 1]
        np.testing.assert_allclose(paths.start[pieces], mine[:-1], atol=NANOMETRE)
        np.testing.assert_allclose(paths.end[pieces], mine[1:], atol=NANOMETRE)
    assert here.sum(axis=1).max() == 6  # emitter, two plates of glass, target; or emitter, prism, target


def test_light_in_glass_is_straight_and_in_air_bent(paths):
    """In 0.5 K/m a level beam sags by slope * gradient * L^2 / 8; in glass there is no bend."""
    size = np.linalg.norm(paths.end - paths.start, axis=1)
    sag = 0.25 * np.linalg.norm(paths.bow, axis=1)
    short = size < 0.05
    assert short.sum() > 20
    np.testing.assert_array_equal(sag[short], 0.0)
    level = np.abs(paths.end[:, 2] - paths.start[:, 2]) < 0.01 * size
    expected = 9.5e-7 * 0.5 * size**2 / 8.0
    np.testing.assert_allclose(sag[level & ~short], expected[level & ~short], rtol=0.02)
    assert (paths.bow[~short & level, 2] > 0.0).all()  # above the chord: it leaves upward of it and falls


def test_one_line_is_one_tube(lines):
    """The beam along the rail is read at eight places, some behind glass, from two set-ups: it is drawn once."""
    geometry = lines.geometry
    rows = np.concatenate([rows_of(lines, name) for name in ("shared", "stepping")])
    assert len(rows) == 8
    paths = beam_paths(geometry, lines.spots, lines.sight)
    pieces = paths.pieces_of(rows)
    kept = without_doubles(paths, pieces, 0.3 * RADIUS)
    assert len(pieces) > 16
    assert len(kept) <= 8  # the longest one, and what is left beyond it: glass and the last legs
    start, end = (part[kept] for part in (paths.start, paths.end))
    for piece in pieces:
        both = np.stack([paths.start[piece], paths.end[piece]])
        away = np.min([off_line(both, one, two) for one, two in zip(start, end, strict=True)], axis=0)
        assert away.max() <= 0.3 * RADIUS


def test_every_beam_lies_on_a_drawn_one(paths):
    """What is left out as double runs along a piece that is kept, for all rows of all methods."""
    every = np.arange(len(paths.row))
    kept = without_doubles(paths, every, 0.3 * RADIUS)
    assert len(kept) < 0.6 * len(every)
    shares = np.linspace(0.0, 1.0, 11)
    count = 0
    for piece in every:
        points = paths.start[piece] + shares[:, None] * (paths.end[piece] - paths.start[piece])
        away = np.array([off_line(points, paths.start[k], paths.end[k]) for k in kept])
        assert away.min(axis=0).max() <= 0.35 * RADIUS
        count += len(points)
    assert count >= 1000


def test_beams_that_differ_are_all_drawn(lines):
    """Beams of one line with errors of their own are one beam in life, and many when the errors are enlarged."""
    rng = np.random.default_rng(3)
    rows = rows_of(lines, "in a v")
    m = len(lines.geometry.rows)
    state = RowState(elevation=rng.normal(0.0, 1e-6, m))
    seen = spots(lines.geometry, state)
    kept = []
    for factor in (1.0, 20_000.0):
        paths = beam_paths(lines.geometry, seen, lines.sight, state, factor)
        kept.append(len(without_doubles(paths, paths.pieces_of(rows), 0.3 * RADIUS)))
    assert kept[0] == 1
    assert kept[1] == len(rows)


def test_enlarged_offsets_are_those_of_the_trace(lines):
    """Ends of lines leave their nominal place by the factor times what they do in the trace, in both directions."""
    rng = np.random.default_rng(4)
    m = len(lines.geometry.rows)
    still = spots(replace(lines.geometry, gradient=0.0))
    count = 0
    for _ in range(25):
        state = RowState(
            tilt_y=rng.normal(0, 2e-5, m), tilt_z=rng.normal(0, 2e-5, m), shift=rng.normal(0, 1e-4, m),
            prism_turn=rng.normal(0, 1e-4, m), mirror=rng.normal(0, 1e-5, m),
        )  # fmt: skip
        seen = spots(lines.geometry, state)
        paths = beam_paths(lines.geometry, seen, lines.sight, state, 300.0, nominal=still)
        last = np.append(paths.row[1:] != paths.row[:-1], True) & (paths.look == Look.CLEAR)
        rows = paths.row[last]
        fixed = ~np.isin(rows, lines.geometry.noses.rows[lines.geometry.noses.sweeps])
        off = paths.end[last] - still.hit[rows]
        np.testing.assert_allclose(off[fixed], 300.0 * (seen.hit - still.hit)[rows][fixed], atol=1e-6)
        count += fixed.sum()
    assert count >= 1000


def test_a_swept_beam_is_enlarged_across_its_plane_only(lines):
    """Where a prism sweeps, the place to which the crew aims stays, and the error of the mirrors shows."""
    rows = rows_of(lines, "square plane")
    axis = lines.geometry.noses.frame[np.searchsorted(lines.geometry.noses.rows, rows), :, 0]
    state = RowState(aim=np.full(len(lines.geometry.rows), 2e-3), mirror=np.array(20e-6))
    seen = spots(lines.geometry, state)
    still = spots(replace(lines.geometry, gradient=0.0))
    paths = beam_paths(lines.geometry, seen, lines.sight, state, 500.0)
    last = np.append(paths.row[1:] != paths.row[:-1], True) & np.isin(paths.row, rows)
    off, true = paths.end[last] - still.hit[rows], (seen.hit - still.hit)[rows]
    along = np.einsum("ki,ki->k", off, axis)
    np.testing.assert_allclose(along, 500.0 * np.einsum("ki,ki->k", true, axis), atol=1e-7)
    assert np.abs(along).min() > 5e-3
    aside = np.linalg.norm(off - along[:, None] * axis, axis=1)
    np.testing.assert_allclose(aside, 2e-3, rtol=0.05)


def test_a_blocked_leg_ends_at_the_obstacle_behind_a_clear_base_line(lines, paths):
    """The post stands behind the prism: the way to the prism is clear, the leg from it ends at the post."""
    blocked = np.nonzero(lines.sight.sight == Sight.BLOCKED)[0]
    assert len(blocked) == 4
    post = lines.layout.surfaces["post"].world_from_surface.inverse()
    for row in blocked:
        pieces = paths.pieces_of(np.array([row]))
        np.testing.assert_array_equal(paths.look[pieces[:-1]], Look.CLEAR)
        assert paths.look[pieces[-1]] == Look.BLOCKED
        ends = paths.of(pieces[-1:], paths.span[pieces[-1:]], 1)[0]
        np.testing.assert_allclose(ends[-1], paths.mark[row], atol=NANOMETRE)
        assert np.abs(post.points(ends[-1])[:2]).max() == pytest.approx(0.1, abs=1e-4)
        way = np.linalg.norm(paths.end[pieces[:-1]] - paths.start[pieces[:-1]], axis=1).sum()
        assert way + np.linalg.norm(ends[-1] - ends[0]) == pytest.approx(lines.sight.reach[row], abs=1e-5)
    parts = {part.role: part.mesh for part in beam_parts(paths, RADIUS)}
    assert set(parts[Role.BEAM_BLOCKED].cell_data["row"]) <= set(blocked)
    cross = np.asarray(parts[Role.BEAM_BLOCKED].points) - paths.mark[blocked[0]]
    arms = np.linalg.norm(cross, axis=1) < 9.0 * np.sqrt(2.0) * RADIUS + 2e-3
    assert np.ptp(cross[arms] @ [1.0, 0.0, 0.0]) == pytest.approx(18.0 * RADIUS, rel=0.15)


TUNNEL = """
layout: 1
title: A line with a gate
machine:
  rail: {rail: {length: 10 m, width: 120 mm, height: 200 mm}}
  gate: {column: {length: 100 mm, width: 300 mm, height: 1 m}, at: [7 m, 0 m, 0 m]}
devices: {laser: {emitter: block}, t: {target: two axes}}
stations:
  line:
    {on: rail, at: {A1: [2 m, 0 m], A2: [5 m, 0 m], A3: [8 m, 0 m], A4: [9 m, 0 m]}, target: t, mount: {post: 80 mm}}
setups:
  line: {emitter: {use: laser, on: rail, at: [0.3 m, 0 m, 105 mm], aim: +x}, reads: [line]}
tasks:
  line: {straightness: rail, from: line, plane: vertical, limit: 0.5 mm}
"""


def test_a_blocked_beam_begins_where_the_clear_one_ends():
    """Targets at 2 and 5 m are seen, those at 8 and 9 m stand behind a gate at 6.95 m: blocked from 5 m on."""
    plan = traced_plan(read_layout("gate.yaml", TUNNEL))
    assert list(plan.sight.sight) == [Sight.CLEAR, Sight.CLEAR, Sight.BLOCKED, Sight.BLOCKED]
    paths = beam_paths(plan.geometry, plan.spots, plan.sight)
    clear, blocked = np.array([0, 1]), np.array([2])
    span = trimmed(paths, blocked, without_doubles(paths, clear, 1e-3), 1e-3)
    ends = paths.of(blocked, span, 1)[0]
    np.testing.assert_allclose(ends[:, 0], [5.0, 6.95], atol=1e-4)
    parts = {part.role: part.mesh for part in beam_parts(paths, 3e-3)}
    assert np.reshape(parts[Role.BEAM_CLEAR].bounds, (3, 2))[0, 1] == pytest.approx(5.0, abs=1e-4)
    red = np.reshape(parts[Role.BEAM_BLOCKED].bounds, (3, 2))[0]
    np.testing.assert_allclose(red, [5.0, 6.95], atol=1e-4)
    assert set(parts[Role.BEAM_BLOCKED].cell_data["row"]) == {2}  # both stop at one place: one tube, one cross


def test_a_lost_beam_goes_where_the_light_goes(lines):
    """A detector behind the emitter is never met; the beam is drawn as long as the way to it, and not as clear."""
    rows = rows_of(lines, "in the spindle")
    foot = np.array(lines.geometry.foot)
    foot[rows] -= [5.0, 0.0, 0.0]
    geometry = replace(lines.geometry, foot=foot)
    seen = spots(geometry)
    assert np.isnan(seen.path[rows]).all()
    paths = beam_paths(geometry, seen, lines.sight)
    np.testing.assert_array_equal(paths.sight[rows], -1)
    pieces = paths.pieces_of(rows)
    np.testing.assert_array_equal(paths.look[pieces], Look.LOST)
    way = np.linalg.norm(paths.end[pieces] - paths.start[pieces], axis=1)
    to_target = np.linalg.norm(geometry.detector_centres()[rows] - geometry.beam_origins()[rows], axis=1)
    np.testing.assert_allclose(way, to_target, rtol=1e-6)
    mesh = beam_mesh(paths, np.arange(len(paths.sight)), RADIUS)
    assert np.isfinite(mesh.points).all()


def test_bent_beams_state_their_factor(lines):
    """The longest beam of each set-up that bends by 10 um or more, each off its straight line by the stated factor."""
    bent = bent_beams(lines)
    assert bent is not None
    digits = f"{bent.factor:.0e}"
    assert digits[0] in "125"
    still = spots(replace(lines.geometry, gradient=0.0))
    true = np.linalg.norm(lines.spots.hit - still.hit, axis=1)[bent.rows]
    np.testing.assert_allclose(bent.off, true, rtol=1e-3)
    assert bent.off.min() >= 10e-6
    drawn = np.linalg.norm(bent.anchors - still.hit[bent.rows], axis=1)
    np.testing.assert_allclose(drawn, bent.factor * true, rtol=1e-3)
    longest = lines.spots.path[bent.rows[np.argmax(bent.off)]]
    assert 0.01 < drawn.max() / longest < 0.06
    setups = {lines.geometry.rows.setups[i] for i in lines.geometry.rows.setup[bent.rows]}
    assert "in the spindle" not in setups  # 2 m: too short to bend
    assert bent_beams(lines, ("in the spindle",)) is None


def test_ten_thousand_beams_are_quick_to_merge(lines):
    """Rows that share lines stay few tubes and within the budget of cells."""
    index = np.repeat(rows_of(lines, "in a v"), 800)
    geometry = lines.geometry.chosen(index)
    seen = spots(geometry)
    sight = replace(lines.sight, **{
        name: getattr(lines.sight, name)[index] for name in ("sight", "by", "reach", "clearance")
    })  # fmt: skip
    paths = beam_paths(geometry, seen, sight)
    assert len(paths.row) == 9600
    parts = beam_parts(paths, drawn_radius(geometry, seen))
    assert sum(part.mesh.n_cells for part in parts) < 100
