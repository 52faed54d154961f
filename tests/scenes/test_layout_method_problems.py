"""What is said about set-ups whose parts do not go together, and about devices that do not fit."""

from __future__ import annotations

import pytest

from scenes.errors import LayoutError
from scenes.layout import read_layout

BASE_LINE = "    prism: {use: nose, stops: {at roll_1: 3 m, at roll_2: 5.4 m}, toward: +y}\n"
FROM_STOPS = (
    "[{stations: ends of roll_1, from stop: at roll_1}, {stations: ends of roll_2, from stop: at roll_2}, again"
)
ENDS = "[{stations: [ends of roll_1, ends of roll_2]}, again"
ONE_PLACE = "prism: {use: prism, at: {along beam: 1.3 m}, turned: 0 deg}"
AIMED = "at: [-1.3 m, 0 mm, 0 mm], aim: +x"
RISES = "level by: vial\n    vial: level\n    reversed: true"
SLIDE = "{stations: on slide, at positions: [low, mid, top]}"
SPIN = "in: spindle, clock: [0 deg, 90 deg, 180 deg, 270 deg]}"
FRONT = "in front of: barrel, distance: 0.8 m,"

# sheet, old part, new part, text at which the problem stands, message, advice
CASES = [
    # where the emitter stands
    ("press_slide", "{use: laser, on: bed, " + AIMED, "{use: laser, on: bed, aim: +x", "{use",
     "the emitter of a set-up needs the key 'at'", "add it"),
    ("press_slide", AIMED, AIMED + "x", "+xx", "a direction is expected, not '+xx'", "+x"),
    ("press_slide", AIMED, AIMED + ", distance: 1 m", "distance", "'distance' belongs to an emitter placed",
     "in front of"),
    ("press_slide", AIMED, AIMED + ", clock: [0 deg, 1 deg]", "clock", "'clock' belongs to an emitter placed 'in'",
     "in"),
    ("bore", "distance: 0.8 m,", "", "in front of: barrel", "how far in front of the bore", "distance: 0.8 m"),
    ("bore", FRONT, FRONT + " aim: +x,", "aim", "in front of 'barrel' the beam runs along its axis", "remove aim"),
    ("bore", FRONT, FRONT + " at: [0 m, 0 m, 0 m],", "at:", "the emitter cannot be placed by 'at' and 'in front of'",
     "one"),
    ("bore", "in front of: barrel", "in front of: spindle", "spindle", "'spindle' is no bore", "name a bore"),
    ("bore", "in front of: barrel", "in front of: barel", "barel", "there is no machine surface 'barel'", "barrel?"),
    ("bore", "in: spindle,", "in: bed ways,", "bed ways", "'bed ways' is neither a face nor a roll",
     "face of the spindle"),
    ("bore", "in: spindle,", "in: spindle, on: spindle,", "on:", "the emitter is in 'spindle', which it also",
     "remove"),
    ("bore", "in: spindle,", "in: spindle, aim: +x,", "+x", "the beam must run along the axis of 'spindle'",
     "+z or -z"),
    ("bore", "clock: [0 deg, 90 deg, 180 deg, 270 deg]}", "clock: [0 deg]}", "[0 deg]", "a list of 2 to 36 turns", ""),
    ("bore", "clock: [0 deg, 90 deg, 180 deg, 270 deg]}", "clock: [0 deg, 360 deg]}", "[0 deg, 3", "are the same",
     "180"),
    ("bore", SPIN, SPIN + "\n    reversed: true", "reversed", "a spindle turns the emitter", "clock"),
    ("bore", SPIN, SPIN + "\n    through: [t1]", "through", "that turns in a spindle has no 'through'", "remove"),
    ("bore", "stage: four axes", "stage: fore axes", "fore axes", "there is no stage 'fore axes'", ""),
    ("bore", "stage: four axes", "discs: 170 mm", "discs", "this mount carries an emitter", "tripod"),
    # what goes together
    ("press_slide", "    turned by: base\n", f"    turned by: base\n    {ONE_PLACE}\n", "prism:",
     "either a base or a prism", ""),
    ("press_slide", "0.2 m, 0 mm],", "0.2 m, 0 mm], aim: +x,", "aim", "a base turns the beam to every station",
     "turned by"),
    ("press_slide", "    turned by: base\n", "    turned by: base\n    near: A1\n    far: A7\n", "near",
     "a base turns", "near"),
    ("press_slide", "    turned by: base\n", "    turned by: base\n    through: [t1]\n", "through", "a base turns",
     "through"),
    ("press_slide", RISES, "reversed: true", "reversed", "a base is not reversed; only its vial is", "level by: vial"),
    ("press_slide", RISES, "vial: level", "vial", "the vial 'level' is named, but", "add level by: vial"),
    ("press_slide", "vial: level\n", "vial: laser\n", "laser", "'laser' is an emitter; a vial is needed here", "level"),
    ("press_slide", "    reversed: true  ", "    level by: three points  ", "level by", "this beam is a line",
     "turned by"),
    ("rails", "0 mm, 80 mm], aim: +x}, through", "0 mm, 80 mm]}, through", "through",
     "read at once stand in a straight", "aim"),
    ("rails", "[t1, t2, t3]", "[t1, t3, t2]", "t3, t2", "'t3' lets no light through", "put it last"),
    ("rails", "through: [t1, t2, t3]", "through: [t1, t1]", "through", "a target stands in the beam twice", "once"),
    ("rails", "[t1, t2, t3]", "[]", "[]", "a list of 1 to 12 targets is expected", ""),
    ("rails", "[t1, t2, t3]", "[t1, t9]", "t9", "there is no target 't9'", ""),
    # near and far
    ("gantry", "near: A1\n    far: A7\n", "near: A1\n", "near: A1", "'near' alone marks no line", "add far"),
    ("gantry", "    far: A7\n", "    far: A1\n", "far: A1", "near and far are the same station", "another"),
    ("gantry", "    far: A7\n", "    far: A8\n", "A8", "there is no station or group 'A8'", "a"),
    ("gantry", "    far: A7\n", "    far: a\n", "a\n", "'a' is 7 stations; far is one", "name one"),
    ("gantry", "emitter: {use: laser, on: rail_a, at: [0.2 m, 0 mm, 60 mm], aim: +x}",
     "emitter: {use: laser, at: [0 m, 0 m, 0 m]}", "emitter", "nothing says where it goes", "aim: +x"),
    ("rolls", "far: {target: t2, at: {along beam: 14 m}", "far: {target: t2, at: {along beam: 1 m}", "far", "nearer",
     "ex"),
    ("rolls", "far: {target: t2, at: {along beam: 14 m}, mount: {post: 300 mm}}", "far: roll_1 far", "far: r",
     "either two", ""),
    ("rolls", "{target: t2, at: {along beam: 14 m}", "{target: t2, at: {along: 14 m}", "along: 14", "no key 'along'",
     "along beam"),
    ("rolls", "{target: t1, at: {along beam: 2 m}}", "{at: {along beam: 2 m}}", "{at: {al", "must say which target",
     "t1"),
    ("rolls", "post: 300 mm", "stage: four axes", "stage", "this mount carries a target", "post"),
    ("rolls", "aim: +x, ", "", "{use: laser, on: floor", "nothing says where the beam goes", "aim: +x"),
    # the prism
    ("rolls", "toward: +y", "toward: +x", "+x", "the light leaves a prism square to the beam", "square"),
    ("rolls", "toward: +y", "toward: +y, turned: 0 deg", "toward", "both turned and toward", "keep one"),
    ("rolls", "use: nose", "use: noes", "noes", "there is no prism 'noes'", "did you mean nose?"),
    ("rolls", "stops: {at roll_1: 3 m, at roll_2: 5.4 m}", "stops: {}", "{}", "named stops are expected", "at roll_1"),
    ("rolls", "stops: {at roll_1", "at: {along beam: 2 m}, stops: {at roll_1", "stops",
     "'at' and 'stops' at the same", "one"),
    ("rolls", "stops: {at", "stops: {middle: 4 m, at", "middle", "nothing is read from the stop 'middle'", "from stop"),
    ("rolls", "from stop: at roll_2", "from stop: at roll_3", "at roll_3", "the prism has no stop 'at roll_3'",
     "at roll_2"),
    ("rolls", FROM_STOPS, ENDS, "{stations", "the prism has 2 stops; from which of them", "from stop: at roll_1"),
    ("gantry", "sweeps: true", "sweeps: true, turned: 90 deg", "turned", "turned to every station", "remove turned"),
    ("gantry", "centred within: 0.05 mm}", "centred within: 0.05 mm}\n    through: [t1]", "through",
     "that sweeps turns", "sw"),
    ("gantry", "sweeps: true", "sweeps: yes", "yes", "true or false is expected", ""),
    # what is read
    ("press_slide", "[low, mid, top]}]", "[low, tip]}]", "tip", "'on slide' has no stations at the position 'tip'",
     "top"),
    ("press_slide", SLIDE, "{stations: grid, at positions: low}", "low}", "on no part that moves",
     "remove at positions"),
    ("press_slide", SLIDE, "{stations: P9, at positions: low}", "P9", "there is no station or group 'P9'", "slide"),
    ("press_slide", SLIDE, "{stations: [P1], at positions: [tip]}", "tip", "'P1' has no stations at the position",
     "top"),
    ("press_slide", SLIDE, "{station: slide, at positions: low}", "station", "no key 'station'",
     "did you mean stations?"),
    ("press_slide", SLIDE, "{stations: slide}, P1@low", "P1@low", "station 'P1@low' is read twice", "again"),
    ("press_slide", SLIDE, "{stations: slide, from stop: a}", "a}", "the prism has no stop 'a'", "prism"),
    ("gantry", "    reads: a\n", "    reads: {stations: a, from stop: b}\n", "b}", "this set-up has none", "prism"),
    ("gantry", "    reads: a\n", "    reads: {}\n", "{}", "a list of what is read is expected", ""),
    ("gantry", "    reads: a\n", "    reads: ends of rail_b\n", "ends of", "there is no machine surface 'rail_b'",
     "rail_a"),
    ("rails", "{on: rail_a, every: 1.5 m, names: A", "{on: rail_a, names: A", "{on",
     "a station group does not say what it is", "every"),
    # discs
    ("bore", "discs: 180 mm", "discs: 190 mm", "190 mm", "discs of 190 mm do not fit at 'rings1'", "discs: 180 mm"),
    ("bore", "discs: 180 mm", "discs: 170 mm", "170 mm", "discs of 170 mm do not fit", "180 mm"),
    ("bore", "target: ring, mount", "target: t1, mount", "180 mm", "the middle of 't1' is 70 mm above its foot",
     "bore"),
    ("bore", "mount: {post: 180 mm}", "mount: {discs: 160 mm}", "160 mm", "need a bore to stand in; 'bed ways'",
     "post"),
]  # fmt: skip


