"""The face of a detector: margins, outline and words of one reading."""

import numpy as np
import pytest

from scenes.checks.detector_view import SIDES, detector_view, rows_of_station
from scenes.checks.plan import traced_plan
from scenes.layout.read import read_layout
from scenes.tracing.sight import Sight
from scenes.tracing.spots import spots
from scenes.tracing.state import RowState

MICROMETRE = 1e-6
LIMIT = 40e-6

TEXT = """
layout: 1
title: Plate behind a column
machine:
  plate: {plate: {length: 2 m, width: 1 m, thickness: 100 mm}, at: [0 m, 0 m, 0.8 m]}
  column: {column: {length: 200 mm, width: 200 mm, height: 2 m}, at: [-1.6 m, 0.35 m, 0 m]}
devices:
  laser: {emitter: block, beam height: 48 mm}
  base: {rotary base: standard}
  t1: {target: two axes, window: [20 mm, 16 mm]}
stations:
  grid: {on: plate, grid: 3 x 3, margin: 50 mm, target: t1, mount: {post: 120 mm}}
setups:
  plane:
    emitter: {use: laser, on: floor, at: [-2.5 m, 0 m, 0 m], mount: {tripod: 0.85 m}}
    turned by: base
    level by: vial
    reads: [grid, again: [A1]]
tasks:
  flat: {flatness: plate, from: grid, reference: least squares, limit: 40 um}
"""


@pytest.fixture(scope="module")
def plan():
    return traced_plan(read_layout("plate.yaml", TEXT))


def test_rows_of_a_station(plan):
    rows = plan.geometry.rows
    np.testing.assert_array_equal(rows_of_station(plan, "A1"), [rows.stations.index("A1"), len(rows) - 1])
    np.testing.assert_array_equal(rows_of_station(plan, "A1", "plane"), rows_of_station(plan, "A1"))
    assert len(rows_of_station(plan, "A1", "other")) == 0
    assert len(rows_of_station(plan, "Z9")) == 0


def test_margins_count_from_the_spot_to_the_edge(plan):
    """The beam stands 3 mm over the detectors: 993 mm against 800 + 120 + 70 mm."""
    view = detector_view(plan, int(rows_of_station(plan, "B3")[0]))
    assert (view.setup, view.station, view.target, view.arrives) == ("plane", "B3", "t1", True)
    np.testing.assert_allclose(view.spot, [0.0, 3e-3], atol=MICROMETRE)
    radius = plan.spots.radius[rows_of_station(plan, "B3")[0]]
    np.testing.assert_allclose(view.usable, [10e-3 - radius, 8e-3 - radius])
    expected = {
        "left": 10e-3 - radius, "right": 10e-3 - radius, "below": 8e-3 - radius + 3e-3, "above": 8e-3 - radius - 3e-3
    }  # fmt: skip
    np.testing.assert_allclose(view.margin, [expected[side] for side in SIDES], atol=MICROMETRE)
    assert view.travel == pytest.approx(LIMIT)
    assert view.least_margin == pytest.approx(expected["above"] - LIMIT, abs=MICROMETRE)
    np.testing.assert_array_equal(view.tells, [False, True])
    np.testing.assert_allclose(view.mount_up, [0.0, 1.0], atol=1e-12)


def test_outline_is_the_beam_cut_by_the_detector(plan):
    """Every point of the outline is as far from the beam's axis as the beam is wide, also at a slant."""
    row = int(rows_of_station(plan, "B2")[0])
    geometry = plan.geometry
    for swing in (0.0, 0.5):
        seen = spots(geometry, RowState(swing=np.array(swing)))
        view = detector_view(plan, row, seen)
        pitch, yaw = view.angles
        assert abs(yaw) == pytest.approx(swing, abs=1e-9)
        along = np.array([np.tan(yaw), np.tan(pitch), 1.0])
        along /= np.linalg.norm(along)
        off = np.column_stack([view.outline - view.spot, np.zeros(len(view.outline))])
        np.testing.assert_allclose(np.linalg.norm(np.cross(off, along), axis=1), view.radius, rtol=1e-9)
        assert np.ptp(view.outline[:, 0]) == pytest.approx(2.0 * view.radius / np.cos(swing), rel=1e-3)
        assert view.incidence == pytest.approx(swing, abs=1e-3)


def test_a_hidden_detector_gets_no_light(plan):
    hidden = np.nonzero(plan.sight.sight == Sight.BLOCKED)[0]
    assert len(hidden)
    view = detector_view(plan, int(hidden[0]))
    assert not view.arrives
    assert view.by == "column"
    clear = detector_view(plan, int(np.nonzero(plan.sight.sight == Sight.CLEAR)[0][0]))
    assert clear.arrives
    assert clear.by == ""
