"""What is said about wrong layouts: the place, what was found, what is expected, and the near name."""

from __future__ import annotations

import codecs

import pytest

from scenes.errors import LayoutError
from scenes.layout import read_layout

BED_2 = "  bed_2: {plate: {length: 1 m, width: 1 m, thickness: 0.1 m}, on: floor}\n  column_a:"

# old part of the example, new part, text at whose start the problem stands, message, advice
ONE_CHANGE = [
    ("60 um", "60", "60}", "the number 60 has no unit", "60 mm"),
    ("60 um", "1e-6", "1e-6", "the number 1e-6 has no unit", ""),
    ("60 um", "60 K", "60 K", "'K' is not a unit of length", "um"),
    ("60 um", "-60 um", "-60 um", "a length above zero is expected", ""),
    ("60 um", "0 um", "0 um", "a length above zero is expected", ""),
    ("60 um", ".inf", ".inf", "a length with its unit is expected", "120 mm"),
    ("60 um", "nan mm", "nan mm", "a length with its unit is expected", "120 mm"),
    ("60 um", "12:30", "12:30", "':30' is not a known unit", ""),
    ("60 um", "1e300 m", "1e300 m", "is too large", ""),
    ("60 um", "on", "on}", "a length with its unit is expected, not 'on'", "120 mm"),
    ("60 um", "[1 mm]", "[1 mm]", "a length with its unit is expected, not a list", ""),
    ("60 um", "{a: 1}", "{a: 1}", "a length with its unit is expected, not a mapping", ""),
    ("limit: 60 um", "limt: 60 um", "limt", "a task has no key 'limt'", "did you mean limit?"),
    (", limit: 60 um", "", "{flatness: bed, from", "a task needs the key 'limit'", "limit: 60 um"),
    ("limit: 60 um", "limit:", "limit:}", "nothing is written after 'limit'", ""),
    ("limit: 60 um", "limit: 60 um, limit: 70 um", "limit: 70", "the key 'limit' stands here a second time", "line"),
    ("layout: 1", "layout: 2", "2\n", "version 1 of the layout language", "1"),
    ("layout: 1", "layout: '1'", None, "", ""),
    ("title: Bed", "titel: Bed", "titel", "a layout has no key 'titel'", "did you mean title?"),
    ("deviation: um", "deviation: grad", "grad", "'grad' is not a known unit", "um"),
    ("21 degC", "-300 degC", "-300", "below absolute zero", ""),
    ("flatness: bed", "flatness: bet", "bet,", "there is no machine surface 'bet'", "did you mean bed?"),
    ("flatness: bed", "straightness: bet", "bet,", "there is no machine surface 'bet'", "did you mean bed?"),
    ("flatness: bed", "flattness: bed", "flattness", "a task has no key 'flattness'", "flatness"),
    ("from: grid", "from: gird", "gird", "there is no station or group 'gird'", "did you mean grid?"),
    ("from: grid", "from: [A1, A2, A3]", "[A1, A2, A3]", "flatness needs four stations or more, here are 3", "add"),
    ("minimum zone", "minimal zone", "minimal", "one of these is expected, not 'minimal zone'", "minimum zone?"),
    ("minimum zone", "three points", "three points, limit", "needs three different stations, here are 0", "datum:"),
    ("minimum zone", "three points, datum: [A1, A2, A7]", "[A1, A2, A7]", "stand on one line", "off that line"),
    ("minimum zone", "minimum zone, datum: [A1]", "datum: [A1]", "belong to reference: three points", ""),
    ("limit: 60 um", "limit: 60 um, coverage: 010", "010", "a plain number from 1 to 4", "without zeros"),
    ("add only: true", "add only: yes", "yes", "true or false is expected, not 'yes'", ""),
    ("travel: 2 mm", "travel: 2 mm\n    most pieces: 010", "010", "a whole number from 1 to 20", "without zeros"),
    ("travel: 2 mm", "travel: 2 mm\n    weight: 600", "600", "the number 600 has no unit", "600 kN"),
    ("travel: 2 mm", "travel: 2 mm\n    weight: -3 t", "-3 t", "a force above zero is expected", ""),
    ("travel: 2 mm", "travel: 2 mm\n    weight: 3 m", "3 m\n", "'m' is not a unit of force", "kN, t"),
    ("material: cast iron", "material: cast irn", "cast irn", "no material 'cast irn'", "did you mean cast iron"),
    ("material: cast iron", "material: [cast iron]", "[cast iron]", "the name of a material is expected", ""),
    ("influence: plate", "influence: measured", "measured", "needs its file", "influence.csv"),
    ("[1.3 m, 0.75 m]", "[1.6 m, 0.75 m]", "[1.6 m, 0.75", "foot 6 is not under 'bed': it stands", "move"),
    ("[1.3 m, 0.75 m]", "[0 m, 0.75 m]", "[0 m, 0.75 m]]", "foot 6 stands where foot 5 stands", "move"),
    ("feet:\n  bed:", "feet:\n  bad:", "bad:", "there is no surface 'bad'", "did you mean bed?"),
    ("at: [0 m, 0 m, 0.85 m]", "at: [0 m, 0.85 m]", "[0 m, 0.85", "three lengths [x, y, z] is expected", ""),
    ("at: [0 m, 0 m, 0.85 m]", "at: 0.85 m", "0.85 m", "a point of three lengths", ""),
    ("at: [0 m, 0 m, 0.85 m]", "at: [0, 0 m, 0.85 m]", "0, 0 m", "the number 0 has no unit", "0 mm"),
    ("thickness: 350 mm}", "thicknes: 350 mm}", "thicknes", "a plate has no key 'thicknes'", "thickness?"),
    ("plate: {length", "rol: {length", "rol:", "a machine surface has no key 'rol'", "did you mean roll?"),
    ("plate: {length", "slab: {length", "plate", "", ""),
    ("  column_a:", BED_2.replace("floor", "bad"), "bad}", "there is no machine surface 'bad'", "bed"),
    ("  column_a:", BED_2.replace("on: floor", "on: bed_2"), "bed_2}", "'bed_2' stands on itself", "floor"),
    ("  column_a:", BED_2.replace("bed_2", "floor", 1), "floor:", "cannot be a machine surface", "another name"),
    ("  column_a:", BED_2.replace("on: floor", "faces: upp"), "upp", "a direction is expected, not 'upp'", "up"),
    ("  column_a:", BED_2.replace("on: floor", "faces: up, axis: +z"), "faces", "both axis and faces", "one"),
    ("  column_a:", BED_2.replace("on: floor", "axis: [0, 0, 0]"), "[0, 0, 0]", "points nowhere", ""),
    ("  column_a:", "  x: 3\n  column_a:", "3\n", "a machine surface is a mapping", ""),
    ("  column_a:", "  x:\n  column_a:", "x:\n", "nothing is written after 'x'", ""),
    ("emitter: block", "emitter: blok", "blok", "the catalogue has no emitter 'blok'", "did you mean block?"),
    ("  t1:", "  p: {prism: nos}\n  t1:", "nos}", "the catalogue has no prism 'nos'", "did you mean nose?"),
    ("  t1:", "  p: {stage: for axes}\n  t1:", "for axes", "no stage 'for axes'", "did you mean four axes?"),
    ("  t1:", "  p: {vial: block}\n  t1:", "block}", "no vial 'block'", "did you mean block level?"),
    ("  t1:", "  p: {target: two axes, reads angles: true}\n  t1:", "true}", "reads angles, but", "angle window"),
    ("  t1:", "  p: {target: two axes, passes: 80 %}\n  t1:", "80 %}", "passes light on, but", "thickness"),
    ("  t1:", "  p: {target: two axes, passes: 120 %}\n  t1:", "120 %", "'120 %' is too large here", "at most 100 %"),
    ("  t1:", "  p: {prism: nose, index: 0.5}\n  t1:", "0.5", "a plain number from 1 to 4", ""),
    ("{target: two axes}", "{target: two axes, rotary base: fine}", "rotary base: fine", "at the same time", "one"),
    ("{target: two axes}", "{targt: two axes}", "targt", "a device has no key 'targt'", "did you mean target?"),
    ("{target: two axes}", "{resolution: 1 um}", "{resolution", "does not say what it is", "emitter, rotary base"),
    ("{target: two axes}", "two axes", "two axes", "device 't1' is a mapping", ""),
    ("use: laser", "use: t1", "t1, on", "'t1' is a target; an emitter is needed here", "laser"),
    ("use: laser", "use: lazer", "lazer", "there is no emitter 'lazer'", "did you mean laser?"),
    ("turned by: base", "turned by: laser", "laser\n", "'laser' is an emitter; a rotary base is needed here", "base"),
    ("target: t1,", "target: t9,", "t9", "there is no target 't9'", "t1"),
    ("on: floor,", "on: flor,", "flor", "there is no machine surface 'flor'", "floor"),
    ("tripod: 0.9 m", "tripod: 9 m", "9 m}", "a tripod of 9000 mm is outside what it can be set to", "height"),
    ("post: 120 mm", "magnet: 900 mm", "900 mm", "a magnet of 900 mm is outside what it can be set to", "height"),
    ("post: 120 mm", "post: 120 mm, arm: 80 mm", "arm", "an arm belongs to a bracket, this is a post", "bracket"),
    ("post: 120 mm", "stage: four axes", "stage", "a stage carries an emitter; this mount carries a target", "post"),
    ("post: 120 mm", "discs: 0 mm", "0 mm", "a length above zero is expected", ""),
    ("tripod: 0.9 m", "stage: for axes", "for axes", "there is no stage 'for axes'", ""),
    ("tripod: 0.9 m", "stage: four axes, lowest: 1 mm", "lowest", "'lowest' does not belong to a stage", "remove"),
    ("tripod: 0.9 m", "discs: 180 mm", "discs", "this mount carries an emitter", "tripod"),
    ("post: 120 mm", "post: 120 mm, tripod: 1 m", "tripod: 1 m", "at the same time", "keep one"),
    ("grid: 7 x 5", "grid: 7 by 5", "7 by 5", "a grid such as 7 x 5 is expected", ""),
    ("grid: 7 x 5", "grid: 0 x 5", "0 x 5", "a grid of 2 to", ""),
    ("margin: 100 mm, ", "", "grid: 7 x 5", "a grid needs a margin", "margin: 100 mm"),
    ("margin: 100 mm", "margin: 1 m", "1 m, t", "leaves nothing of the width", "900 mm"),
    ("grid: 7 x 5, margin: 100 mm", "at: {A..B: [0 m, 0 m]}", "A..B", "cannot be the name of a station", ".."),
    ("{on: bed, grid", "{on: column_a, grid", "column_a, grid", "stations need a plate or a face", ""),
    ("grid: 7 x 5, margin: 100 mm", "circle: {radius: 1 m, count: 8}", "circle", "needs a face", "grid"),
    ("grid: 7 x 5, margin: 100 mm", "every: 1 m", "every", "stations every so far need a rail or a roll", "use grid"),
    ("grid: 7 x 5, margin: 100 mm", "line: {from: [0 m, 0 m], to: [1 m, 0 m]}", "{from", "neither count nor", "one"),
    ("[grid, again: [A1, E7]]", "[grid, A1]", "A1]", "station 'A1' is read twice", "again"),
    ("[grid, again: [A1, E7]]", "[A1, again: [E7]]", "again: [E7]", "read again, but not a first time", "before"),
    ("[grid, again: [A1, E7]]", "[A1..A9]", "A1..A9", "there is no station 'A8' in the range", "A"),
    ("[grid, again: [A1, E7]]", "[A1..B7]", "A1..B7", "may differ in their number only", "A1..A7"),
    ("[grid, again: [A1, E7]]", "[grid, agian: [A1]]", "agian", "a re-reading has no key 'agian'", "again"),
    ("[grid, again: [A1, E7]]", "[]", "[]", "a list of what is read is expected", "again"),
    ("level by: three points", "level by: three point", "three point ", "a way to set the plane", "three points?"),
    ("level by: three points", "level by: pads [A1, A7]", "pads [A1, A7] ", "pads needs three or more", ""),
    ("level by: three points", "level by: pads [A1, A4, A7]", "pads [A1, A4", "stand on one line", "off that line"),
    ("level by: three points", "level by: pads [A1, A7, Z4]", "pads [A1, A7, Z", "no station or group 'Z4'", ""),
    ("turned by: base", "prism: nose", "nose", "the prism of a set-up is a mapping with keys such as use, at", ""),
    ("tasks:", "zones: {}\ntasks:", "zones", "'zones' is a known word", ""),
    ("tasks:", "readings: {columns: {pich: P}}\ntasks:", "pich", "no key 'pich'", "did you mean pitch?"),
    ("machine:\n", "machine: !!python/name:os.system\n", "!!python", "the tag", "remove it"),
    ("units:", "<<: {a: 1}\nunits:", "<<", "merge keys", ""),
    ("units: {", "units: [", "units", "", ""),
    ("\ntasks:", "\n---\ntasks:", "---", "a second document starts here", "---"),
    ("  turned by", "\tturned by", "\t", "a tab stands where only spaces may stand", "spaces"),
    ("title: Bed", "title: 'Bed", "'Bed", "a quote is opened and not closed", "close it"),
    ("[A1, E7]]", "[A1, E7]", "", "a bracket is not closed, or a comma is missing", "]"),
    ("at: [0 m, 0 m, 0.85 m]", "at: *where", "*where", "nothing is marked '&where' before this line", "alias"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "at", "message", "advice"), [case for case in ONE_CHANGE if case[2] and case[3]]
)
def test_one_change_gives_one_problem_at_its_place(press, old, new, at, message, advice) -> None:
    text = press.changed((old, new))
    problems = press.problems(text=text)
    start = text.index(new)
    offset = text.index(at, start if at in text[start:] else 0)
    line, column = text.count("\n", 0, offset) + 1, offset - (text.rfind("\n", 0, offset) + 1) + 1
    hits = [p for p in problems if message in p.message and advice in p.advice]
    assert hits, [str(p) for p in problems]
    assert (hits[0].line, hits[0].column) == (line, column)
    assert hits[0].file == "press.yaml"
    assert len(problems) == 1, [str(p) for p in problems]


