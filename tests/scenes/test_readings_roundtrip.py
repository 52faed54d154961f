"""Laws of readings files: written is read back; style never changes a value; nothing breaks the reader."""

import csv
import io

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scenes.errors import ReadingsError
from scenes.model.devices import Target
from scenes.model.layout import Air, Layout, ReadingsMapping, ShownUnits
from scenes.model.mounts import Mount
from scenes.model.readings import Readings
from scenes.model.survey import LevelBy, Setup, Station
from scenes.readings import read_readings, read_readings_text, readings_text, write_readings

UM = 1e-6
ROUNDING = 1e-12  # metres; far below any display, far above float64
POST = Mount("post", 0.12, 0.1, 0.2, 1e-6, 1e-5)
NAMES = tuple(f"{row}{column}" for row in "AB" for column in range(1, 6))


def layout(mapping=None, deviation="um"):
    targets = {
        name: Target(name, "two axes", 0.01, 0.01, 0.05, 1e-6, 1e-3, zero, -zero, 1e-6, 1e-3, 3e-3)
        for name, zero in (("t1", 0.0), ("t2", 7e-6))
    }
    stations = {name: Station(name, "bed", [0, 0, 0], f"t{1 + (name > 'B')}", POST, "grid") for name in NAMES}
    reads = {"first": NAMES[:6], "second": NAMES[4:]}
    setups = {
        name: Setup(name, "laser", "base", "floor", [0, 0, 0], POST, LevelBy.VIAL, (), reads[name]) for name in reads
    }
    units = ShownUnits(deviation=deviation)
    return Layout("", "", units, Air(), {}, {}, {}, targets, stations, {}, setups, {}, {}, mapping or ReadingsMapping())


LAYOUT = layout()
MAPPINGS = [
    ReadingsMapping(),
    ReadingsMapping(v_up=False, h_right=False),
    ReadingsMapping(
        {"h": "v [mm]", "v": "h", "station": "Pt", "note": "Remark (crew)", "time": "Clock [min]"}, v_up=False
    ),
]
PLACES = st.one_of(st.just(float("nan")), st.floats(-0.00498, 0.00498))
TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12).map(str.strip)
NOTES = st.lists(st.one_of(TEXTS, st.sampled_from(["#", '"', ";", ",", "\n", "\t", "-", "1,5"])), max_size=3).map(
    lambda parts: "".join(parts).strip()
)


@st.composite
def surveys(draw):
    n = draw(st.integers(1, 8))
    rows = []
    for _ in range(n):
        setup = draw(st.sampled_from(["first", "second"]))
        h, v = draw(PLACES), draw(st.floats(-0.00498, 0.00498))
        rows.append((draw(st.sampled_from(["as found", "as left", "#3"])), setup, draw(st.sampled_from(NAMES)), h, v))
    visit, setup, station, h, v = zip(*rows, strict=True)
    seconds = np.cumsum(draw(st.lists(st.floats(0, 5000), min_size=n, max_size=n)))
    first = {}
    time = [t - first.setdefault(run, t) for t, run in zip(seconds, zip(visit, setup, strict=True), strict=True)]
    return Readings(
        visit,
        setup,
        station,
        tuple(draw(st.lists(NOTES, min_size=n, max_size=n))),
        np.array(h),
        np.array(v),
        np.array(time) if draw(st.booleans()) else np.full(n, np.nan),
        np.array(draw(st.lists(st.floats(-0.5, 0.5), min_size=n, max_size=n))),
        ("survey.csv",) * n,
        np.arange(n) + 2,
    )


def assert_same(a, b, step=0.0, time_step=0.0):
    assert (a.visit, a.setup, a.station, a.note) == (b.visit, b.setup, b.station, b.note)
    for name in ("h", "v", "mount_offset"):
        np.testing.assert_allclose(getattr(a, name), getattr(b, name), rtol=0, atol=step / 2 + ROUNDING)
    np.testing.assert_allclose(a.time, b.time, rtol=0, atol=time_step + 1e-9)