@pytest.mark.parametrize(("sheet", "old", "new", "at", "message", "advice"), CASES)
def test_one_clear_message_at_its_place(sheets, sheet, old, new, at, message, advice) -> None:
    problem, place = sheets[sheet].one_problem(old, new, at)
    assert message in problem.message
    assert advice in problem.advice
    assert (problem.line, problem.column) == place


def test_all_problems_of_setups_come_in_one_pass(sheets) -> None:
    sheet = sheets["press_slide"]
    problems = sheet.problems(
        ("mirror known to: 0.3 arcsec", "mirror known to: 0.3"),
        ("tripod: 1.1 m", "tripod: 9 m"),
        ("vial: level", "vial: levl"),
        ("aim: +x", "aim: +w"),
        ("reversed: true  ", "reversed: yes  "),
        ("parallelism: slide", "parallelism: slid"),
        ("humidity: 40 %", "humidity: 140 %"),
    )
    said = "\n".join(problem.message for problem in problems)
    for part in ("0.3 has no unit", "9000 mm is outside", "'levl'", "'+w'", "not 'yes'", "'slid'", "'140 %'"):
        assert part in said, part
    assert [problem.line for problem in problems] == sorted(problem.line for problem in problems)
    assert len(problems) == 7


def test_a_name_that_a_datum_target_takes_is_told(sheets) -> None:
    station = "  base line near: {on: roll_1, at: [1 m], mount: {post: 40 mm}, target: t1, names: X}\nsetups:"
    (problem,) = sheets["rolls"].problems(("setups:", station))
    assert problem.message == "'base line near' is also the name of a station"