def test_all_problems_come_in_one_pass_in_the_order_of_lines(press) -> None:
    problems = press.problems(
        ("21 degC", "21"),
        ("thickness: 350 mm}", "thicknes: 350 mm}"),
        ("emitter: block", "emitter: blok"),
        ("margin: 100 mm", "margin: 100"),
        ("use: laser", "use: t1"),
        ("turned by: base", "turned by: bass"),
        ("flatness: bed", "flatness: bet"),
        ("limit: 60 um", "limt: 60 um"),
        ("travel: 2 mm", "travel: 2 kg"),
    )
    assert [p.line for p in problems] == sorted(p.line for p in problems)
    said = "\n".join(p.message for p in problems)
    for part in ("21", "thicknes", "blok", "100", "'t1' is a target", "bass", "bet", "limt", "'kg'"):
        assert part in said, part
    assert len(problems) == 9


def test_two_groups_with_the_same_station_names_both_lines(press) -> None:
    (problem,) = press.problems(("setups:", "  more: {on: bed, at: {A1: [0 m, 0 m]}, mount: {post: 1 mm}}\nsetups:"))
    grid = press.text[: press.text.index("\n  grid:")].count("\n") + 2
    assert f"station 'A1' of 'more' has the name of one of 'grid' in line {grid}" in problem.message
    assert problem.line == grid + 2


