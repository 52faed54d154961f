"""Readings files as crews write them: what is understood, and what is refused with which words."""

import codecs
import io
import sys
from types import SimpleNamespace

import numpy as np
import pytest

from scenes.errors import ReadingsError
from scenes.model.devices import Target
from scenes.model.layout import Air, Layout, ReadingsMapping, ShownUnits
from scenes.model.mounts import Mount
from scenes.model.survey import LevelBy, Setup, Station
from scenes.readings import read_readings, read_readings_text

UM = 1e-6
PICOMETRE = 1e-12
POST = Mount("post", 0.12, 0.1, 0.2, 1e-6, 1e-5)
STATIONS = {"A1": "t1", "A2": "t1", "A3": "t1", "B1": "t2", "B2": "t2"}


def target(name, window, zero_v=0.0, zero_h=0.0):
    return Target(name, "two axes", window, window, 0.05, 1e-6, 1e-3, zero_h, zero_v, 1e-6, 1e-3, 3e-3)


def setup(name, reads, again=()):
    return Setup(name, "laser", "base", "floor", [0, 0, 0], POST, LevelBy.BEST_FIT, (), reads, again)


def layout(mapping=None, setups=None):
    stations = {name: Station(name, "bed", [0, 0, 0], used, POST, "grid") for name, used in STATIONS.items()}
    setups = setups or [setup("first", ("A1", "A2", "A3")), setup("second", ("B1", "B2"), ("A3",))]
    targets = {"t1": target("t1", 0.010), "t2": target("t2", 0.020, zero_v=5 * UM, zero_h=-2 * UM)}
    return Layout(
        file="layout.yaml",
        title="",
        units=ShownUnits(),
        air=Air(),
        surfaces={},
        emitters={},
        bases={},
        targets=targets,
        stations=stations,
        groups={},
        setups={one.name: one for one in setups},
        tasks={},
        feet={},
        readings=mapping or ReadingsMapping(),
    )


def read(text, **mapping):
    return read_readings_text(text, layout(ReadingsMapping(**mapping)))


def problems(text, **mapping):
    with pytest.raises(ReadingsError) as caught:
        read(text, **mapping)
    return [
        SimpleNamespace(place=(one.line, one.column), text=one.message, advice=one.advice)
        for one in caught.value.problems
    ]


def only_problem(text, **mapping):
    found = problems(text, **mapping)
    assert len(found) == 1, [one.text for one in found]
    return found[0]


def test_a_station_and_one_value_are_enough_where_the_layout_says_the_rest():
    readings = read("station,v [um]\nA1,12.5\nB2,-3\n")
    assert readings.station == ("A1", "B2")
    assert readings.setup == ("first", "second")
    assert readings.visit == ("as found", "as found")
    assert readings.v == pytest.approx([12.5 * UM, -8 * UM], abs=PICOMETRE)  # the zero of t2 is 5 um
    assert np.isnan(readings.h).all()
    assert np.isnan(readings.time).all()
    assert list(readings.mount_offset) == [0.0, 0.0]
    assert list(readings.row) == [2, 3]
    assert readings.remarks == ()


def test_all_columns_in_another_order_case_and_spelling():
    readings = read(
        "NOTE,Mount_Offset [mm],v zero [um],Time [min],H [mm],V [thou],Target,STATION,Set-up,Visit,h_zero [um]\n"
        'blocks,50,2,0,0.1,1,t2,B1,second,As_Left,10\n"wind, gusty",,,1.5,,2,,B1,second,as left,\n'
    )
    assert readings.visit == ("as left", "as left")
    assert readings.note == ("blocks", "wind, gusty")
    assert readings.v == pytest.approx([25.4e-6 - 2 * UM - 5 * UM, 50.8e-6 - 5 * UM], abs=PICOMETRE)
    assert readings.h[0] == pytest.approx(100 * UM - 10 * UM + 2 * UM, abs=PICOMETRE)
    assert np.isnan(readings.h[1])
    assert list(readings.mount_offset) == [pytest.approx(0.050), 0.0]
    assert list(readings.time) == [0.0, 90.0]


@pytest.mark.parametrize(
    ("name", "visit"),
    [
        ("as_found.csv", "as found"),
        ("As-Left.CSV", "as left"),
        ("after_first_shims.csv", "after first shims"),
        ("day 2.txt", "day 2"),
    ],
)
def test_the_visit_comes_from_the_name_of_the_file(tmp_path, name, visit):
    path = tmp_path / name
    path.write_text("station,v [um]\nA1,1\n", encoding="utf-8")
    readings = read_readings([path], layout())
    assert readings.visit == (visit,)
    assert readings.file == (str(path),)


