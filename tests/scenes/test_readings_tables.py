"""Tables as crews have them: mapped, wide, as a grid, pasted, without headers; and every wrong name told at once."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.errors import LayoutError, ReadingsError
from scenes.layout.read import read_layout
from scenes.layout.schema_readings import ReadingsKeys, SignKeys, WideKeys
from scenes.live import LiveReadings, RecordFile, Taken
from scenes.readings import read_readings, read_readings_text, readings_text
from scenes.readings.columns import with_headers
from scenes.readings.wide_patterns import WORDS

EXAMPLES = Path(__file__).parents[2] / "examples"
PRESS = (EXAMPLES / "press_bed" / "layout.yaml").read_text(encoding="utf-8")
BARREL = read_layout(EXAMPLES / "extruder_barrel" / "layout.yaml")
RAILS = read_layout(EXAMPLES / "transfer_rails" / "layout.yaml")
ROUNDING = 1e-15  # metres; conversion of units


def bed(readings: str = "{}"):
    """The press bed with a section of readings; ``{}``: without one."""
    return read_layout("bed.yaml", PRESS + (f"\nreadings: {readings}\n" if readings != "{}" else ""))


def layout_problems(readings: str) -> list[str]:
    with pytest.raises(LayoutError) as caught:
        bed(readings)
    return [f"{problem.message}; {problem.advice}" for problem in caught.value.problems]


def read(text: str | bytes, readings: str = "{}"):
    return read_readings_text(text, bed(readings))


def records(text: str, readings: str = "{}") -> list[tuple[object, ...]]:
    """Visit, station, v in um and line of each record."""
    found = read(text, readings)
    return list(zip(found.visit, found.station, np.round(found.v * 1e6, 6).tolist(), found.row.tolist(), strict=True))


def problems(text: str | bytes, readings: str = "{}"):
    with pytest.raises(ReadingsError) as caught:
        read(text, readings)
    return caught.value.problems


# --- the mapping -----------------------------------------------------------------------------------------------------


def test_columns_and_units_by_the_layout():
    mapped = "{columns: {station: Pt, v: {header: Height, unit: um}, h: {unit: mm}, time: {header: At, unit: min}}}"
    found = read("Pt,Height,h,At\nA1,1,2,0\nA2,3,4,2\n", mapped)
    assert found.v == pytest.approx([1e-6, 3e-6], abs=ROUNDING)
    assert found.h == pytest.approx([2e-3, 4e-3], abs=ROUNDING)
    assert found.time.tolist() == [0.0, 120.0]
    assert read("Pt,Height [um]\nA1,1\n", mapped).v == pytest.approx([1e-6])
    (told,) = problems("Pt,Height [mm]\nA1,1\n", mapped)
    assert "the layout says that v is in um" in told.message


@pytest.mark.parametrize(
    ("readings", "message"),
    [
        ("{columns: {v: {header: Height, unit: kg}}}", "'kg' is not a unit of length"),
        ("{columns: {pitch: {unit: um}}}", "'um' is not a unit of angle"),
        ('{columns: {v: {header: "Height [mm]", unit: um}}}', "states the unit mm already"),
        ("{columns: {v: {heading: Height}}}", "a column of readings has no key 'heading'"),
        ("{columns: {station: {header: Pt}}}", "a header is expected"),
        ("{decimal: dot}", "point, comma"),
        ("{delimiter: pipe}", "comma, semicolon, tab, spaces"),
        ("{headers: station}", "a list of headers"),
        ("{wide: {}}", "does not say what its cells hold"),
        ('{wide: {v: "{vist}"}}', "did you mean visit?"),
        ("{wide: {v: visit}}", "words in braces is expected"),
        ('{wide: {v: "{visit} {visit}"}}', "a word stands twice"),
        ('{wide: {v: "{column}"}}', "a grid needs {column}"),
        ('{wide: {v: "{visit}", station: "{row}{column}"}}', "a grid needs {column}"),
        ('{wide: {v: "{column}", station: "{column}"}}', "{row} is missing"),
        ('{wide: {v: "{station}{column}"}}', "{station} is a whole name"),
    ],
)
def test_a_wrong_mapping_is_told_by_the_layout(readings, message):
    told = layout_problems(readings)
    assert any(message in each for each in told), told


def test_the_decimal_mark_by_the_layout():
    assert records("station,v [um]\nA1,1.234\n", "{decimal: point}")[0][2] == 1.234
    assert records('station,v [um]\nA1,"1,234"\n', "{decimal: comma}")[0][2] == 1.234  # undecided without
    assert "may be a decimal comma" in problems('station,v [um]\nA1,"1,234"\n')[0].message
    (told,) = problems("station;v [um]\nA1;1,5\nA2;2\n", "{decimal: point}")
    assert (told.line, told.column) == (2, 2)
    assert "a decimal comma; the layout says that readings have a decimal point" in told.message


def test_the_delimiter_by_the_layout():
    text = "station,v [um];note\nA1,1;x\n"
    assert read("station|note\tv [um]\nA1\t5\n", "{delimiter: tab, columns: {station: station|note}}").v[0] > 0
    assert problems(text, "{delimiter: semicolon}")


# --- wide tables -----------------------------------------------------------------------------------------------------

VISITS = '{columns: {station: Pt, v: {unit: um}}, wide: {v: ["{visit} {repeat}", "{visit}"]}}'


def test_visits_and_repeats_in_columns():
    text = "Pt;as found 1;as found 2;as left;note\nA1;1,5;2;3;x\nA2;4;;6;\n"
    assert records(text, VISITS) == [
        ("as found", "A1", 1.5, 2),
        ("as found", "A1", 2.0, 2),
        ("as found", "A2", 4.0, 3),
        ("as left", "A1", 3.0, 2),
        ("as left", "A2", 6.0, 3),
    ]
    found = read(text, VISITS)
    assert found.note == ("x", "x", "", "x", "")
    assert found.remarks == ("standard input, line 1: 1 of 2 rows have nothing under 'as found 2'",)


def test_repeats_follow_at_once_and_rounds_after_all_others():
    text = "station,1,2\nA1,1,2\nA2,3,4\n"
    repeat = records(text, '{columns: {v: {unit: um}}, wide: {v: "{repeat}"}}')
    assert [value for _, _, value, _ in repeat] == [1, 2, 3, 4]
    rounds = records(text, '{columns: {v: {unit: um}}, wide: {v: "{round}"}}')
    assert [value for _, _, value, _ in rounds] == [1, 3, 2, 4]


def test_a_grid_names_its_stations_by_row_and_column():
    grid = '{columns: {v: {unit: um}}, wide: {v: "{column}", station: "{row}{column}"}}'
    rows = "ABCDE"
    table = [[f"{10 * k + column}" for column in range(1, 8)] for k in range(5)]
    for corner in ("", "row", "Pt", "A..E"):
        text = "\t".join([corner, *map(str, range(1, 8))]) + "\n"
        text += "".join("\t".join([rows[k], *table[k]]) + "\n" for k in range(5))
        found = records(text, grid)
        assert [(station, value) for _, station, value, _ in found] == [
            (f"{rows[k]}{column}", 10.0 * k + column) for k, column in itertools.product(range(5), range(1, 8))
        ]
        assert records("Press 4\tshift 2\n\n" + text, grid) == [(*each[:3], each[3] + 2) for each in found]
    swapped = grid.replace("{row}{column}", "{column}{row}")
    assert records("n,A,B\n1,5,6\n2,7,8\n", swapped)[1][1:3] == ("B1", 6.0)


@pytest.mark.parametrize("columns", [1, 2, 3, 7])
@pytest.mark.parametrize("rows", ["A", "AB", "ABCDE"])
@pytest.mark.parametrize("title", ["", "Press 4\n"])
@pytest.mark.parametrize("mark", ["\t", ",", ";", "    "])
def test_a_grid_of_any_size_with_nothing_in_its_corner(columns, rows, title, mark):
    if mark == "    " and columns == 1:
        title = ""  # nothing would tell it from headers
    grid = '{columns: {v: {unit: um}}, wide: {v: "{column}", station: "{row}{column}"}}'
    text = title + mark + mark.join(map(str, range(1, columns + 1))) + "\n"
    text += "".join(row + mark + mark.join(str(5 + k) for k in range(columns)) + "\n" for row in rows)
    assert [station for _, station, _, _ in records(text, grid)] == [
        f"{row}{column}" for row, column in itertools.product(rows, range(1, columns + 1))
    ]


def test_a_column_for_each_station():
    by_station = '{columns: {v: {unit: um}}, wide: {v: "{station}"}}'
    assert records("visit,A1,A2\nas found,1,2\nas left,3,4\n", by_station) == [
        ("as found", "A1", 1.0, 2), ("as found", "A2", 2.0, 2), ("as left", "A1", 3.0, 3), ("as left", "A2", 4.0, 3),
    ]  # fmt: skip


def test_clock_positions_and_channels_in_columns_are_the_file_of_the_example():
    """The barrel of the examples, written as one row per ring, is read as it is."""
    path = EXAMPLES / "extruder_barrel" / "readings" / "as_found.csv"
    wanted = read_readings([path], BARREL)
    once = dict.fromkeys(zip(wanted.station, np.round(np.degrees(wanted.clock)).tolist(), strict=True))
    first = {
        key: k
        for k, key in reversed(list(enumerate(zip(wanted.station, np.round(np.degrees(wanted.clock)), strict=True))))
    }
    header = ["ring", *(f"{axis} {turn}°" for turn in (0, 90, 180, 270) for axis in "hv")]
    text = ";".join(header) + "\n"
    for ring in dict.fromkeys(wanted.station):
        cells = [f"{getattr(wanted, axis)[first[ring, turn]] * 1e3:.7f}" for turn in (0, 90, 180, 270) for axis in "hv"]
        text += ";".join([ring, *cells]).replace(".", ",") + "\n"
    mapped = replace_readings(
        BARREL, '{columns: {h: {unit: mm}, v: {unit: mm}}, wide: {h: "h {clock}", v: "v {clock}"}}'
    )
    found = read_readings_text(text, mapped)
    assert len(found) == len(once)
    for k, key in enumerate(zip(found.station, np.round(np.degrees(found.clock)), strict=True)):
        assert (found.h[k], found.v[k]) == pytest.approx((wanted.h[first[key]], wanted.v[first[key]]), abs=1e-10)


def replace_readings(layout, readings: str):
    """The layout with the section of readings of the press bed's file."""
    return replace(layout, readings=bed(readings).readings)


