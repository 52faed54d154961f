"""Base lines: what lies beyond near and far, emitters off their line, stages beyond their travel, slanted beams."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from scenes.frames import Pose
from scenes.model.finding import Severity
from scenes.model.machine import Plate, Surface
from scenes.model.survey import LevelBy, PrismUse, Stop
from scenes.vectors import rotation_from_vector


def ends(hall, near, far):
    """Near and far targets that stand in the beam by themselves."""
    return [hall.station(name, x, 0.0, is_datum=True) for name, x in (("near", near), ("far", far))]


def with_ends(hall, stations, near, far, **more):
    marks = ends(hall, near, far)
    setup = hall.line(["near", "far", *(each.name for each in stations)], near="near", far="far", **more)
    return [*marks, *stations], setup


def test_a_datum_is_extrapolated_by_the_factor_that_is_said(hall, said):
    """Ends at -4.5 m and 0 m, a station at 4 m: t = 8.5 / 4.5, and sqrt((1 - t)^2 + t^2) = 2.09."""
    stations, setup = with_ends(hall, hall.row(), -4.5, 0.0)
    finding = said(hall.layout(stations, setup)).one("datum-extrapolated")
    assert finding.severity is Severity.WARNING
    share = 8.5 / 4.5
    assert "P5 stands 4000 mm beyond far" in finding.message
    assert f"{np.hypot(1.0 - share, share):.1f} times as large there; 2 stations" in finding.message
    assert finding.advice == "stand far at 9000 mm or more along the beam"
    wide, mended = with_ends(hall, hall.row(), -4.5, -5.0 + 9.0)
    assert said(hall.layout(wide, mended)).codes == set()


def test_the_factor_is_that_of_the_line_through_both_ends():
    """Ends with errors of one size and no more: the line at the share t of the way is off as the check says."""
    rng = np.random.default_rng(3)
    error = rng.standard_normal((200_000, 2))
    share = 8.5 / 4.5
    at = (1.0 - share) * error[:, 0] + share * error[:, 1]
    assert at.std() == pytest.approx(np.hypot(1.0 - share, share), rel=0.01)


def test_stations_before_near_count_too(hall, said):
    stations, setup = with_ends(hall, hall.row(), -2.0, 4.5)
    finding = said(hall.layout(stations, setup)).one("datum-extrapolated")
    assert "P1 stands 2000 mm before near" in finding.message
    assert finding.advice == "stand near at 1000 mm or less along the beam"
    wide, mended = with_ends(hall, hall.row(), -5.0 + 1.0, 4.5)
    assert said(hall.layout(wide, mended)).codes == set()


def test_stops_of_a_prism_count_where_the_prism_stands(hall, said):
    """Stations across the beam: the prism is at 5 m, the far target at 4 m, then at 5 m."""
    across = hall.across()
    names = [station.name for station in across]
    use = PrismUse("nose", (Stop("here", 5.0, tuple(names)),), -0.5 * np.pi)
    setup = hall.line(["near", "far", *names], near="near", far="far", prism=use)
    finding = said(hall.layout([*ends(hall, -4.5, -1.0), *across], setup)).one("datum-extrapolated")
    assert "the prism at here (for Q1) stands 1000 mm beyond far" in finding.message
    assert finding.advice == "stand far at 5000 mm or more along the beam"
    assert said(hall.layout([*ends(hall, -4.5, 0.0), *across], setup)).codes == set()
    both_ways = replace(setup, reversed=True)
    assert "datum-extrapolated" in said(hall.layout([*ends(hall, -4.5, -1.0), *across], both_ways)).codes
    assert said(hall.layout([*ends(hall, -4.5, 0.5), *across], both_ways)).codes == set()


def test_stations_as_ends(hall, said):
    stations = hall.row()
    setup = hall.line([each.name for each in stations], near="P1", far="P4", aim=None)
    finding = said(hall.layout(stations, setup)).one("datum-extrapolated")
    assert "P5 stands 2000 mm beyond P4" in finding.message
    assert finding.advice == "take a far station at 9000 mm or more along the beam"
    assert said(hall.layout(stations, replace(setup, far="P5"))).codes == set()


@pytest.mark.parametrize("off", [(0.0, 0.0, 9e-3), (0.0, -8e-3, 0.0), (0.0, 7e-3, -20e-3)])
def test_a_stage_that_cannot_shift_so_far(hall, said, moved_as_said, off):
    stations = hall.row()
    setup = hall.line(
        [each.name for each in stations], at=np.array([-5.0, 0.0, 0.0]) + off, near="P1", far="P5", aim=None,
        stage="stage",
    )  # fmt: skip
    found = said(hall.layout(stations, setup))
    finding = found.one("stage-range")
    assert finding.severity is Severity.ERROR
    assert "stage shifts it by 6.0 mm either way" in finding.message
    for by, words in ((off[2], ("below", "above")), (off[1], ("to the right of", "to the left of"))):
        assert (f"{1e3 * abs(by):.1f} mm {words[by < 0.0]}" in finding.message) is (by != 0.0)
    assert found.codes == {"stage-range"}
    assert said(hall.layout(stations, moved_as_said(setup, finding.advice))).codes == set()


def test_a_stage_takes_a_small_shift(hall, said):
    stations = hall.row()
    names = [each.name for each in stations]
    setup = hall.line(names, at=(-5.0, 4e-3, 5e-3), near="P1", far="P5", aim=None, stage="stage")
    assert said(hall.layout(stations, setup)).codes == set()


def test_a_stage_that_cannot_tilt_so_far(hall, said):
    """Near on a low, far on a high post: the line rises by 20 mm/m, 1.146 deg, against 1 deg of the stage."""
    stations = [
        replace(each, mount=replace(each.mount, height=0.12 + 0.02 * (each.at[0] + 4.0))) for each in hall.row()
    ]  # fmt: skip
    names = [each.name for each in stations]
    setup = hall.line(names, at=(-5.0, 0.0, -0.02), near="P1", far="P5", aim=None, stage="stage")
    finding = said(hall.layout(stations, setup)).one("stage-range")
    assert f"{np.degrees(np.arctan(0.02)):.3f} deg off" in finding.message
    more = float(re.search(r"by (\d\.\d+) deg or more", finding.advice)[1])
    assert more == pytest.approx(np.degrees(np.arctan(0.02) - hall.stage.tilt_range), abs=1e-3)
    able = {"stage": replace(hall.stage, tilt_range=hall.stage.tilt_range + np.radians(more + 1e-3))}
    assert said(hall.layout(stations, setup, stages=able)).codes == set()


def test_an_aim_off_the_line_is_corrected_as_said(hall, said, moved_as_said):
    stations = hall.row()
    aim = np.array([1.0, 0.03, 0.0]) / np.hypot(1.0, 0.03)
    setup = hall.line([each.name for each in stations], near="P1", far="P5", aim=aim, stage="stage")
    finding = said(hall.layout(stations, setup)).one("stage-range")
    assert "1.718 deg off" in finding.message
    assert said(hall.layout(stations, moved_as_said(setup, finding.advice))).codes == set()


def test_an_emitter_without_a_stage_off_its_line(hall, said, moved_as_said):
    stations = hall.row()
    setup = hall.line([each.name for each in stations], at=(-5.0, 0.0, 15e-3), near="P1", far="P5", aim=None)
    finding = said(hall.layout(stations, setup)).one("emitter-off-line")
    assert finding.severity is Severity.WARNING
    assert "15.0 mm below" in finding.message
    assert said(hall.layout(stations, moved_as_said(setup, finding.advice))).codes == set()


def leaning(hall, lean, **parts):
    """A plane levelled by a vial over a small ramp that leans by ``lean``."""
    pose = Pose(rotation_from_vector(np.array([0.0, -lean, 0.0])), np.array([-2.0, 0.0, 0.5]))
    ramp = Surface("ramp", Plate(0.4, 2.0, 0.1), pose, "floor", "", 5)
    grid = [
        replace(hall.station(f"G{i}{j}", -0.09 + 0.06 * i, -0.9 + 0.9 * j), surface="ramp")
        for i in range(4) for j in range(3)
    ]  # fmt: skip
    setup = hall.plane([each.name for each in grid], level_by=LevelBy.VIAL, vial="vial", reversed=True)
    return hall.layout(grid, setup, surfaces=[ramp], **parts), setup


def test_a_beam_at_a_slant_to_its_detectors(hall, said, moved_as_said):
    """A ramp that leans by 2 deg, targets that read up to 1.5 deg: the plane has to follow the ramp."""
    narrow = replace(hall.target, angular_range=np.radians(1.5))
    able = {"base": replace(hall.base, tilt_range=0.04)}
    layout, setup = leaning(hall, np.radians(2.0), targets=[narrow], bases=able)
    found = said(layout)
    finding = found.one("angular-range")
    assert finding.severity is Severity.ERROR
    slant = float(re.search(r"comes to G\d\d (\d\.\d+) deg off the normal", finding.message)[1])
    assert slant == pytest.approx(2.0, abs=0.01)  # along the lean; a little less across it
    assert "t1 reads up to 1.500 deg" in finding.message
    assert finding.advice.startswith("level by: best fit, so that the plane follows the surface, and lower the tripod")
    assert found.codes == {"angular-range"}
    mended = replace(moved_as_said(setup, finding.advice), level_by=LevelBy.BEST_FIT, reversed=False)
    assert said(replace(layout, setups={"plane": mended})).codes == set()


def test_a_base_that_cannot_follow_leaves_the_targets_to_be_turned(hall, said):
    narrow = replace(hall.target, angular_range=np.radians(1.5))
    layout, _ = leaning(hall, np.radians(2.0), targets=[narrow])  # the base tilts by 0.02 rad = 1.15 deg
    advice = said(layout).one("angular-range").advice
    least = float(re.search(r"turn the mount of the target by (\d\.\d+) deg or more", advice)[1])
    assert least == pytest.approx(0.5, abs=0.01)
    enough = replace(narrow, angular_range=np.radians(1.5 + least + 1e-3))
    assert said(leaning(hall, np.radians(2.0), targets=[enough])[0]).codes == set()


def test_a_base_tilted_too_far_says_which_way_to_lean_its_mount(hall, said):
    layout, setup = leaning(hall, np.radians(2.0))
    finding = said(replace(layout, setups={"plane": replace(setup, level_by=LevelBy.BEST_FIT, reversed=False)}))
    finding = finding.one("base-tilt")
    assert "2.00 deg; its screws allow 1.15 deg" in finding.message
    assert "by 0.86 deg or more, mostly toward -x" in finding.advice  # the ramp rises toward +x


def test_a_target_that_cannot_tell_so_large_an_angle(hall, said, moved_as_said):
    """A line that rises by 3 mm/m past a target that tells angles up to 2.5 mrad; 10 deg are no matter for its spot."""
    stepper = replace(hall.target, reads_angles=True, angle_window=2.5e-3, angle_resolution=1e-6)
    stations = hall.row(2, -4.5, 0.5)
    aim = np.array([1.0, 0.0, 3e-3]) / np.hypot(1.0, 3e-3)
    setup = hall.line([each.name for each in stations], aim=aim)
    found = said(hall.layout(stations, setup, targets=[stepper]))
    finding = found.one("angle-window")
    assert finding.severity is Severity.ERROR
    assert "0.172 deg, up; it tells angles up to 0.143 deg" in finding.message
    assert said(hall.layout(stations, moved_as_said(setup, finding.advice), targets=[stepper])).codes == set()
    able = replace(stepper, angle_window=3.1e-3)
    assert said(hall.layout(stations, setup, targets=[able])).codes == set()