def test_a_cell_of_the_visit_goes_before_the_name_of_the_file(tmp_path):
    path = tmp_path / "as_found.csv"
    path.write_text("visit,station,v [um]\nas left,A1,1\n,A1,2\n", encoding="utf-8")
    assert read_readings([path], layout()).visit == ("as left", "as found")


def test_a_station_of_two_setups_must_say_from_which_it_was_read():
    found = only_problem("station,v [um]\nA1,1\nA3,2\n")
    assert found.place == (3, 0)
    assert "A3" in found.text
    assert "first, second" in found.advice
    assert read("setup,station,v [um]\nsecond,A3,1\n,A1,2\n").setup == ("second", "first")


def test_one_setup_is_the_setup_of_every_row_and_unplanned_stations_are_remarked_on():
    readings = read_readings_text("station,v [um]\nA1,1\nB1,1\n", layout(setups=[setup("plane", ("A1",))]))
    assert readings.setup == ("plane", "plane")
    assert readings.remarks == ("standard input, line 3: station B1 is not planned from set-up plane",)


def test_signs_turn_the_whole_reading_with_its_zeros():
    text = "station,h [um],v [um],v zero [um]\nB1,10,20,3\n"
    up, down = read(text), read(text, v_up=False, h_right=False)
    assert (up.h[0], up.v[0]) == pytest.approx((12 * UM, 12 * UM), abs=PICOMETRE)
    assert (down.h[0], down.v[0]) == pytest.approx((-12 * UM, -12 * UM), abs=PICOMETRE)


def test_a_mapping_names_columns_and_states_units():
    columns = {"station": "Pt", "v": "Height [um]", "note": "Remark (crew)"}
    readings = read("Pt;Height;Remark\nA1;1,5;ok\n", columns=columns)
    assert readings.v == pytest.approx([1.5 * UM], abs=PICOMETRE)
    assert readings.note == ("ok",)
    assert read("Pt;Height [um]\nA1;1,5\n", columns=columns).v[0] == pytest.approx(1.5 * UM, abs=PICOMETRE)
    assert read("station,v [um]\nA1,2\n", columns=columns).v[0] == pytest.approx(2 * UM, abs=PICOMETRE)


def test_a_mapping_may_exchange_the_axes():
    readings = read("station,h [um],v [um]\nA1,1,2\n", columns={"h": "v [um]", "v": "h [um]"})
    assert (readings.h[0], readings.v[0]) == pytest.approx((2 * UM, 1 * UM), abs=PICOMETRE)


def test_a_wrong_mapping_is_a_problem_of_the_layout():
    with pytest.raises(ReadingsError) as caught:
        read("station,v [um]\nA1,1\n", columns={"statin": "Pt", "h": "Height", "v": "height [um]"})
    assert [one.file for one in caught.value.problems] == ["layout.yaml", "layout.yaml"]
    assert "did you mean station" in caught.value.problems[0].advice
    assert "both read from" in caught.value.problems[1].message


def test_a_unit_that_contradicts_the_mapping_is_refused():
    found = only_problem("station,Height [mm]\nA1,1\n", columns={"v": "Height [um]"})
    assert "'Height [mm]'" in found.text
    assert "um" in found.text


@pytest.mark.parametrize(
    ("header", "advice"),
    [
        ("statoin", "station"),
        ("vist", "visit"),
        ("tme", "time"),
        ("zero [um]", "h zero or v zero"),
        ("offset [mm]", "mount offset"),
        ("mont offset [mm]", "mount offset"),
    ],
)
def test_a_slip_in_a_header_is_an_error_with_what_may_be_meant(header, advice):
    found = problems(f"{header},{'note' if header == 'statoin' else 'station'},v [um]\nA1,A1,1\n")
    assert found[0].place == (1, 1)
    words = set(found[0].advice.partition("?")[0].removeprefix("did you mean ").split(" or "))
    assert words == set(advice.split(" or "))


