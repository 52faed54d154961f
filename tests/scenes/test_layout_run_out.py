"""A roll that is turned past its target, from the layout file to the verdict."""

from __future__ import annotations

import numpy as np
import pytest

from scenes.checks.check import check_layout
from scenes.errors import InputError
from scenes.layout.read import read_layout
from scenes.model.truth import Truth
from scenes.reductions.survey import reduce_survey
from scenes.tracing.rows import planned_rows
from scenes.uncertainty.simulate import simulated

LAYOUT = """
layout: 1
machine:
  roll_1: {roll: {diameter: 300 mm, face: 2000 mm}, at: [0 m, 0 m, 1 m], axis: +x}
devices:
  laser: {emitter: block}
  t1: {target: two axes}
stations:
  run: {on: roll_1, at: [0.4 m, 1.6 m], target: t1, mount: {magnet: 60 mm}, turned: [0 deg, 90 deg, 180 deg, 270 deg]}
setups:
  along: {emitter: {use: laser, on: floor, at: [-2 m, 0 m, 0 mm], aim: +x, mount: {tripod: 1.235 m}}, reads: [run]}
tasks:
  turning: {run out: roll_1, limit: 150 um}
"""

FACE = """
layout: 1
machine:
  table: {face: {diameter: 500 mm, thickness: 60 mm}, at: [0 m, 0 m, 1.2 m], axis: +x}
devices: {laser: {emitter: block}, t1: {target: two axes}}
stations:
  run: {on: table, at: {A: [-200 mm, 0 mm], B: [-100 mm, 0 mm], C: [100 mm, 0 mm], D: [200 mm, 0 mm]},
    target: t1, mount: {magnet: 60 mm}, turned: [0 deg, 90 deg, 180 deg, 270 deg]}
setups:
  across: {emitter: {use: laser, on: floor, at: [130 mm, -1 m, 0 mm], aim: +y, mount: {tripod: 1.155 m}}, reads: [run]}
tasks:
  turning: {run out: table, total: true, limit: 60 um}
"""


def read(tmp_path, text=LAYOUT):
    path = tmp_path / "layout.yaml"
    path.write_text(text, encoding="utf-8")
    return read_layout(path)


def test_stations_are_read_at_every_turn(tmp_path):
    layout = read(tmp_path)
    assert list(layout.stations) == [f"run{i}@{turn}" for i in (1, 2) for turn in (0, 90, 180, 270)]
    assert layout.stations["run2@270"].turn == pytest.approx(1.5 * np.pi)
    at = [layout.stations[name].at for name in ("run1@0", "run1@90")]
    assert np.array_equal(*at)  # the target stays where it is
    seats = planned_rows(layout).seat
    assert len(np.unique(seats)) == 2  # each target is seated once and stays
    assert layout.groups["run@90"].stations == ("run1@90", "run2@90")


def test_from_the_file_to_the_verdict(tmp_path):
    layout = read(tmp_path)
    checked = check_layout(layout, np.random.default_rng(0))
    assert not checked.failed, [finding.message for finding in checked.findings]
    survey = reduce_survey(layout, simulated(layout, np.random.default_rng(3)).readings, trials=1000)
    assert not survey.failures
    (found,) = survey.measured
    assert [each.name for each in found.components if each.verdict is not None] == ["run1", "run2"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (", turned: [0 deg, 90 deg, 180 deg, 270 deg]", "", "none of its stations is read at several turns"),
        ("90 deg, 180 deg", "90 deg, 90 deg", "named twice"),
        (
            "roll: {diameter: 300 mm, face: 2000 mm}",
            "rail: {length: 2 m, width: 0.1 m, height: 0.1 m}",
            "is not turned",
        ),
        ("270 deg]}", "270 deg], positions: all}", "not at both"),
    ],
)
def test_what_does_not_fit_is_told(tmp_path, old, new, said):
    text = LAYOUT.replace(", axis: +x", "") if "rail" in new else LAYOUT
    with pytest.raises(InputError) as told:
        read(tmp_path, text.replace(old, new))
    assert said in str(told.value)


def test_a_target_that_goes_round_with_its_shaft_tells_of_the_axis_only(sheets):
    """The bore's targets are turned to clock positions: they see where the axis is, and the advice says so."""
    task = "\ntasks:\n"
    with pytest.raises(InputError, match="goes round with its shaft sees the light, not the surface"):
        sheets["bore"].read((task, f"{task}  turning: {{run out: barrel, limit: 50 um}}\n"))


def test_a_face_over_all_radii_from_the_file_to_the_verdict(tmp_path):
    """A face that leans by 100 um per m runs out by 40 um at its outer places; light and seats add their errors."""
    layout = read(tmp_path, FACE)
    checked = check_layout(layout, np.random.default_rng(0))
    assert not checked.findings, [finding.message for finding in checked.findings]
    truth = {
        name: 100e-6 * each.at[0] * np.cos(each.turn) + 100e-6 * each.at[1] * np.sin(each.turn)
        for name, each in layout.stations.items()
    }  # fmt: skip
    made = simulated(layout, np.random.default_rng(3), Truth(truth))
    (found,) = reduce_survey(layout, made.readings, trials=1000).measured
    total = next(each for each in found.components if each.name == "total")
    assert abs(total.value - 40e-6) <= total.expanded_uncertainty < 15e-6
    assert total.verdict is not None


def test_a_drawn_surface_turns_with_its_part(tmp_path):
    """Places on both sides of the axis see the same points half a turn apart, and the part runs out."""
    layout = read(tmp_path, FACE)
    up = simulated(layout, np.random.default_rng(8)).truth.up
    for near, far in (("A", "D"), ("B", "C")):
        turns = (0, 90, 180, 270)
        here, there = (np.array([up[f"{place}@{turn}"] for turn in turns]) for place in (near, far))
        np.testing.assert_allclose(here, np.roll(there, 2), atol=1e-15)
        assert np.ptp(here) > 1e-6
