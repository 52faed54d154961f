"""Each check finds what it is for, names the place, and says nothing about a sound plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.checks.check import check_layout
from scenes.checks.codes import CODES
from scenes.frames import Pose
from scenes.layout.read import read_layout
from scenes.model.finding import Severity
from scenes.model.machine import Column
from scenes.model.survey import LevelBy
from scenes.vectors import rotation_from_vector


def found(layout):
    return check_layout(layout, np.random.default_rng(0)).findings


def codes(layout):
    return {finding.code for finding in found(layout)}


@pytest.fixture
def parts(bench):
    layout = bench.layout()
    setup = layout.setups["plane"]
    return layout, setup, layout.targets["t1"], layout.emitters["laser"], layout.bases["base"]


def test_a_sound_plan_has_no_findings(bench):
    result = check_layout(bench.layout(), np.random.default_rng(0))
    assert result.findings == ()
    assert not result.failed
    prediction = result.predictions[0]
    assert 0.0 < prediction.station_u.max() < 20e-6
    assert prediction.empty_value < prediction.provable < prediction.task.limit
    assert [u for _, u in prediction.budget] == sorted((u for _, u in prediction.budget), reverse=True)


def test_all_findings_are_listed_codes(bench):
    layout = bench.layout(stands={"plane": (-60.0, 0.2)})
    assert codes(layout) <= set(CODES)
    assert codes(layout)


def test_blocked_names_station_and_obstacle_and_moving_the_column_clears_it(bench):
    column = Column(0.2, 0.2, 3.0)
    there = found(bench.layout(obstacles={"pillar": ((-1.8, 0.2, 0.0), column)}))
    assert {finding.code for finding in there} >= {"blocked"}
    assert all("pillar (line 4)" in finding.message for finding in there if finding.code == "blocked")
    assert codes(bench.layout(obstacles={"pillar": ((3.0, 3.0, 0.0), column)})) == set()


def test_range(bench, parts):
    _, _, _, emitter, _ = parts
    assert "too-far" in codes(bench.layout(emitter=replace(emitter, farthest=3.0)))
    assert "too-near" in codes(bench.layout(emitter=replace(emitter, nearest=1.5)))
    far = next(f for f in found(bench.layout(emitter=replace(emitter, farthest=3.0))))
    assert far.severity is Severity.ERROR
    assert "3000 mm" in far.message


def test_off_window_says_by_how_much_to_move_the_tripod(bench, parts):
    _, setup, _, _, _ = parts
    high = bench.layout(tripod=replace(setup.mount, height=0.92))
    (finding,) = (f for f in found(high) if f.severity is Severity.ERROR)
    assert (finding.code, finding.kind) == ("off-window", "set-up")
    assert "lower the tripod by 20.0 mm to 900.0 mm" in finding.advice
    mended = bench.layout(tripod=replace(setup.mount, height=0.90))
    assert codes(mended) == set()


def test_off_window_beyond_the_travel_of_the_tripod_turns_to_the_posts(bench, parts):
    _, setup, _, _, _ = parts
    stuck = replace(setup.mount, height=0.92, lowest=0.92)
    there = [f for f in found(bench.layout(tripod=stuck)) if f.severity is Severity.ERROR]
    assert [(finding.code, finding.kind) for finding in there] == [("off-window", "set-up")]
    assert "35 stations are off by the same" in there[0].message
    assert there[0].advice == "raise the post by 20.0 mm to 140.0 mm"
    raised = replace(bench.layout().stations["A1"].mount, height=0.14)
    assert codes(bench.layout(tripod=stuck, mount=raised)) == set()
    post = replace(bench.layout().stations["A1"].mount, highest=0.13)
    neither = found(bench.layout(tripod=stuck, mount=post))
    assert "the post goes from 60 mm to 130 mm, not to 140.0 mm" in neither[0].advice
    assert "lower the emitter by 20.0 mm" in neither[0].advice


def test_the_window_must_hold_the_limit_too(bench, parts):
    """A spot that is just on the detector is not enough: the surface may move it by the limit of the task."""
    _, setup, target, _, _ = parts
    usable = 0.5 * target.window_v - 2.01e-3
    edge = replace(setup.mount, height=0.90 + usable - 100e-6)
    assert "off-window" not in codes(bench.layout(tripod=edge, limit=60e-6))
    assert "off-window" in codes(bench.layout(tripod=edge, limit=300e-6))
    assert "near-edge" in codes(bench.layout(tripod=edge, limit=60e-6))


def test_spot_size(bench, parts):
    _, _, target, _, _ = parts
    assert "spot-too-large" in codes(bench.layout(target=replace(target, largest_spot=1.5e-3)))


def test_equal_radii_are_a_note_and_leave_the_task_open_only_where_the_cone_is_asked_for(bench):
    angle = np.linspace(0.0, 2.0 * np.pi, 9, endpoint=False)
    places = {f"P{i}": (0.8 * float(np.cos(a)), 0.8 * float(np.sin(a))) for i, a in enumerate(angle)}
    stand = {"middle": (0.0, 0.0)}
    calm = found(bench.layout(places=places, stands=stand))
    notes = [finding for finding in calm if finding.code == "equal-radii"]
    assert [finding.severity for finding in notes] == [Severity.NOTE]
    asked = found(bench.layout(places=places, stands=stand, fitted=("cone",)))
    assert [f.code for f in asked if f.severity is Severity.ERROR] == ["task-open"]
    assert "task-open" not in {f.code for f in calm}
    assert "equal-radii" not in codes(bench.layout())


def test_stations_outside_their_surface(tmp_path):
    text = """