def test_other_columns_are_allowed_and_remarked_on():
    readings = read("station,v [um],operator,pitch [arcsec],vision,,\nA1,1,JD,3,clear,x,\n")
    assert [remark.partition(": ")[2] for remark in readings.remarks] == [
        "the column 'operator' is not used",
        "the column 'pitch [arcsec]' is not used",
        "the column 'vision' is not used",
        "column 6 has no header and is not used",
    ]


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("station,v\nA1,1\n", (1, 2), "'v' has no unit"),
        ("station,v [arcsec]\nA1,1\n", (1, 2), "not a unit of length"),
        ("station,v [Mm]\nA1,1\n", (1, 2), "'Mm' is not a known unit"),
        ("station,v [km]\nA1,1\n", (1, 2), "'km' is no unit for a table"),
        ("station,v [9**9**9 m]\nA1,1\n", (1, 2), "is not a known unit"),
        ("station,v [um],v [mm]\nA1,1,1\n", (1, 3), "two columns hold v: 'v [um]' (column 2) and 'v [mm]'"),
        ("station,v [um],Station\nA1,1,A1\n", (1, 3), "two columns hold station"),
        ("Pt,v [um]\nA1,1\n", (1, 0), "no column station"),
        ("station,note\nA1,1\n", (1, 0), "no column of values"),
        ("station,v [um]\n", (1, 0), "no records below the headers"),
        ("# nothing\n\n", (0, 0), "no row of headers"),
        (" \r\n\n", (0, 0), "the file is empty"),
        ("station,v [um]\nA4,1\n", (2, 1), "'A4' is not in the layout"),
        ("station,v [um]\n,1\n", (2, 1), "names no station"),
        ("setup,station,v [um]\nfrist,A1,1\n", (2, 1), "'frist' is not in the layout"),
        ("station,target,v [um]\nA1,t9,1\n", (2, 2), "target 't9' is not in the layout"),
        ("station,target,v [um]\nA1,t2,1\n", (2, 2), "reads station 'A1' with 't1'"),
        ("station,v [um]\nA1,5011\n", (2, 2), "5011 is outside the window of target t1 (from -5000 to 5000 um"),
        ("station,v [mm]\nA1,12\n", (2, 2), "(from -5 to 5 mm"),
        ("station,v [um]\nA1,1e999\n", (2, 2), "too large"),
        ("station,v [um]\nA1,12 um\n", (2, 2), "not a plain number"),
        ("station,v [um]\nA1,twelve\n", (2, 2), "'twelve' is not a number"),
        ("station,v [um],mount offset [m]\nA1,1,50\n", (2, 3), "more than 1 m"),
        ("station,v [um]\nA1,1,2\n", (2, 3), "the row has 3 fields, the header 2"),
        ("station,note,v [um]\nA1\n", (2, 1), "the row ends after 1 field, before v [um]"),
        ('station,v [um]\nA1,"1\nA2,2\n', (2, 0), "never closed"),
        ('station,v [um]\nA1,"1"2\n', (2, 0), "followed by text instead of a comma"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(text, place, words):
    found = only_problem(text)
    assert words in found.text
    assert found.place == place


def test_an_unknown_station_is_answered_with_near_names():
    assert only_problem("station,v [um]\na1,1\n").advice.startswith("did you mean A1")


def test_a_reading_at_the_edge_of_the_window_is_taken():
    assert read("station,v [um]\nA1,5000\nA1,-5000\n").v == pytest.approx([5000 * UM, -5000 * UM])


@pytest.mark.parametrize("mark", ["", "-", "–", "n/a", "N/A", "nan"])
def test_missing_values_are_not_numbers_and_rows_without_a_value_are_left_out(mark):
    readings = read(f"station;h [um];v [um];note\nA1;{mark};1;\nA2;{mark};{mark};column in the way\nB1;2;{mark};\n")
    assert readings.station == ("A1", "B1")
    assert np.isnan(readings.h).tolist() == [True, False]
    assert np.isnan(readings.v).tolist() == [False, True]
    assert readings.remarks == ("standard input, line 3: station A2 was not read",)


def test_repeats_stay_rows_in_the_order_of_the_file():
    readings = read("station,v [um]\nA1,1\nA2,2\nA1,3\n")
    assert readings.station == ("A1", "A2", "A1")
    assert readings.v == pytest.approx([1 * UM, 2 * UM, 3 * UM], abs=PICOMETRE)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("station;v [um]\nA1;1,5\nA2;-0,25\n", [1.5, -0.25]),
        ("station;v [um]\nA1;1.5\nA2;-.25\n", [1.5, -0.25]),
        ("station\tv [um]\nA1\t1,5\nA2\t+2\n", [1.5, 2]),
        ('station,v [um]\nA1,"1,5"\nA2,2\n', [1.5, 2]),
        ('station, v [um]\n"A1", "1,234"\nA2,"0,5"\n', [1.234, 0.5]),  # 0,5 shows what 1,234 means
        ("station;v [um]\nA1;1,234\nA2;2\n", [1.234, 2]),
        ("station,v [um]\nA1,1.5e1\nA2,\u22122\n", [15, -2]),
        ("sep=;\nstation;v [um]\nA1;1\nA2;2\n", [1, 2]),
        ("station;v [um];\nA1;1;\nA2;2;;\n", [1, 2]),
    ],
)
def test_delimiters_and_decimal_signs(text, values):
    assert read(text).v == pytest.approx(np.array(values) * UM, abs=PICOMETRE)


