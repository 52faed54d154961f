"""``datumray aim`` as a person uses it."""

from __future__ import annotations

import json
import math
import re
import shlex
from pathlib import Path

import pytest

from viewer.commands.main import run

ROOT = Path(__file__).parents[2]
CASE = {
    "--near": "1.2 m", "--far": "5.2 m", "--pivot": "0.2 m",
    "--near-reading": "0.120 mm, -0.030 mm", "--far-reading": "0.420 mm, -0.080 mm",
}  # fmt: skip


@pytest.fixture
def aim(monkeypatch, capsys):
    """Call the command in this process with changed options: exit code, standard output, standard error."""

    def call(*flags: str, without: tuple[str, ...] = (), **changes: str) -> tuple[int, str, str]:
        options = {**CASE, **{f"--{name.replace('_', '-')}": text for name, text in changes.items()}}
        typed = [part for name, text in options.items() if name not in without for part in (name, text)]
        monkeypatch.setattr("sys.argv", ["datumray", "aim", *typed, *flags])
        code = 0
        try:
            run()
        except SystemExit as end:
            code = end.code or 0
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, " ".join(out.split()), err

    return call


def test_it_tells_where_the_beam_stands_and_what_to_set(aim):
    """Worked by hand: (420 - 120) / 4 = 75 um/m right; at the pivot 120 - 75 = 45 um; and a fifth each round."""
    code, out, err = aim(screw_pitch="0.5 mm", lever="120 mm", reading_known_to="2 um", within="5 um")
    assert (code, err) == (0, "")
    assert "near, 1.000 m from the pivot: 120.0 um right, 30.0 um low (U = 4.0 um)" in out
    assert "angle: 75.0 um/m to the right, 12.5 um/m down (U = 1.4 um/m)" in out  # 2 * 2 sqrt(2) / 4
    assert "at the pivot: 45.0 um right, 17.5 um low (U = 5.1 um)" in out  # 4 sqrt(5^2 + 1^2) / 4
    assert "tilt the beam 75.0 um/m to the left (0.018 turns), 12.5 um/m up (0.003 turns)" in out  # 120 * 75e-6 / 0.5
    assert "shift it 45.0 um to the left (0.090 turns), 17.5 um up (0.035 turns)" in out
    assert "1. tilt until far reads h +45.0, v -17.5 um +45.0 -17.5 +45.0 -17.5" in out
    assert "2. shift until near reads h 0.0, v 0.0 um 0.0 0.0 0.0 0.0" in out
    assert "each leaves 20 %; 3 rounds to within 5.0 um" in out
    assert "2. tilt until far reads h 0.0, v 0.0 um -60.0 +10.0 0.0 0.0" in out
    assert "0.25 of what it was off past home" in out
    assert "never look into the beam" in out


def test_json_says_the_same_with_units(aim, tmp_path):
    code, out, _ = aim("--json", "-", screw_pitch="0.5 mm", reading_known_to="2 um", unit="mm", angle_unit="arcsec")
    document = json.loads(out)
    assert code == 0
    assert document["format"] == 1
    arcsec = 180.0 * 3600.0 / math.pi
    angle = document["angle"]
    assert angle["unit"] == "arcsec"
    assert angle["yaw"] == pytest.approx(math.atan(75e-6) * arcsec)
    assert angle["pitch"] == pytest.approx(-math.atan(12.5e-6) * arcsec)
    assert angle["standard_uncertainty"]["yaw"] == pytest.approx(2e-6 * math.sqrt(2.0) / 4.0 * arcsec)
    assert document["setting"]["shift"] == {"h": pytest.approx(-0.045), "v": pytest.approx(0.0175), "unit": "mm"}
    assert document["setting"]["shift_turns"]["h"] == pytest.approx(-0.09)
    assert document["setting"]["tilt_turns"] is None
    assert document["targets"][1]["off"] == {"h": pytest.approx(0.42), "v": pytest.approx(-0.08), "unit": "mm"}
    past = document["overshoot"]["steps"][1]
    assert (past["move"], past["watch"]) == ("tilt", "far")
    assert past["until"] == {"h": pytest.approx(0.045), "v": pytest.approx(-0.0175), "unit": "mm"}
    assert document["rounds"]["share_left_by_each"] == pytest.approx(0.2)
    assert document["rounds"]["needed"] == len([s for s in document["rounds"]["steps"] if s["move"] == "tilt"])
    code, said, _ = aim("--json", str(tmp_path / "aim.json"), screw_pitch="0.5 mm", reading_known_to="2 um", unit="mm",
                        angle_unit="arcsec")  # fmt: skip
    assert json.loads((tmp_path / "aim.json").read_text()) == document
    assert "Where the beam stands" in said


