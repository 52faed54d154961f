"""Readings in spreadsheets: the same readings as in text, and errors that name sheet and cell."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.errors import ReadingsError
from scenes.layout.read import read_layout
from scenes.readings import read_points_text, read_readings, read_readings_text
from scenes.readings import workbook as books
from scenes.readings.journal import cell_name
from scenes.readings.truth_file import read_truth_text

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = sorted(path.parent.name for path in EXAMPLES.glob("*/layout.yaml"))
BED = read_layout(EXAMPLES / "press_bed" / "layout.yaml")
NUMBERS = ("h", "v", "pitch", "yaw", "clock", "side", "time", "mount_offset")
TEXTS = ("visit", "setup", "station", "note")
ROUNDING = 1e-15  # metres; conversion of units


def book(*rows, sheet="Bed 1", **others) -> bytes:
    """A spreadsheet with ``rows`` in one sheet and further sheets by name."""
    made = openpyxl.Workbook()
    made.active.title = sheet
    for row in rows:
        made.active.append(list(row))
    for name, content in others.items():
        other = made.create_sheet(name)
        for row in content:
            other.append(list(row))
    stream = io.BytesIO()
    made.save(stream)
    return stream.getvalue()


def read(data: bytes, layout=BED, **mapping):
    return read_readings_text(data, replace(layout, readings=replace(layout.readings, **mapping)), "bed.xlsx")


def problems(data: bytes, **mapping) -> list[str]:
    with pytest.raises(ReadingsError) as caught:
        read(data, **mapping)
    return [str(problem) for problem in caught.value.problems]


def assert_same(found, wanted) -> None:
    for name in TEXTS:
        assert getattr(found, name) == getattr(wanted, name), name
    for name in NUMBERS:
        np.testing.assert_allclose(getattr(found, name), getattr(wanted, name), rtol=0.0, atol=ROUNDING, err_msg=name)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("typed", [True, False], ids=["numbers", "texts"])
def test_a_file_of_text_and_its_spreadsheet_give_the_same_readings(name, typed, tmp_path):
    layout, path = read_layout(EXAMPLES / name / "layout.yaml"), EXAMPLES / name / "readings" / "as_found.csv"
    rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))

    def cell(text: str):
        try:
            return (float(text) if typed else text) if text else None
        except ValueError:
            return text

    (tmp_path / "as_found.xlsx").write_bytes(book(*[[cell(text) for text in row] for row in rows]))
    found, wanted = read_readings([tmp_path / "as_found.xlsx"], layout), read_readings([path], layout)
    assert_same(found, wanted)
    assert found.row.tolist() == wanted.row.tolist()


HEAD = ("station", "v [um]", "note")


def test_titles_blank_rows_and_columns_beside_are_passed_over():
    data = book(("Press 4, bed", None, None), (), (None, *HEAD), (None, "A1", 1.5, "x"), (), (None, "A2", -2, 7))
    found = read(data)
    assert found.station == ("A1", "A2")
    assert found.v == pytest.approx([1.5e-6, -2e-6], abs=ROUNDING)
    assert found.note == ("x", "7")
    assert found.row.tolist() == [4, 6]


def test_a_merged_title_is_passed_over():
    made = openpyxl.load_workbook(io.BytesIO(book(("Readings of the bed",), HEAD, ("A1", 1, None))))
    made.active.merge_cells("A1:C1")
    stream = io.BytesIO()
    made.save(stream)
    assert read(stream.getvalue()).station == ("A1",)


def test_numbers_stay_numbers_whatever_the_decimal_mark():
    data = book(HEAD, ("A1", 1234.5, None), ("A2", 1e-05, None))
    for decimal in ("", "comma", "point"):
        assert read(data, decimal=decimal).v == pytest.approx([1234.5e-6, 1e-11], abs=1e-20)
    assert read(book(HEAD, ("A1", "1,5", None), ("A2", 2.5, None))).v == pytest.approx([1.5e-6, 2.5e-6])


def test_dates_times_and_counts_of_time():
    day = dt.datetime(2026, 3, 1, 8, 15)
    rows = [("station", "v [um]", "time")]
    rows += [(f"A{k + 1}", k, day + dt.timedelta(seconds=90 * k)) for k in range(3)]
    assert read(book(*rows)).time == pytest.approx([0, 90, 180], abs=1e-3)
    rows[1:] = [(f"A{k + 1}", k, dt.time(23, 59, 30 * k)) for k in range(2)] + [("A3", 3, dt.time(0, 1))]
    assert read(book(*rows)).time == pytest.approx([0, 30, 120], abs=1e-3)
    rows[1:] = [(f"A{k + 1}", k, dt.timedelta(minutes=k)) for k in range(3)]
    assert read(book(*rows)).time == pytest.approx([0, 60, 120], abs=1e-3)


def test_a_station_that_is_a_number_keeps_its_name():
    stations = {"1": replace(BED.stations["A1"], name="1")}
    layout = replace(BED, stations=stations, setups={"plane": replace(BED.setups["plane"], reads=("1",), again=())})
    assert read(book(HEAD, (1, 5, None)), layout).station == ("1",)
    assert read(book(HEAD, (1.0, 5, None)), layout).station == ("1",)


def test_errors_are_told_by_sheet_and_cell():
    told = problems(book((), ("note", "station", "v [um]"), ("", "A1", "oops"), ("", "A1", 99_999), (None, None, 5)))
    assert told[0].startswith("bed.xlsx, sheet Bed 1, cell C3: v [um]: 'oops' is not a number")
    assert told[1].startswith("bed.xlsx, sheet Bed 1, cell C4: v [um]: 99999 is outside the window")
    assert told[2] == "bed.xlsx, sheet Bed 1, cell B5: the row names no station"
    (header,) = problems(book(("station", "v", "note"), ("A1", 1, None)))
    assert header.startswith("bed.xlsx, sheet Bed 1, cell B1: the column 'v' has no unit")
    (back,) = problems(book(("station", "v [um]", "time [s]"), ("A1", 1, 60), ("A2", 1, 0)))
    assert back.startswith("bed.xlsx, sheet Bed 1, cell C3: time: '0' is earlier than '60' in row 2")


def test_remarks_name_sheet_and_row():
    found = read(book(("station", "v [um]", "weather"), ("A1", 1, "dry"), ("A2", None, "dry")))
    assert found.remarks == (
        "bed.xlsx, sheet Bed 1, row 1: the column 'weather' is not used",
        "bed.xlsx, sheet Bed 1, row 3: station A2 was not read",
    )


def test_a_formula_counts_by_the_value_that_was_calculated():
    data = book(HEAD, ("A1", "=1+1", None), ("A2", 3, None))
    (told,) = problems(data)
    assert told.startswith("bed.xlsx, sheet Bed 1, cell B2: v [um]: the cell holds a formula without a value")
    assert "let it calculate" in told
    calculated = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(calculated, "w") as new:
        for part in old.infolist():
            content = old.read(part)
            if part.filename.endswith("sheet1.xml"):
                assert b"<f>1+1</f><v></v>" in content or b"<f>1+1</f><v/>" in content or b"<v />" in content
                for empty in (b"<v></v>", b"<v/>", b"<v />"):
                    content = content.replace(b"<f>1+1</f>" + empty, b"<f>1+1</f><v>2</v>")
            new.writestr(part, content)
    assert read(calculated.getvalue()).v == pytest.approx([2e-6, 3e-6])


def test_a_formula_without_a_value_that_names_a_station_is_no_station():
    (told,) = problems(book(HEAD, ('="A"&1', 1, None)))
    assert "cell A2: station: the cell holds a formula without a value" in told


def test_a_formula_in_a_column_that_is_not_used_does_no_harm():
    assert read(book((*HEAD, "sum"), ("A1", 1, None, "=B2*2"))).station == ("A1",)


def test_the_sheet_is_the_stated_one_or_the_only_one_with_headers():
    rows = [HEAD, ("A1", 1, None)]
    other = [HEAD, ("A2", 2, None)]
    assert read(book(*rows, Remarks=[("all", "well")])).station == ("A1",)
    assert read(book(*rows, Empty=[])).station == ("A1",)
    both = book(*rows, Other=other)
    assert read(both, sheet="other").station == ("A2",)
    (told,) = problems(both)
    assert "2 sheets have headers of readings: 'Bed 1', 'Other'" in told
    assert "readings: {sheet: Bed 1}" in told
    (told,) = problems(both, sheet="Third")
    assert "there is no sheet 'Third'" in told
    assert "'Bed 1', 'Other'" in told
    (told,) = problems(book(("a", "b"), (1, 2), Other=[("c", "d"), (3, 4)]))
    assert "no sheet has headers of readings" in told


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"PK\x03\x04 and then nothing", "damaged"),
        (book(HEAD, ("A1", 1, None))[:-300], "damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 50, "old kind, or one with a password"),
        (book(), "the spreadsheet is empty"),
        (book(HEAD), "there are no records below the headers"),
    ],
)
def test_a_broken_spreadsheet_is_one_clear_error(data, message):
    (told,) = problems(data)
    assert message in told


def packed(**parts: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in parts.items():
            made.writestr(name.replace("__", "/"), content)
    return stream.getvalue()


def test_packed_files_that_are_no_spreadsheet():
    assert "no spreadsheet" in problems(packed(readme=b"hello"))[0]
    assert "cannot be read" in problems(packed(xl__workbook=b"<workbook/>"))[0]
    with_names = {"content.xml": "OpenDocument", "xl/workbook.bin": "binary spreadsheet", "word/document.xml": "text"}
    for name, words in with_names.items():
        (told,) = problems(packed(**{name: b"x"}))
        assert words in told
        assert "save it as XLSX or CSV" in told


def test_a_file_that_unpacks_to_too_much_is_refused_unread(monkeypatch):
    monkeypatch.setattr(books, "LARGEST_PART", 1_000_000)
    data = packed(xl__workbook=b"<workbook/>", xl__bomb=b"\0" * 1_000_001)
    assert len(data) < 5_000
    (told,) = problems(data)
    assert "unpacks to 1 MB, more than readings need" in told


def test_a_sheet_with_too_many_rows_is_refused(monkeypatch):
    monkeypatch.setattr(books, "MOST_ROWS", 50)
    assert len(read(book(HEAD, *[("A1", k, None) for k in range(49)]))) == 49
    (told,) = problems(book(HEAD, *[("A1", k, None) for k in range(50)]))
    assert "bed.xlsx, sheet Bed 1, row 51: the sheet has more than 50 rows" in told


def test_a_sheet_with_too_many_columns_is_refused(monkeypatch):
    monkeypatch.setattr(books, "MOST_COLUMNS", 5)
    assert len(read(book((*HEAD, "", "x"), ("A1", 1, None, None, 5)))) == 1
    (told,) = problems(book(HEAD, ("A1", 1, None, None, None, "x")))
    assert "bed.xlsx, sheet Bed 1, cell F2: the sheet has more than 5 columns" in told


@given(place=st.integers(0, 4000), byte=st.integers(0, 255))
@settings(max_examples=60, deadline=None)
def test_a_damaged_spreadsheet_gives_readings_or_a_readings_error(place, byte):
    data = bytearray(DAMAGED)
    data[place % len(data)] = byte
    with suppress(ReadingsError):
        assert len(read(bytes(data))) <= 3


DAMAGED = book(HEAD, ("A1", 1, "x"), ("A2", 2.5, None), ("A3", 3, dt.date(2026, 3, 1)))


def test_points_and_truths_come_from_spreadsheets_too():
    points = read_points_text(book(("x [mm]", "z [um]"), (0, 1), (100, 2), (200, 4)))
    assert points.z == pytest.approx([1e-6, 2e-6, 4e-6])
    truth = read_truth_text(book(("station", "up [um]"), ("A1", 5)), BED)
    assert truth.up == {"A1": pytest.approx(5e-6)}


def test_names_of_cells():
    assert [cell_name(14, column) for column in (1, 3, 26, 27, 52, 703)] == [
        "A14",
        "C14",
        "Z14",
        "AA14",
        "AZ14",
        "AAA14",
    ]