def test_a_set_up_for_each_column():
    rails = replace_readings(RAILS, '{wide: {v: "{setup} [um]"}}')
    first, second = list(RAILS.setups)[:2]
    ties = [name for name in RAILS.setups[first].reads if name in RAILS.setups[second].reads]
    text = f"station,{first},{second}\n" + "".join(f"{name},1,2\n" for name in ties)
    found = read_readings_text(text, rails)
    assert found.setup == (first,) * len(ties) + (second,) * len(ties)
    assert found.v == pytest.approx([1e-6] * len(ties) + [2e-6] * len(ties))
    with pytest.raises(ReadingsError, match="set-up 'frist' is not in the layout"):
        read_readings_text(f"station,frist\n{ties[0]},1\n", rails)


def test_an_ordinary_table_is_read_all_the_same():
    assert records("station,v [um]\nA1,1\n", VISITS) == [("as found", "A1", 1.0, 2)]
    assert records("visit,Pt,v\nas left,A1,1\n", VISITS) == [("as left", "A1", 1.0, 2)]


def test_errors_of_wide_tables_name_row_and_column():
    told = problems("Pt,as found,as left\nA1,1,x\nA9,2,3\nA3,99999,\n", VISITS)
    assert [(each.line, each.column) for each in told] == [(2, 3), (3, 1), (4, 2)]
    assert told[0].message.startswith("as left: 'x' is not a number")
    assert told[2].message.startswith("as found: 99999 is outside the window")
    (told,) = problems("Pt,as found\nA1,1,2\n", VISITS)
    assert (told.line, told.column, told.message) == (2, 3, "the row has 3 fields, the header 2")
    (told,) = problems("station,as found\nA1,1\n", '{wide: {v: "{visit}"}}')
    assert (told.line, told.column) == (1, 2)
    assert "the column 'as found' has no unit" in told.message
    assert "readings: {columns: {v: {unit: um}}}" in told.advice
    (told,) = problems("Pt,as found [um],as left [mm]\nA1,1,2\n", '{wide: {v: "{visit}"}}')
    assert "has another unit than 'as found [um]'" in told.message
    (told,) = problems("Pt,visit,as left\nA1,as left,2\n", VISITS)
    assert "visit stands in a column of its own" in told.message
    (told,) = problems("Pt,note\nA1,x\n", '{wide: {v: "run {repeat} [um]"}}')
    assert "no header matches a pattern" in told.message


