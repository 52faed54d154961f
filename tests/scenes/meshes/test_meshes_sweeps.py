"""Swept planes of prisms and cones of spindles pass where the readings say, and lie over their stations."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from scenes.meshes.swept_plane import spindle_cone, sweeping_setups, swept_plane
from scenes.tracing.spots import aimed_azimuths, spots
from scenes.tracing.state import NOMINAL, RowState, changed
from scenes.tracing.sweep import state_at, sweep_frame, swept_cone, swept_points

NANOMETRE = 1e-9


def rows_of(plan, setup):
    return np.nonzero(plan.geometry.rows.setup == plan.geometry.rows.setups.index(setup))[0]


def test_only_what_sweeps_has_a_plane(lines, plan):
    assert sweeping_setups(lines.geometry) == ("square plane",)
    assert sweeping_setups(plan.geometry) == ("plane",)


def test_plane_of_a_prism_passes_through_every_spot(lines):
    """The sheet at the turn of a reading, at the distance of its spot, is that spot, whatever the errors."""
    geometry = lines.geometry
    rows, m = rows_of(lines, "square plane"), len(geometry.rows)
    frame = sweep_frame(geometry)
    rng = np.random.default_rng(5)
    count = 0
    while count < 1000:
        state = RowState(
            tilt_y=rng.normal(0, 1e-4, m), tilt_z=rng.normal(0, 1e-4, m), shift=rng.normal(0, 1e-4, m),
            prism_x=rng.normal(0, 1e-3, m), prism_y=rng.normal(0, 1e-4, m), prism_ry=rng.normal(0, 1e-3, m),
            mirror=rng.normal(0, 1e-5, m), pyramid=rng.normal(0, 1e-5, m), aim=rng.normal(0, 1e-3, m),
        )  # fmt: skip
        seen = spots(geometry, state)
        turn = np.broadcast_to(aimed_azimuths(geometry, state), (m,))
        outward = frame.outward(turn)
        radius = np.einsum("mi,mi->m", seen.hit - frame.origin, outward)
        for row in rows:
            sweep = swept_points(geometry, state, int(row), turn[row : row + 1], radius[row : row + 1])
            np.testing.assert_allclose(sweep.points[0, 0], seen.hit[row], atol=NANOMETRE)
            height = (seen.hit[row] - frame.origin[row]) @ frame.axis[row]
            assert sweep.height[0, 0] == pytest.approx(height, abs=NANOMETRE)
            count += 1


def test_an_error_of_the_mirrors_sweeps_a_cone(lines):
    """An angle between the mirrors too large by e turns the exit by 2 n e, so points at radius r stand off by r 2 n e.

    Source: any text on pentaprisms; the sign is the one of ``through_pentaprism``.
    """
    error = 20e-6
    state = RowState(mirror=np.array(error), gradient=np.array(-lines.geometry.gradient))
    mesh = swept_plane(lines.geometry, "square plane", state)
    row = rows_of(lines, "square plane")[0]
    frame = sweep_frame(lines.geometry)
    off = np.asarray(mesh.points) - frame.origin[row]
    height = off @ frame.axis[row]
    radius = np.linalg.norm(off - height[:, None] * frame.axis[row], axis=1)
    index = lines.geometry.noses.index[0]
    np.testing.assert_allclose(height, 2.0 * index * error * radius, atol=1e-6)  # to the shift inside the glass
    np.testing.assert_allclose(mesh.point_data["height [um]"], 1e6 * height, atol=1e-3)


def test_sheet_lies_over_its_stations_and_hardly_beyond(lines, plan):
    """Every detector stands on the sheet, and no point of it is farther out than 3 % beyond the farthest one."""
    for drawn, setup in ((lines, "square plane"), (plan, "plane")):
        geometry = drawn.geometry
        rows = rows_of(drawn, setup)
        level = RowState(gradient=np.array(-geometry.gradient))
        mesh = swept_plane(geometry, setup, level)
        frame = sweep_frame(geometry)
        centres = geometry.detector_centres()[rows]
        for centre in centres:
            away = np.linalg.norm(np.asarray(mesh.points) - centre, axis=1)
            assert away.min() < 0.25
        reach = np.linalg.norm(np.asarray(mesh.points) - frame.origin[rows[0]], axis=1)
        assert reach.max() <= 1.03 * np.linalg.norm(centres - frame.origin[rows[0]], axis=1).max() + 1e-6


def test_hull_of_stations_bounds_the_sheet(lines):
    """The sheet is as large as the hull of the stations and the prism, but for its hub and its margin."""
    rows = rows_of(lines, "square plane")
    geometry = lines.geometry
    frame = sweep_frame(geometry)
    off = geometry.detector_centres()[rows] - frame.origin[rows]
    x, y = np.einsum("ki,ki->k", off, frame.start[rows]), np.einsum("ki,ki->k", off, frame.aside[rows])
    area = ConvexHull(np.vstack([np.column_stack([x, y]), [0.0, 0.0]])).volume  # in a plane that is the area
    mesh = swept_plane(geometry, "square plane", RowState(gradient=np.array(-geometry.gradient)))
    assert mesh.area == pytest.approx(1.03**2 * area, rel=0.12)


def test_cone_of_a_spindle_opens_with_the_way(lines):
    """A beam that rises by e over its axis stands e times the way off it, at every turn of the spindle."""
    geometry = lines.geometry
    row = rows_of(lines, "in the spindle")[0]
    rise, turns, ways = 100e-6, np.linspace(0.0, 2.0 * np.pi, 25), np.array([0.5, 1.0, 2.0])
    still = RowState(gradient=np.array(-geometry.gradient))
    state = replace(still, cone=np.array(rise))
    sweep = swept_cone(geometry, state, int(row), turns, ways)
    np.testing.assert_allclose(sweep.height, np.broadcast_to(np.tan(rise) * ways, sweep.height.shape), rtol=1e-6)
    around = np.cross(sweep.points[:-1, -1] - sweep.origin, sweep.points[1:, -1] - sweep.origin) @ sweep.axis
    assert (around > 0.0).all()  # the beam goes round right-handed with the turn
    assert spindle_cone(geometry, "in the spindle", still).n_cells == 0
    mesh = spindle_cone(geometry, "in the spindle", state, factor=1000.0)
    off = np.asarray(mesh.points) - sweep.origin
    along = off @ sweep.axis
    np.testing.assert_allclose(
        np.linalg.norm(off - along[:, None] * sweep.axis, axis=1), 1000.0 * np.tan(rise) * along, atol=1e-6
    )


def test_states_of_plates_are_taken_by_row():
    """Fields of plates have one axis more; rows are picked from the one before it."""
    state = changed(NOMINAL, "wedge_h.2", np.array([1.0, 2.0, 3.0]))
    assert state.wedge_h.shape == (3, 12)
    picked = state_at(replace(state, cone=np.array([4.0, 5.0, 6.0])), np.array([2, 2, 0, 1]))
    np.testing.assert_array_equal(picked.wedge_h[:, 2], [3.0, 3.0, 1.0, 2.0])
    np.testing.assert_array_equal(picked.cone, [6.0, 6.0, 4.0, 5.0])
    shared = changed(NOMINAL, "wedge_h.2", 1.0)
    np.testing.assert_array_equal(state_at(shared, np.array([0, 0])).wedge_h, shared.wedge_h)