def test_a_catalogue_may_leave_out_what_the_model_has_a_value_for(sheets, tmp_path) -> None:
    (tmp_path / "ours.yaml").write_text(
        "catalogue: 1\nvials: {ours: {sensitivity: 1 um/m, zero known to: 2 um/m}}\n"
        "prisms:\n  plain: {aperture: 20 mm, index: 1.5, height: 50 mm, passes: 80 %, mirror: 0 arcsec,\n"
        "    mirror known to: 1 arcsec, pyramid: 0 arcsec, pyramid known to: 1 arcsec, axis known to: 1 mrad}\n"
    )
    path = tmp_path / "layout.yaml"
    changes = (("machine:", "catalogue: ours.yaml\nmachine:"), ("vial: block level", "vial: ours"))
    path.write_text(sheets["press_slide"].changed(*changes, ("{prism: nose, ", "{prism: plain, ")))
    with pytest.raises(LayoutError) as caught:
        read_layout(path)
    (problem,) = [each for each in caught.value.problems if each.file.endswith("ours.yaml")]
    assert problem.message == "a prism of a catalogue needs the key 'turn known to'"
    whole = (tmp_path / "ours.yaml").read_text().replace("1 mrad}", "1 mrad, turn known to: 1 mrad}")
    (tmp_path / "ours.yaml").write_text(whole)
    layout = read_layout(path)
    assert layout.vials["level"].origins["sensitivity"] == "catalogue ours.yaml: ours"
    assert layout.prisms["prism"].aperture == pytest.approx(0.02)