@pytest.mark.parametrize(
    ("near", "far"),
    [
        ("120 um, -30 um", "420um,-80um"),
        ("0,120 mm, -0,030 mm", "0,42 mm; -0,08 mm"),
        ("0.12 mm , -30 um", "0.042 cm,-8e-2 mm"),
    ],
)
def test_pairs_are_read_in_every_usual_spelling(aim, near, far):
    targets = json.loads(aim("--json", "-", near_reading=near, far_reading=far)[1])["targets"]
    assert [(each["reading"]["h"], each["reading"]["v"]) for each in targets] == [(120.0, -30.0), (420.0, -80.0)]


def test_zeros_and_wanted_readings_move_the_datum_line(aim):
    """Readings, zeros and wanted readings that leave the same error ask for the same setting."""
    plain = json.loads(aim("--json", "-")[1])
    other = json.loads(aim("--json", "-", near_reading="0.135 mm, -0.030 mm", near_zero="10 um, 0 um",
                           wanted_near="5 um, 0 um", far_reading="0.420 mm, -0.110 mm",
                           wanted_far="0 um, -30 um")[1])  # fmt: skip
    for key in ("shift", "tilt"):
        for part, value in plain["setting"][key].items():
            assert other["setting"][key][part] == (value if part == "unit" else pytest.approx(value, abs=1e-9))
    assert other["overshoot"]["steps"][1]["until"]["v"] == pytest.approx(-17.5 - 30.0)
    assert other["overshoot"]["steps"][-1]["near"]["h"] == pytest.approx(15.0, abs=1e-2)


def test_a_moved_target_knows_the_angle_better(aim):
    own = json.loads(aim("--json", "-", zero_known_to="2.5 um")[1])["angle"]["standard_uncertainty"]["yaw"]
    moved = json.loads(aim("--json", "-", "--same-target", zero_known_to="2.5 um")[1])["angle"]
    assert own == pytest.approx(2.5 * math.sqrt(2.0) / 4.0, rel=1e-6)
    assert moved["standard_uncertainty"]["yaw"] == pytest.approx(0.0, abs=1e-9)


def test_what_the_stage_cannot_do_is_told_with_the_way_out(aim):
    code, out, _ = aim(shift_range="40 um", tilt_range="50 um/m", window="1 mm, 1 mm")
    assert code == 0
    assert "it would shift 45.0 um to the left, and has 40.0 um either way" in out
    assert "move its stand by about 45.0 um to the left, clamp" in out
    assert "it would tilt 75.0 um/m to the left, and has 50.0 um/m either way" in out
    assert "turn its stand until the beam swings by about 75.0 um/m to the left" in out
    assert "moves the spot 90 um either way at near and 290 um at far" in out
    assert "leaves its detector" not in out
    enough = aim(shift_range="1 mm", tilt_range="1 deg")[1]
    assert "does not reach" not in enough
    assert "taken to stand in the middle of its travel" in enough


def test_spots_that_would_leave_the_detector_are_told(aim):
    assert "lies outside its detector as the beam stands now" in aim(window="0.5 mm, 0.5 mm")[1]
    out = aim(window="6 mm, 6 mm", near="8 m", far="10 m", near_reading="0 mm, 0 mm", far_reading="2 mm, 0 mm")[1]
    assert "In the one round a spot leaves its detector" in out  # 7.8 mm past home at a pivot 7.8 m away


def test_a_beam_that_is_home_is_left_alone(aim):
    out = aim(near_reading="0.3 um, 0 um", far_reading="0 um, -0.4 um")[1]
    assert "Nothing to set" in out
    assert "tilt until" not in out


def test_what_the_readings_cannot_tell_is_said(aim):
    out = aim(near_reading="3 um, 0 um", far_reading="-2 um, 1 um", reading_known_to="2 um")[1]
    assert "Neither reading nor the angle is off by more than its own U" in out
    assert "no better than their U of 4.0 um" in aim(reading_known_to="2 um")[1]
    assert "no uncertainty is stated" in aim()[1]


def test_the_pivot_decides_which_target_to_shift_by(aim):
    """Beyond far, the far target is the nearer to the pivot; midway, rounds swing for ever and the one round closes."""
    assert "1. shift until far reads" in aim(pivot="6.2 m")[1]
    midway = aim(pivot="3.2 m")[1]
    assert "rounds of shift and tilt: never closes" in midway
    assert "midway between the targets" in midway
    between = aim(pivot="2.0 m")[1]
    assert "each leaves 25 %, on the other side" in between
    assert "0.2 of what it was off short of home" in between