@given(surveys(), st.sampled_from(MAPPINGS), st.sampled_from(["um", "mm", "thou"]), st.sampled_from([1e-5, 1e-7, 1e-8]))
@settings(max_examples=200, deadline=None)
def test_what_is_written_is_read_back_to_the_printed_resolution(readings, mapping, unit, resolution):
    survey = layout(mapping, unit)
    text = readings_text(readings, survey, resolution)
    back = read_readings_text(text, survey)
    assert_same(back, readings, resolution, 1e-3)
    assert readings_text(back, survey, resolution) == text  # written again, nothing moves


@given(surveys())
@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_files_go_the_same_way(tmp_path, readings):
    path = tmp_path / "survey.csv"
    write_readings(path, readings, layout())
    assert_same(read_readings([path], layout()), readings, 1e-7, 1e-3)
    assert [entry.name for entry in tmp_path.iterdir()] == ["survey.csv"]


def test_the_printed_resolution_is_the_one_asked_for():
    readings = read_readings_text("station,v [um],h [um]\nA1,1.23456,-0.04\n", layout())
    assert readings_text(readings, layout()).splitlines() == [
        "visit,setup,station,target,h [um],v [um]",
        "as found,first,A1,t1,0.0,1.2",
    ]
    assert readings_text(readings, layout(), 1e-9).splitlines()[1] == "as found,first,A1,t1,-0.040,1.235"
    assert readings_text(readings, layout(deviation="mm"), 1e-6).splitlines()[1] == "as found,first,A1,t1,0.000,0.001"


def test_a_file_that_cannot_be_written_leaves_the_old_one(tmp_path):
    readings = read_readings_text("station,v [um]\nA1,1\n", layout())
    with pytest.raises(ReadingsError, match="cannot be written"):
        write_readings(tmp_path / "nowhere" / "survey.csv", readings, layout())
    (tmp_path / "taken").mkdir()
    with pytest.raises(ReadingsError, match="cannot be written"):
        write_readings(tmp_path / "taken", readings, layout())
    assert [entry.name for entry in tmp_path.iterdir()] == ["taken"]


def test_a_file_written_over_keeps_its_mode_and_a_link_stays_a_link(tmp_path):
    readings = read_readings_text("station,v [um]\nA1,1\n", layout())
    path, link = tmp_path / "survey.csv", tmp_path / "link.csv"
    path.touch(mode=0o600)
    link.symlink_to(path)
    write_readings(link, readings, layout())
    assert link.is_symlink()
    assert path.stat().st_mode & 0o777 == 0o600
    assert len(read_readings([path], layout())) == 1


COLUMNS = ["visit", "setup", "station", "h [um]", "v [um]", "mount offset [mm]", "time [s]", "note"]


@st.composite
def styles(draw):
    """Rows as texts with a decimal point, and a way to write them."""
    number = st.integers(-49999, 49999).map(lambda tenths: f"{tenths / 10:.1f}")
    rows = [
        [
            draw(st.sampled_from(["as found", "as left"])),
            draw(st.sampled_from(["first", "second"])),
            draw(st.sampled_from(NAMES)),
            draw(st.one_of(st.just(""), number)),
            draw(number),
            draw(st.sampled_from(["0.0", "", "12.5"])),
            f"{60.5 * k:.1f}",
            draw(st.sampled_from(["", "two\nlines", 'a "word"', "a;b,c\td"])),
        ]
        for k in range(draw(st.integers(1, 6)))
    ]
    return rows, {
        "order": draw(st.permutations(range(len(COLUMNS)))),
        "delimiter": draw(st.sampled_from(",;\t")),
        "comma": draw(st.booleans()),
        "newline": draw(st.sampled_from(["\n", "\r\n", "\r"])),
        "quoting": draw(st.sampled_from([csv.QUOTE_ALL, csv.QUOTE_MINIMAL])),
        "case": draw(st.sampled_from([str.upper, str.lower, str.title])),
        "mark": draw(st.booleans()),
        "comments": draw(st.booleans()),
    }