NUMBER = st.one_of(st.none(), st.integers(-9000, 9000).map(lambda n: n / 10.0))


@given(
    table=st.lists(st.lists(NUMBER, min_size=3, max_size=3), min_size=1, max_size=7), order=st.permutations([0, 1, 2])
)
@settings(max_examples=100, deadline=None)
def test_wide_and_long_say_the_same(table, order):
    names = ["as found", "as left", "after shims"]
    wide = ",".join(["Pt", *(names[k] for k in order)]) + "\n"
    long = "visit,station,v [um]\n"
    for k, row in enumerate(table):
        wide += ",".join([f"A{k + 1}", *("" if row[j] is None else f"{row[j]}" for j in order)]) + "\n"
    for j in order:
        long += "".join(f"{names[j]},A{k + 1},{row[j]}\n" for k, row in enumerate(table) if row[j] is not None)
    if all(value is None for row in table for value in row):
        return
    found, wanted = read_readings_text(wide, WIDE), read_readings_text(long, LONG)
    assert (found.visit, found.station) == (wanted.visit, wanted.station)
    assert found.v.tolist() == wanted.v.tolist()


WIDE, LONG = bed(VISITS), bed()


def test_headers_may_take_two_rows():
    """The upper ones are merged cells in a spreadsheet: they hold until the next one."""
    mapped = '{columns: {h: {unit: um}, v: {unit: um}}, wide: {h: "{visit} h", v: "{visit} v"}}'
    for text in (
        "station;as found;;as left;\n;h;v;h;v\nA1;1;2;3;4\n",
        "Bed;;;;\n;as found;;as left;\nstation;h;v;h;v\nA1;1;2;3;4\n",
        "Bed\nPt;as found;;as left;\n;h;v;h;v\nA1;1;2;3;4\n",
    ):
        found = read(text, mapped)
        assert found.visit == ("as found", "as left")
        assert found.h == pytest.approx([1e-6, 3e-6])
        assert found.v == pytest.approx([2e-6, 4e-6])
        live = LiveReadings(bed(mapped))
        live.take(text)
        assert live.readings.v.tolist() == found.v.tolist()