def test_other_units_are_shown_readably(aim):
    out = aim(unit="thou", angle_unit="mm/m")[1]
    assert "near, 39.4 in from the pivot: 4.72 thou right" in out
    assert "angle: 0.0750 mm/m to the right" in out


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"near": "1.2"}, "--near: the number 1.2 has no unit"),
        ({"near": "5.2 m"}, "two readings of one place tell where the beam is but not where it goes"),
        ({"near_reading": "0.12 mm"}, "--near-reading: two lengths, each with its unit"),
        ({"near_reading": "0.12, -0.03 mm"}, "--near-reading: two lengths, each with its unit"),
        ({"near_reading": "0.12 mm, 0.1 mm, 2 mm"}, "--near-reading: two lengths, each with its unit"),
        ({"far_reading": "0.12 mm, -0.03 kg"}, "--far-reading: 'kg' is not a unit of length"),
        ({"far_reading": "0.12 mm, up"}, "--far-reading: a length with its unit is expected"),
        ({"near": "1e9 m"}, "--near: 1e9 m is beyond anything"),
        ({"far_reading": "3 m, 0 m"}, "turn the emitter by hand"),
        ({"screw_pitch": "0 mm"}, "--screw-pitch: 0 mm is not more than zero"),
        ({"reading_known_to": "-2 um"}, "--reading-known-to: -2 um is not more than zero"),
        ({"tilt_range": "2 mm"}, "--tilt-range: 'mm' is not a unit of angle"),
        ({"window": "20 mm, 0 mm"}, "--window: 20 mm, 0 mm is not more than zero"),
        ({"within": "1 nm"}, "--within: 1 nm is finer than any target reads"),
        ({"lever": "120 mm"}, "--lever: turns cannot be told from the lever alone"),
        ({"unit": "furlong"}, "--unit: 'furlong' is not a known unit"),
        ({"angle_unit": "um"}, "--angle-unit: 'um' is not a unit of angle"),
    ],
)
def test_bad_input_is_one_clear_error(aim, changes, said):
    code, out, err = aim(**changes)
    assert (code, out) == (2, "")
    assert err.startswith("datumray: ")
    assert said in err
    assert len(err.strip().splitlines()) <= 2


def test_all_that_is_wrong_is_told_at_once(aim):
    code, _, err = aim("--same-target", near="1.2", unit="x")
    assert code == 2
    assert err.startswith("datumray: 3 problems")
    assert all(option in err for option in ("--near", "--unit", "--same-target"))


def test_a_missing_reading_is_asked_for(aim):
    code, out, err = aim(without=("--far-reading",))
    assert (code, out) == (2, "")
    assert "--far-reading" in err


LAYOUT = """
layout: 1
units: {deviation: mm, angle: arcsec}
air: {gradient: 2 K/m}
machine:
  bed: {plate: {length: 8 m, width: 1 m, thickness: 0.3 m}, at: [0 m, 0 m, 0.8 m]}
devices:
  laser: {emitter: block}
  base: {rotary base: fine}
  t1: {target: two axes, zero: [10 um, -5 um]}
  t2: {target: two axes}
stations:
  line: {on: bed, at: {A: [-2.5 m, 0 m], B: [0 m, 0 m], C: [2.5 m, 0 m]}, target: t1, mount: {post: 35 mm}}
  other: {on: bed, at: {D: [0 m, 0.3 m], E: [1 m, 0.3 m], F: [0 m, -0.3 m]}, target: t2, mount: {post: 300 mm}}
setups:
  along:
    emitter: {use: laser, on: bed, at: [-3.5 m, 0 m, 0 m], mount: {stage: four axes}}
    near: A
    far: C
    reads: [line]
  free:
    emitter: {use: laser, on: bed, at: [-3.5 m, 0 m, 0.06 m], aim: +x}
    reads: [line]
  plane:
    emitter: {use: laser, on: floor, at: [0 m, -2 m, 0 m], mount: {tripod: 1.0 m}}
    turned by: base
    reads: [other]
"""
OF_LAYOUT = ("--near", "--far", "--pivot")


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "bed.yaml"
    path.write_text(LAYOUT, encoding="utf-8")
    return str(path)


def test_a_layout_tells_distances_stage_zeros_and_wanted_readings(aim, layout):
    """1 m and 6 m from the emitter; the beam drops by half of 1.9e-6/m times the distance squared."""
    code, out, err = aim(layout, "--setup", "along", without=OF_LAYOUT, near_reading="0.110 mm, -0.035 mm",
                         far_reading="0.610 mm, -0.005 mm")  # fmt: skip
    assert (code, err) == (0, "")
    assert "Set-up along; near: station A, target t1, far: station C, target t1" in out
    assert "home: near h +0.0100, v -0.0060 mm, far h +0.0100, v -0.0394 mm" in out
    assert "taken to be where the beam leaves the emitter" in out
    assert "near, 1.000 m from the pivot: 0.1000 mm right" in out
    assert "20.63 arcsec to the right" in out  # 100 um/m
    assert "tilt the beam 20.63 arcsec to the left (0.016 turns)" in out  # 80 mm times 1e-4 over 0.5 mm
    assert "it lies on the datum line" in out
    assert "(U = " in out
    assert "no uncertainty is stated" not in out