def written(rows, order, delimiter, comma, newline, quoting, case, mark, comments):
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=delimiter, lineterminator=newline, quoting=quoting)
    names = [name.partition("[") for name in COLUMNS]
    writer.writerow([case(names[k][0]) + names[k][1] + names[k][2] for k in order])
    for row in rows:
        if comments:
            stream.write(f'# "cold{newline}{newline}')
        cells = [cell.replace(".", ",") if comma and k in (3, 4, 5, 6) else cell for k, cell in enumerate(row)]
        writer.writerow([cells[k].replace("\n", newline) for k in order])
    return ("\ufeff" if mark else "") + stream.getvalue()


PLAIN = {
    "order": range(len(COLUMNS)),
    "delimiter": ",",
    "comma": False,
    "newline": "\n",
    "quoting": csv.QUOTE_ALL,
    "case": str.lower,
    "mark": False,
    "comments": False,
}


@given(styles())
@settings(max_examples=300, deadline=None)
def test_order_delimiter_decimal_sign_and_newlines_do_not_change_a_value(case):
    rows, style = case
    plain = read_readings_text(written(rows, **PLAIN), LAYOUT)
    other = read_readings_text(written(rows, **style), LAYOUT)
    assert (plain.visit, plain.setup, plain.station, plain.note) == (
        other.visit,
        other.setup,
        other.station,
        other.note,
    )
    for name in ("h", "v", "mount_offset", "time"):
        assert np.array_equal(getattr(plain, name), getattr(other, name), equal_nan=True)


def outcome(text):
    """Readings and no problems, or no readings and problems; any other error passes through and fails the test."""
    try:
        return read_readings_text(text, LAYOUT), ()
    except ReadingsError as error:
        return None, error.problems


@given(
    styles(),
    st.lists(
        st.tuples(
            st.floats(0, 1, exclude_max=True),
            st.integers(0, 3),
            st.one_of(
                st.sampled_from(
                    [*',;\t"#\n\r-.:0[]', "\r\n", "1e999", "1.234,5", "23:59", "NaN", "\x00", "\x85", "９"]
                ),
                st.text(max_size=3),
            ),
        ),
        min_size=1,
        max_size=4,
    ),
)
@settings(max_examples=600, deadline=None)
def test_a_damaged_file_gives_readings_or_a_readings_error(case, damages):
    rows, style = case
    text = written(rows, **style)
    for where, cut, put in damages:
        k = int(where * len(text))
        text = text[:k] + put + text[k + cut :]
    readings, problems = outcome(text)
    assert all(found.message and found.line <= 1 + text.count("\n") + text.count("\r") for found in problems)
    if not problems:
        assert np.nanmax(np.abs([readings.h, readings.v]), initial=0.0) < 0.0051
        assert np.isfinite(readings.mount_offset).all()
        assert set(readings.station) <= set(NAMES)


@given(styles(), st.floats(0, 1, exclude_max=True), st.binary(min_size=1, max_size=3))
@settings(max_examples=200, deadline=None)
def test_damaged_bytes_give_readings_or_a_readings_error(case, where, put):
    rows, style = case
    data = written(rows, **style).encode()
    k = int(where * len(data))
    readings, problems = outcome(data[:k] + put + data[k + 1 :])
    assert problems or set(readings.station) <= set(NAMES)


WHEN = st.one_of(
    st.datetimes().map(str),
    st.tuples(st.datetimes(), st.integers(-23, 23)).map(lambda pair: f"{pair[0]}{pair[1]:+03d}:00"),
    st.times().map(str),
    st.floats().map(str),
    st.text(st.sampled_from("0123456789-:.TZW+ "), max_size=20),
)


@given(st.lists(WHEN, min_size=1, max_size=4), st.sampled_from(["time", "time [s]", "time [h]"]))
@settings(max_examples=300, deadline=None)
def test_any_times_give_seconds_that_never_run_back_or_a_readings_error(cells, header):
    text = f"station;v [um];{header}\n" + "".join(f"A1;1;{cell}\n" for cell in cells)
    readings, problems = outcome(text)
    if problems:
        return
    timed = readings.time[np.isfinite(readings.time)]
    assert (np.diff(timed) >= 0).all()
    assert (timed[:1] == 0).all()