def test_a_wrong_cell_of_a_wide_row_costs_only_its_record_live():
    live = LiveReadings(bed(VISITS))
    said = live.take("Pt;as found;as left\nA1;x;3\n")
    assert [(each.line, each.column) for each in said if not isinstance(each, Taken)] == [(2, 2)]
    assert (live.readings.visit, live.readings.station) == (("as left",), ("A1",))


def test_a_wide_table_is_followed_live():
    live = LiveReadings(bed(VISITS))
    said = live.take("Pt;as found 1;as found 2;as left\nA1;1,5;2;3\nA9;1;2;3\nA2;4;;6\n")
    assert [each.station for each in said if isinstance(each, Taken)] == ["A1", "A1", "A1", "A2", "A2"]
    assert [each.line for each in said if not isinstance(each, Taken)] == [3]
    assert live.readings.visit == ("as found", "as found", "as left", "as found", "as left")


# --- written by the same layout -------------------------------------------------------------------------------------

SECTIONS = [
    "{decimal: comma}",
    "{decimal: comma, delimiter: semicolon}",
    "{decimal: point, delimiter: tab}",
    "{delimiter: spaces}",
    '{headers: [station, "v [um]"]}',
    "{columns: {station: Pt, v: {header: Height, unit: mm}, time: {header: At, unit: min}}, decimal: comma}",
    VISITS,
    '{columns: {v: {unit: um}}, wide: {v: "{column}", station: "{row}{column}"}, delimiter: semicolon}',
    "{signs: {v: target up, h: target right}, sheet: Bed 1}",
]


@pytest.mark.parametrize("section", SECTIONS)
def test_what_a_layout_writes_it_reads(section, tmp_path):
    layout = bed(section)
    wanted = read_readings([EXAMPLES / "press_bed" / "readings" / "as_found.csv"], bed())
    record_file = RecordFile(tmp_path / "records.csv", layout)
    live = LiveReadings(layout, record_file=record_file)
    said = live.take(readings_text(wanted, layout, 1e-9))
    record_file.close()
    assert len(live) == len(wanted), said[:2]
    written = read_readings_text(readings_text(wanted, layout, 1e-9), layout)
    for found in (written, live.readings, read_readings([tmp_path / "records.csv"], layout)):
        assert found.station == wanted.station
        for name in ("h", "v", "time"):
            np.testing.assert_allclose(
                getattr(found, name), getattr(wanted, name), rtol=0.0, atol=1e-6 if name == "time" else 1.1e-9
            )


# --- the README ------------------------------------------------------------------------------------------------------

README = (EXAMPLES.parent / "README.md").read_text(encoding="utf-8").split("### Readings")[1].split("\n## ")[0]