def test_json_of_a_layout_names_what_is_aimed(aim, layout):
    document = json.loads(aim(layout, "--setup", "along", "--json", "-", without=OF_LAYOUT)[1])
    assert document["setup"] == "along"
    assert [(each["station"], each["device"]) for each in document["targets"]] == [("A", "t1"), ("C", "t1")]
    assert [each["from_pivot"]["value"] for each in document["targets"]] == pytest.approx([1.0, 6.0])
    drop = [each["wanted"]["v"] + 0.005 for each in document["targets"]]
    assert drop == pytest.approx([-0.5e3 * 1.909e-6, -0.5e3 * 1.909e-6 * 36.0], rel=2e-3)
    own = document["targets"][0]["standard_uncertainty"]
    assert own["h"] == pytest.approx(math.hypot(0.5e-3, 2.5e-3), rel=0.02)  # resolution and zero lead
    # resolution twice, moving air 0.5 um times length to the power 1.5; the zero of t1 goes along and drops out
    angle = math.sqrt(2 * 0.5**2 + 0.5**2 + (0.5 * 6.0**1.5) ** 2) / 5.0 * 1e-6
    own = document["angle"]["standard_uncertainty"]["yaw"]
    assert own == pytest.approx(angle * 180.0 * 3600.0 / math.pi, rel=0.01)
    assert document["setting"]["shift_turns"] is not None


def test_what_is_typed_stands_in_place_of_what_the_layout_states(aim, layout):
    plain = json.loads(aim(layout, "--setup", "along", "--json", "-", without=OF_LAYOUT)[1])
    typed = json.loads(aim(
        layout, "--setup", "along", "--near", "B", "--pivot", "0.5 m", "--json", "-", without=OF_LAYOUT,
        far_zero="0 um, 0 um",
        wanted_far="0 um, 0 um", screw_pitch="1 mm", reading_known_to="3 um", unit="um", angle_unit="um/m",
        window="0.1 mm, 0.1 mm",
    )[1])  # fmt: skip
    assert typed["targets"][0]["station"] == "B"
    assert [each["from_pivot"]["value"] for each in typed["targets"]] == pytest.approx([3.0, 5.5])
    assert typed["targets"][1]["wanted"] == {"h": 0.0, "v": 0.0, "unit": "um"}
    assert typed["targets"][1]["standard_uncertainty"]["v"] == pytest.approx(3.0)
    assert typed["overshoot"]["steps_outside_window"][0] == 0
    assert plain["overshoot"]["steps_outside_window"] == []
    assert typed["setting"]["shift_turns"]["h"] == pytest.approx(1e-3 * typed["setting"]["shift"]["h"])
    assert plain["setting"]["shift_turns"]["h"] == pytest.approx(2.0 * plain["setting"]["shift"]["h"])


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        ((), "--setup: which set-up is aimed is not said name one of: along, free"),
        (("--setup", "alogn"), "--setup: there is no set-up 'alogn' did you mean along?"),
        (("--setup", "plane"), "--setup: 'plane' sweeps a plane with a base"),
        (
            ("--setup", "free"),
            "--near: set-up 'free' states no near and far name two of the stations on its line: A, B, C",
        ),
        (
            ("--setup", "free", "--near", "A", "--far", "D"),
            "--far: station 'D' is not read on the line of set-up 'free'",
        ),
        (("--setup", "along", "--near", "1.2 m"), "--near: station '1.2 m' is not read on the line"),
        (("--setup", "free", "--near", "A", "--far", "A"), "two readings of one place"),
    ],
)
def test_a_set_up_that_cannot_be_aimed_so_is_told(aim, layout, flags, said):
    code, out, err = aim(layout, *flags, without=OF_LAYOUT)
    assert (code, out) == (2, "")
    assert said in " ".join(err.split())


def test_distances_are_asked_for_where_there_is_no_layout(aim):
    code, _, err = aim("--setup", "along", without=("--near",))
    assert code == 2
    assert "--near: where this target stands is not said" in err
    assert "--setup: it names a set-up, but there is no layout" in err


@pytest.mark.parametrize(("number", "said"), [(0, "75.0 um/m to the right"), (1, "Set-up base line")])
def test_the_examples_of_the_readme_run(monkeypatch, capsys, number, said):
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    written = re.findall(r"```\n(datumray aim .*?)```", text, re.DOTALL)[number].replace("\\\n", " ")
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr("sys.argv", shlex.split(written))
    run_code = 0
    try:
        run()
    except SystemExit as end:
        run_code = end.code or 0
    assert run_code == 0
    assert said in capsys.readouterr().out