layout: 1
machine: {bed: {plate: {length: 2 m, width: 1 m, thickness: 100 mm}, at: [0 m, 0 m, 0.85 m]}}
devices: {laser: {emitter: block}, base: {rotary base: standard}, t1: {target: two axes}}
stations:
  grid: {on: bed, at: {P1: [-0.9 m, -0.4 m], P2: [0.9 m, -0.4 m], P3: [0 m, 0.4 m], P4: [1.01 m, 0 m]},
         target: t1, mount: {post: 120 mm}}
setups: {plane: {emitter: {use: laser, on: floor, at: [-2 m, 0 m, 0 m], mount: {tripod: 0.9 m}}, turned by: base,
         level by: three points, reads: [grid]}}
tasks: {flat: {flatness: bed, from: grid, limit: 100 um}}
"""
    (finding,) = (f for f in found(read_layout(tmp_path / "l.yaml", text)) if f.code == "off-surface")
    assert (finding.name, finding.severity, finding.line) == ("P4", Severity.ERROR, 6)
    assert "10.0 mm outside bed" in finding.message


def test_mounts_and_base_within_their_travel(bench, parts):
    _, setup, _, _, base = parts
    assert "mount-height" in codes(bench.layout(tripod=replace(setup.mount, lowest=0.95)))
    tilted = Pose(rotation_from_vector(np.array([0.0, 0.03, 0.0])), np.array([0.0, 0.0, 0.85]))
    assert "base-tilt" in codes(bench.layout(pose=tilted))
    assert "base-tilt" not in codes(bench.layout(pose=tilted, base=replace(base, tilt_range=0.04)))


def test_a_setup_that_cannot_be_levelled_is_said_in_words(bench):
    places = {f"P{i}": (0.2 * i, 0.1 * i) for i in range(6)}
    result = check_layout(bench.layout(places=places), np.random.default_rng(0))
    assert result.plan is None
    (finding,) = (f for f in result.findings if f.code == "level-without-reference")
    assert "one line" in finding.message
    assert finding.name == "plane"


def test_a_vial_levels_to_gravity_and_pads_to_the_machine(bench):
    tilted = Pose(rotation_from_vector(np.array([0.0, 0.01, 0.0])), np.array([0.0, 0.0, 0.85]))
    by_pads, by_vial = bench.layout(pose=tilted), bench.layout(pose=tilted, level_by=LevelBy.VIAL)
    pads = check_layout(by_pads, np.random.default_rng(0)).plan
    vial = check_layout(by_vial, np.random.default_rng(0)).plan
    assert np.allclose(pads.geometry.launch_rotation[0][:, 2], tilted.rotation[:, 2], atol=1e-12)
    assert np.allclose(vial.geometry.launch_rotation[0][:, 2], [0.0, 0.0, 1.0])
    assert np.ptp(pads.spots.v) < 1e-9 < 10e-3 < np.ptp(vial.spots.v)


def test_stations_that_nothing_reads(bench):
    names = tuple(bench.layout().stations)
    layout = bench.layout(reads={"plane": names[:20]})
    (finding,) = (f for f in found(layout) if f.code == "not-read")
    assert names[20] in finding.message
    assert "and 7 more" in finding.message


def test_a_limit_below_what_the_plan_can_prove(bench):
    (finding,) = found(bench.layout(limit=10e-6))
    assert finding.code == "limit-too-tight"
    assert finding.severity is Severity.WARNING
    assert "largest error source" in finding.advice