def test_every_key_and_word_of_the_mapping_is_in_the_readme():
    keys = {field.alias for keys in (ReadingsKeys, WideKeys, SignKeys) for field in keys.model_fields.values()}
    assert {key for key in keys if not re.search(rf"\b{key}\b", README)} == set()
    assert {word for word in WORDS if f"{{{word}}}" not in README} == set()


def test_the_sections_in_the_readme_are_read():
    section = README.split("```yaml")[1].split("```")[0]
    assert read_layout("bed.yaml", PRESS + section).readings.headers == ("station", "v [um]", "note")
    shown = re.findall(r"\| `(\{.*?\})` \|\n", README)
    assert len(shown) == 5
    for section in shown:
        assert bed(section).readings.wide is not None


def test_the_record_in_the_readme_is_taken():
    (record,) = re.findall(r'^\{"station".*\}$', README, re.MULTILINE)
    assert isinstance(LiveReadings(bed()).take_record(record), Taken)


# --- pasted blocks ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "station\tv [um]\tnote\nA1\t1,5\tall well\nA2\t-2\t\n",
        "station   v [um]   note\nA1        1,5      all well\nA2        -2\n",
        "  station   v [um]   note\n\n  A1  1,5  all well\n  A2  -2  \n",
        "Bed, as found\n\nstation;v [um];note\nA1;1,5;all well\nA2;-2;\n",
        'station,v [um],note\nA1,"1,5",all well\nA2,-2,\n',
    ],
)
def test_a_pasted_table_is_read_whatever_stands_between_its_fields(text):
    found = read(text)
    assert (found.station, found.note) == (("A1", "A2"), ("all well", ""))
    assert found.v == pytest.approx([1.5e-6, -2e-6], abs=ROUNDING)


@pytest.mark.parametrize("text", ["A1\t1,5\nA2\t-2\n", "A1   1.5\nA2  -2\n", "A1 1,5\nA2 -2\n", "A1;1,5\nA2;-2\n"])
def test_a_block_without_headers_needs_them_stated(text):
    told = problems(text)
    assert any("there is no column station" in each.message for each in told)
    for layout in (bed('{headers: [station, "v [um]"]}'), with_headers(bed(), "station, v [um]")):
        found = read_readings_text(text, layout)
        assert found.station == ("A1", "A2")
        assert found.v == pytest.approx([1.5e-6, -2e-6], abs=ROUNDING)
        assert found.row.tolist() == [1, 2]


def test_headers_of_the_table_itself_go_before_stated_ones():
    layout = with_headers(bed(), "station, v [mm]")
    assert read_readings_text("v [um],station\n5,A1\n", layout).v == pytest.approx([5e-6])


def test_stated_headers_that_are_wrong_are_told():
    with pytest.raises(ReadingsError, match=r"did you mean station\?"):
        read_readings_text("A1,1\n", with_headers(bed(), "statoin, v [um]"))
    with pytest.raises(ReadingsError, match="line 2, column 3: the row has 3 fields, the header 2"):
        read_readings_text("A1,1\nA2,1,5\n", with_headers(bed(), "station, v [um]"))


def test_a_block_without_headers_comes_live_too():
    live = LiveReadings(with_headers(bed(), "station, v [um]"))
    said = live.take("A1   1\nA2   2\n")
    assert [each.station for each in said] == ["A1", "A2"]


# --- unknown names ---------------------------------------------------------------------------------------------------


def test_all_unknown_stations_are_told_in_one_problem_with_near_names():
    text = "station,v [um]\nA1,1\nA9,2\nAl,3\nA9,4\nqqq,5\nB2,6\nA9,7\n"
    (told,) = problems(text)
    assert (told.line, told.column) == (3, 1)
    assert told.message.startswith("5 records name 3 stations that the layout does not have: ")
    assert "'A9' (3 records from line 3, column 1; did you mean A7 or A6 or A5?)" in told.message
    assert "'Al' (in line 4, column 1; did you mean A1?)" in told.message
    assert "'qqq' (in line 6, column 1)" in told.message


def test_one_unknown_station_is_told_once_however_often_it_stands_there():
    (told,) = problems("station,v [um]\n" + "A9,1\n" * 500)
    assert told.message == "station 'A9' is not in the layout (500 records name it)"


def test_hundreds_of_unknown_stations_are_one_problem():
    (told,) = problems("station,v [um]\n" + "".join(f"X{k},1\n" for k in range(300)))
    assert "300 records name 300 stations" in told.message
    assert "and 240 more" in told.message