def test_a_circle_of_surfaces_is_told_once(press) -> None:
    plate = "{plate: {length: 1 m, width: 1 m, thickness: 0.1 m}, on: "
    (problem,) = press.problems(("  column_a:", f"  p: {plate}q}}\n  q: {plate}r}}\n  r: {plate}p}}\n  column_a:"))
    assert "'p' on 'q' on 'r' on 'p'" in problem.message


def test_a_choice_between_two_devices_must_be_made(press) -> None:
    (problem,) = press.problems(("  t1:", "  t2: {target: two axes}\n  t1:"), ("target: t1, ", ""))
    assert problem.message == "the key 'target' must say which target is meant; the layout has 2"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "a layout is a mapping of sections; it is empty"),
        ("# nothing\n", "it is empty"),
        ("null", "it is empty"),
        ("[1, 2]", "here stands a list"),
        ("hello", "here stands 'hello'"),
        ("layout: 1", "a layout needs the key 'machine'"),
        ("layout: 1\nmachine: {}", "the section 'machine' is empty"),
        ("layout: 1\nmachine: [bed]", "the section 'machine' is a mapping of names"),
        ("layout: 1\nmachine: &m {bed: *m}", "'*m' stands inside what it repeats"),
        ("layout: 1\n? [a]\n: 1", "a key must be one word or phrase"),
        ("layout: 1\ntitle: a\x00", "a character that is not text stands here"),
        ("layout: " + "[" * 5000, "levels of nesting"),
        ("layout: " + "{a: " * 5000, "levels of nesting"),
        ("\n".join(" " * i + "a:" for i in range(1000)), "levels of nesting"),
        ("x" * 1_000_001, "larger than"),
    ],
)
def test_whole_files_that_are_no_layout(press, text: str, message: str) -> None:
    assert message in "\n".join(p.message for p in press.problems(text=text))