@pytest.mark.parametrize("cell", ["1 234", "1.234,5", '"1,234.5"', "1'234", "1\u202f234", '"1,234,567"', "1_000"])
def test_thousands_separators_are_refused(cell):
    delimiter = "," if "," not in cell or cell.startswith('"') else ";"
    found = only_problem(f"station{delimiter}v [um]\nA1{delimiter}{cell}\n")
    assert "thousands separator" in found.text
    assert found.place == (2, 2)


def test_a_comma_that_may_separate_thousands_is_refused_where_nothing_tells():
    assert "decimal comma or a thousands separator" in only_problem('station,v [um]\nA1,"1,234"\n').text
    assert "decimal comma or a thousands separator" in only_problem("station\tv [um]\nA1\t1,234\n").text
    found = only_problem('station,v [um]\nA1,"1,234"\nA2,0.5\n')
    assert "has a thousands separator (line 3 has a decimal point)" in found.text


def test_decimal_commas_and_points_do_not_mix():
    found = only_problem("station;v [um]\nA1;1.5\nA2;2,5\n")
    assert found.place == (3, 2)
    assert "'1.5' in line 2 a decimal point" in found.text


def test_digits_behind_an_unquoted_decimal_comma_do_not_pass_in_silence():
    assert "bare number 5" in read("station,v [um],note\nA1,1,5\n").remarks[0]


def test_comments_blank_rows_and_line_breaks_in_quotes_keep_true_line_numbers():
    text = (
        '# read by hand, "cold\r\n\r\nstation,note,v [um]\r\nA1,"two\r\n# lines",1\r\n  # a comment\r\n,,\r\n'
        "A2,,2\r\n\r\nA9,,3\r\n"
    )
    found = only_problem(text)
    assert found.place == (10, 1)
    readings = read(text.replace("A9", "A3").replace("station", "setup,station").replace("\r\nA", "\r\nfirst,A"))
    assert list(readings.row) == [4, 8, 10]
    assert readings.note == ("two\n# lines", "", "")


def test_encodings():
    text = "station;v [µm];note\nA1;1,5;Säule\n"
    plain = read(text.encode())
    assert plain.note == ("Säule",)
    assert read(codecs.BOM_UTF8 + text.encode()).note == ("Säule",)
    windows = read(text.encode("cp1252"))
    assert windows.note == ("Säule",)
    assert "read as Windows-1252" in windows.remarks[0]
    assert windows.v == pytest.approx(plain.v)
    assert "UTF-16" in only_problem(text.encode("utf-16")).text
    assert "neither UTF-8" in only_problem(b"station;v [um]\nA1;\x81\xff\n").text
    assert "spreadsheet" in only_problem(b"PK\x03\x04\x14\x00").text
    assert only_problem(b"station\n\x00\x01").place == (2, 0)


@pytest.mark.parametrize(
    ("cells", "seconds"),
    [
        (["08:15", "08:15:30", "09:00"], [0, 30, 2700]),
        (["23:50", "00:10", "23:00", "00:01"], [0, 1200, 83400, 87060]),
        (["2026-03-01T23:59:59", "2026-03-02 00:00:01.5"], [0, 2.5]),
        (["2026-03-01T08:00+01:00", "2026-03-01T07:30Z"], [0, 1800]),
        (["", "08:15", "-", "08:16"], [np.nan, 0, np.nan, 60]),
    ],
)
def test_times_count_from_the_first_record(cells, seconds):
    readings = read("station,v [um],time\n" + "".join(f"A1,1,{cell}\n" for cell in cells))
    assert readings.time == pytest.approx(seconds, nan_ok=True)


def test_counted_times_and_their_units():
    assert list(read("station;v [um];time [s]\nA1;1;100\nA1;1;160,5\n").time) == [0.0, 60.5]
    assert list(read("station;v [um];time [h]\nA1;1;0\nA1;1;0,5\n").time) == [0.0, 1800.0]


def test_each_visit_and_setup_has_its_own_clock():
    readings = read(
        "visit,setup,station,v [um],time\nas found,first,A1,1,10:00\nas found,second,B1,1,09:00\n"
        "as found,first,A2,1,10:01\nas left,first,A1,1,08:00\nas found,second,B2,1,09:03\n"
    )
    assert list(readings.time) == [0.0, 0.0, 60.0, 0.0, 180.0]


@pytest.mark.parametrize(
    ("header", "cells", "words"),
    [
        ("time", ["09:30", "08:10"], "'08:10' is earlier than '09:30' in line 2"),
        ("time", ["2026-03-02T01:00", "2026-03-01T13:00"], "is earlier than"),
        ("time [s]", ["80000", "10"], "is earlier than"),
        ("time", ["09:30", "2026-03-01T09:31"], "is not written like '09:30' in line 2"),
        ("time", ["09:30", "24:10"], "'24:10' is not a time of day"),
        ("time", ["09:30", "570"], "'570' is not a time"),
        ("time", ["2026-03-01T09:30", "2026-03-01"], "'2026-03-01' is not a time"),
        ("time [s]", ["0", "09:30"], "'09:30' is not a number of s"),
        ("time [s]", ["0", "1e12"], "more than ten years"),
        ("time [mm]", ["0", "1"], "'mm' is not a unit of time"),
    ],
)
def test_times_that_cannot_be(header, cells, words):
    found = only_problem(f"station,v [um],{header}\n" + "".join(f"A1,1,{cell}\n" for cell in cells))
    assert words in found.text
    assert found.place == ((1, 3) if "unit" in words else (3, 3))


def test_a_wrong_time_is_not_blamed_on_the_rows_after_it():
    found = only_problem("station,v [um],time\nA1,1,09:00\nA2,1,19:00\nA3,1,09:02\nA1,1,09:03\n".replace("A3", "A1"))
    assert found.place == (4, 3)


def test_all_problems_of_all_files_come_in_one_pass(tmp_path):
    first, second = tmp_path / "as_found.csv", tmp_path / "as_left.csv"
    first.write_text("statoin,v [um],tme\nA1,x\n", encoding="utf-8")
    second.write_text("station,v [um],time\nA9,1,10:00\nA1,9999,9:00\n", encoding="utf-8")
    (tmp_path / "empty.csv").touch()
    paths = [first, second, tmp_path / "empty.csv", tmp_path / "as_lft.csv", tmp_path, first]
    with pytest.raises(ReadingsError) as caught:
        read_readings(paths, layout())
    places = [(one.file.rpartition("/")[2], one.line, one.column) for one in caught.value.problems]
    assert places == [
        ("as_found.csv", 0, 0),
        ("as_found.csv", 1, 1),
        ("as_found.csv", 1, 3),
        ("as_found.csv", 2, 2),
        ("as_left.csv", 2, 1),
        ("as_left.csv", 3, 2),
        ("empty.csv", 0, 0),
        ("as_lft.csv", 0, 0),
        (tmp_path.name, 0, 0),
    ]
    told = "\n".join(str(one) for one in caught.value.problems)
    assert "did you mean as_left.csv" in told
    assert "named twice" in told
    assert "this is a folder" in told


def test_several_files_make_one_table(tmp_path):
    for name, value in (("as_found", 1), ("as_left", 2)):
        (tmp_path / f"{name}.csv").write_text(f"station,v [um],time\nA1,{value},10:00\n", encoding="utf-8")
    readings = read_readings([tmp_path / "as_found.csv", tmp_path / "as_left.csv"], layout())
    assert readings.visit == ("as found", "as left")
    assert list(readings.time) == [0.0, 0.0]
    assert list(readings.row) == [2, 2]
    assert [name.rpartition("/")[2] for name in readings.file] == ["as_found.csv", "as_left.csv"]


def test_no_file_at_all_is_an_error():
    with pytest.raises(ReadingsError, match="no readings file"):
        read_readings([], layout())


def test_standard_input(monkeypatch):
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(b"station,v [um]\nA1,1\n")))
    readings = read_readings(["-"], layout())
    assert readings.file == ("standard input",)
    assert readings.visit == ("as found",)


def test_a_survey_without_any_value_yet_is_empty_and_not_an_error():
    readings = read("station,v [um]\nA1,\nA2,\n")
    assert len(readings) == 0
    assert len(readings.remarks) == 2


def test_rows_cannot_be_written_to():
    readings = read("station,v [um]\nA1,1\n")
    for array in (readings.v, readings.h, readings.time, readings.mount_offset, readings.row):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0