def test_aliases_cannot_blow_up(press) -> None:
    bomb = "layout: 1\na: &a [1, 1, 1, 1, 1, 1, 1, 1, 1, 1]\n"
    for before, name in zip("abcdefg", "bcdefgh", strict=True):
        bomb += f"{name}: &{name} [{', '.join(['*' + before] * 10)}]\n"
    assert "more than 60000 values" in press.problems(text=bomb)[-1].message


def test_files_that_cannot_be_read(tmp_path) -> None:
    binary = tmp_path / "binary.yaml"
    binary.write_bytes(b"layout: 1\ntitle: \xff\xfe\n")
    cases = {
        tmp_path / "none.yaml": (0, 0, "there is no such file"),
        tmp_path: (0, 0, "this is a folder, not a file"),
        binary: (2, 8, "the file is not UTF-8 text from here on"),
        "a\0b": (0, 0, "the file cannot be read"),
    }
    for path, (line, column, message) in cases.items():
        with pytest.raises(LayoutError) as caught:
            read_layout(path)
        (problem,) = caught.value.problems
        assert (problem.line, problem.column) == (line, column)
        assert message in problem.message


def test_byte_order_mark_and_windows_line_ends_are_read(press, tmp_path) -> None:
    path = tmp_path / "windows.yaml"
    path.write_bytes(codecs.BOM_UTF8 + press.text.replace("\n", "\r\n").encode())
    assert len(read_layout(path).stations) == 35
