"""The incremental reader: whatever the pieces, the same readings; what is broken is told, and nothing else is lost."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scenes.errors import Problem, ReadingsError
from scenes.layout.read import read_layout
from scenes.live import LiveReadings, RecordFile, Taken
from scenes.live.lines import LineCutter
from scenes.model.readings import Readings
from scenes.readings import read_readings, read_readings_text, readings_text

EXAMPLES = Path(__file__).parents[2] / "examples"
ARRAYS = ("h", "v", "pitch", "yaw", "clock", "side", "time", "mount_offset")
NAMES = ("visit", "setup", "station", "note")
NANOMETRE = 1e-9


def layout_of(name: str):
    return read_layout(EXAMPLES / name / "layout.yaml")


BED = layout_of("press_bed")
LATHE = layout_of("lathe")


def assert_same(found: Readings, wanted: Readings, within: float = 0.0) -> None:
    for name in NAMES:
        assert getattr(found, name) == getattr(wanted, name), name
    for name in ARRAYS:
        np.testing.assert_allclose(getattr(found, name), getattr(wanted, name), rtol=0.0, atol=within, err_msg=name)


def problems(said) -> list[Problem]:
    return [each for each in said if isinstance(each, Problem)]


def taken(said) -> list[Taken]:
    return [each for each in said if isinstance(each, Taken)]


@pytest.mark.parametrize("name", sorted(path.parent.name for path in EXAMPLES.glob("*/layout.yaml")))
def test_every_example_read_line_by_line_is_the_file(name):
    layout, path = layout_of(name), EXAMPLES / name / "readings" / "as_found.csv"
    live = LiveReadings(layout)
    said = [live.take(line) for line in path.read_bytes().splitlines(keepends=True)]
    assert not problems(sum(said, ()))
    wanted = read_readings([path], layout)
    assert_same(live.readings, wanted)
    assert live.readings.row.tolist() == wanted.row.tolist()
    assert [each.number for each in taken(sum(said, ()))] == list(range(1, len(wanted) + 1))


STYLES = [
    b"station,v [um],h [um],time,note\nA1,12.5,,08:15,\nA2,-3,1,08:16,\xe2\x80\x9cwarm\xe2\x80\x9d\n"
    b"A3,4e1,,23:59,\nA4,1,,00:01,end\n",
    b"\xef\xbb\xbf# made by hand\r\nPress 4\r\nstation;v [\xc2\xb5m];note\r\nA1;1,5;\r\n\r\nA2;1,234;x\r\nA3;-2;y\r\n",
    b'station,v [um],note\nA1,1,"two\nlines, and a ""word"""\nA2,2,"a\n\nb"\nA3,3,\n',
    b"station\tv [um]\nA1\t0,5\nB7\t1,25\nE7\t2\n",
    b"station   v [um]   note\nA1   1.5   all well\nA2    2.5\nA3  7\n",
    b"sep=;\nstation;v [um]\nA1;1,5\nA2;2\n",
    b"station,v [um]\rA1,1\rA2,2\r",
    b"station,v [um]\nA1,1\nA2,2",  # the last line has no end
]


@given(data=st.sampled_from(STYLES), cuts=st.lists(st.integers(0, 200), max_size=12))
@settings(max_examples=120, deadline=None)
def test_any_split_of_the_bytes_gives_what_the_file_gives(data, cuts):
    places = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    live = LiveReadings(BED)
    said = ()
    for start, end in itertools.pairwise(places):
        said += live.take(data[start:end])
    said += live.finish()
    wanted = read_readings_text(data, BED)
    assert not [each for each in problems(said) if "no row of headers" not in each.message]
    assert_same(live.readings, wanted)
    assert live.readings.row.tolist() == wanted.row.tolist()


BROKEN = [
    (b"A9,5,\n", "station 'A9' is not in the layout"),
    (b"A5,5.5.5,\n", "'5.5.5' is not a number"),
    (b"A5\n", "the row ends after 1 field"),
    (b"A5,1,note,more\n", "the row has 4 fields"),
    (b"A5,99999,\n", "outside the window"),
    (b'A5,1,"x"y\n', "a quoted field is followed by text"),
    (b"A5,1,\x00\n", "control byte"),
    (b"A5," + b"1" * 70_000 + b"\n", "too long"),
    (b",3,\n", "the row names no station"),
]


@given(
    broken=st.lists(st.tuples(st.integers(0, 4), st.sampled_from(BROKEN)), max_size=6),
    step=st.sampled_from([1, 2, 7, 64, 100_000]),
)
@settings(max_examples=80, deadline=None)
def test_a_broken_record_is_told_and_nothing_else_is_lost_or_doubled(broken, step):
    good = [f"A{k},{k},\n".encode() for k in range(1, 5)]
    lines = [b"station,v [um],note\n"]
    expected = []
    for k in range(5):
        for place, (line, message) in broken:
            if place == k:
                lines.append(line)
                expected.append((len(lines), message))
        lines += good[k : k + 1]
    data = b"".join(lines)
    step = max(step, len(data) // 2_000)  # the long lines in small steps would only take time
    live = LiveReadings(BED)
    said = sum((live.take(data[k : k + step]) for k in range(0, len(data), step)), ())
    assert live.readings.station == ("A1", "A2", "A3", "A4")
    assert live.readings.v == pytest.approx([1e-6, 2e-6, 3e-6, 4e-6], abs=1e-15)
    told = problems(said)
    assert [each.line for each in told] == [line for line, _ in expected]
    for each, (_, message) in zip(told, expected, strict=True):
        assert message in each.message


def test_a_quotation_mark_that_is_never_closed_costs_one_record():
    live = LiveReadings(BED)
    said = live.take('station,v [um],note\nA1,1,"ok"\nA2,2,"open\nA3,3,\nA4,4,"of two\nlines"\n')
    assert live.readings.station == ("A1", "A3", "A4")
    assert [(each.line, "never closed" in each.message) for each in problems(said)] == [(3, True)]


def test_an_open_text_that_goes_on_and_on_is_given_up():
    live = LiveReadings(BED)
    text = "x\n" * 40
    said = live.take(f'station,v [um],note\nA1,1,"open\n{text}A3,3,\n')
    assert live.readings.station == ("A3",)
    assert "never closed" in problems(said)[0].message


def test_half_a_number_is_never_taken():
    live = LiveReadings(BED)
    live.take("station,v [um]\nA1,12")
    assert len(live) == 0
    live.take("3.5\n")
    assert live.readings.v == pytest.approx([123.5e-6], abs=1e-12)


def test_headers_are_waited_for_and_wrong_ones_told():
    live = LiveReadings(BED)
    (early,) = live.take("A1,1\n")
    assert "no row of headers has come yet" in early.message
    (wrong,) = live.take("station,v\n")
    assert wrong.message == "the column 'v' has no unit"
    assert not live.take("station,v [um]\n")
    assert taken(live.take("A1,1\n"))


def test_a_header_that_comes_again_is_passed_over():
    live = LiveReadings(BED)
    said = live.take("station,v [um]\nA1,1\nstation,v [um]\nA2,2\n")
    assert [each.station for each in said] == ["A1", "A2"]


def test_a_time_that_goes_back_is_told_and_costs_only_its_record():
    live = LiveReadings(BED)
    said = live.take("station,v [um],time\nA1,1,08:00\nA2,2,07:59\nA3,3,08:01\n")
    (problem,) = problems(said)
    assert (problem.line, problem.column) == (3, 3)
    assert "earlier than" in problem.message
    assert live.readings.time.tolist() == [0.0, 60.0]


def test_a_refused_record_leaves_no_trace_in_the_decimal_mark():
    live = LiveReadings(BED)
    said = live.take("station;v [um]\nA9;1.5\nA1;1,5\nA2;2.5\nA3;3,5\n")
    assert [each.line for each in problems(said)] == [2, 4]
    assert "decimal point" in problems(said)[1].message
    assert live.readings.v == pytest.approx([1.5e-6, 3.5e-6], abs=1e-12)


def test_a_table_begun_anew_counts_what_it_says_again_once():
    table = LiveReadings(BED)
    source = table.table("bed.csv")
    first = "station,v [um]\nA1,1\nA2,2\nA3,3\n"
    assert len(taken(source.take(first))) == 3
    source.restart()
    said = source.take(first + "A4,4\n")
    assert [each.station for each in taken(said)] == ["A4"]
    assert not problems(said)
    source.restart()
    said = source.take("station,v [um]\nA1,1\nA2,22\nA3,3\nA4,4\n")
    assert [each.station for each in taken(said)] == ["A2"]
    assert ["was changed" in each.message for each in problems(said)] == [True]
    source.restart()  # another file: other records, no headers
    said = source.take("A5,5\nA1,1\n")
    assert [each.station for each in taken(said)] == ["A5"]
    assert ["counts once" in each.message for each in problems(said)] == [True]


def test_a_restart_tells_the_line_that_was_cut_off():
    source = LiveReadings(BED).table("bed.csv")
    source.take("station,v [um]\nA1,1\nA2,2")
    (problem,) = source.restart()
    assert "cut off" in problem.message


@given(data=st.binary(max_size=60), header=st.booleans())
@settings(max_examples=200, deadline=None)
def test_no_bytes_break_the_reader(data, header):
    live = LiveReadings(BED)
    live.take((b"station,v [um],note\n" if header else b"") + data)
    live.finish()
    assert len(live.readings) == len(live)


@given(pieces=st.lists(st.binary(max_size=9).map(lambda b: b.replace(b"x", b"\r").replace(b"y", b"\n")), max_size=9))
def test_the_cutter_does_not_see_the_pieces(pieces):
    cut, whole = LineCutter(6), LineCutter(6)
    assert [line for piece in pieces for line in cut.lines(piece)] + cut.last() == (
        whole.lines(b"".join(pieces)) + whole.last()
    )


# --- records ---------------------------------------------------------------------------------------------------------


def test_a_record_in_json_is_a_row_of_a_file():
    live = LiveReadings(LATHE)
    said = live.take_record(
        '{"station": "C@p1", "setup": "in the spindle", "clock": {"value": 90, "unit": "deg"}, "side": "direct",'
        ' "h": {"value": -0.6689, "unit": "mm"}, "v": {"value": 362.7, "unit": "um"}, "time": "08:15:30",'
        ' "note": "a, b"}'
    )
    assert isinstance(said, Taken)
    text = "station,setup,clock [deg],side,h [mm],v [um],time,note\n"
    text += 'C@p1,in the spindle,90,direct,-0.6689,362.7,08:15:30,"a, b"\n'
    assert_same(live.readings, read_readings_text(text, LATHE))


@pytest.mark.parametrize(
    ("record", "message"),
    [
        ("", "this is no record in JSON"),
        ("{", "this is no record in JSON"),
        ("[1]", "a record is a JSON object"),
        ('{"station": "A1", "v": 12}', "a number with its unit"),
        ('{"station": "A1", "v": {"value": "12", "unit": "um"}}', "a number with its unit"),
        ('{"station": "A1", "v": {"value": true, "unit": "um"}}', "a number with its unit"),
        ('{"station": "A1", "v": {"value": 1e999, "unit": "um"}}', "a number with its unit"),
        ('{"station": "A1", "v": {"value": NaN, "unit": "um"}}', "NaN is no number"),
        ('{"station": "A1", "v": {"value": 12, "unit": "kg"}}', "'kg' is not a unit of length"),
        ('{"station": "A1", "v": {"value": 12, "unit": "m"}}', "outside the window"),
        ('{"station": "A1", "w": 12}', "a record has no 'w'"),
        ('{"station": "A1", "station": "A2"}', "a key stands twice"),
        ('{"v": {"value": 12, "unit": "um"}}', "the record names no station"),
        ('{"station": "A1"}', "no column of values"),
        ('{"station": "A1", "v": {"value": null, "unit": "um"}}', "no column of values"),
        ('{"station": 5, "v": {"value": 12, "unit": "um"}}', "station: a text is expected"),
        ('{"station": "A1", "v": {"value": 1, "unit": "um"}, "time": "soon"}', "'soon' is not a time"),
        ("[" * 100_000, "JSON"),
    ],
)
def test_a_wrong_record_is_told(record, message):
    live = LiveReadings(BED)
    said = live.take_record(record, "sender 1", 7)
    assert isinstance(said, Problem)
    assert message in said.message or message in said.advice or "nested" in said.message
    assert (said.file, said.line, said.column) == ("sender 1", 7, 0)
    assert len(live) == 0


def test_a_record_sent_again_under_its_id_counts_once():
    live = LiveReadings(BED)
    record = {"station": "A1", "v": {"value": 1, "unit": "um"}, "id": "x-1"}
    first, again = live.take_record(record), live.take_record(json.dumps(record))
    other = live.take_record({**record, "id": "x-2"})
    assert [each.number for each in (first, again, other)] == [1, 1, 2]


def test_own_names_hold_in_records_whatever_the_layout_maps():
    from dataclasses import replace

    from scenes.model.layout import ReadingsMapping

    mapped = replace(BED, readings=ReadingsMapping({"v": "h", "h": "v [um]"}, v_up=False))
    live = LiveReadings(mapped)
    assert isinstance(live.take_record({"station": "A1", "v": {"value": 1, "unit": "um"}}), Taken)
    assert live.readings.v == pytest.approx([-1e-6], abs=1e-15)
    assert np.isnan(live.readings.h).all()


# --- the file of records ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["press_bed", "lathe", "extruder_barrel"])
def test_the_file_of_records_is_read_back(name, tmp_path):
    layout, path = layout_of(name), EXAMPLES / name / "readings" / "as_found.csv"
    file = RecordFile(tmp_path / "records.csv", layout)
    live = LiveReadings(layout, record_file=file)
    live.take(path.read_bytes())
    again = read_readings([tmp_path / "records.csv"], layout)
    assert_same(again, live.readings, NANOMETRE)
    file.close()


NOTES = st.text(st.sampled_from('a"\n;,# é'), max_size=8).map(str.strip)


@given(notes=st.lists(NOTES, min_size=1, max_size=4), clock=st.booleans())
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_note_and_time_survives_the_file_of_records(notes, clock, tmp_path):
    path = tmp_path / "notes.csv"
    path.unlink(missing_ok=True)
    file = RecordFile(path, BED)
    live = LiveReadings(BED, record_file=file)
    for k, note in enumerate(notes):
        time = f"08:{k:02d}:30.5" if clock else {"value": 2.5 * k, "unit": "min"}
        said = live.take_record({"station": "A1", "v": {"value": k, "unit": "um"}, "note": note, "time": time})
        assert isinstance(said, Taken)
    file.close()
    assert_same(
        read_readings(
            [path],
            BED,
        ),
        live.readings,
        NANOMETRE,
    )
    resumed = RecordFile(path, BED)
    later = LiveReadings(BED, record_file=resumed)
    assert len(taken(later.take_earlier())) == len(notes)
    resumed.close()
    assert_same(later.readings, live.readings, NANOMETRE)
    assert len(read_readings([path], BED)) == len(notes)


def test_half_a_record_at_the_end_of_the_file_is_cut_off(tmp_path):
    path = tmp_path / "records.csv"
    file = RecordFile(path, BED)
    LiveReadings(BED, record_file=file).take("station,v [um]\nA1,1\nA2,2\n")
    file.close()
    path.write_bytes(path.read_bytes()[:-5])
    file = RecordFile(path, BED)
    live = LiveReadings(BED, record_file=file)
    live.take_earlier()
    live.take("station,v [um]\nA2,2\n")
    file.close()
    assert read_readings([path], BED).station == ("A1", "A2")


def test_records_that_come_again_are_not_written_again(tmp_path):
    path = tmp_path / "records.csv"
    for _ in range(2):
        file = RecordFile(path, BED)
        file.expect_again()
        LiveReadings(BED, record_file=file).take("station,v [um]\nA1,1\nA1,1\nA2,2\n")
        file.close()
    assert read_readings([path], BED).station == ("A1", "A1", "A2")


def test_a_file_with_other_columns_is_not_touched(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("station,v [um]\nA1,1\n")
    with pytest.raises(ReadingsError, match="other columns"):
        RecordFile(path, BED)
    assert path.read_text() == "station,v [um]\nA1,1\n"
    with pytest.raises(ReadingsError, match="cannot be written"):
        RecordFile(tmp_path / "no folder" / "x.csv", BED)


def test_a_record_that_the_disk_refuses_is_not_taken(tmp_path, monkeypatch):
    import scenes.live.record_file as module

    file = RecordFile(tmp_path / "records.csv", BED)
    live = LiveReadings(BED, record_file=file)

    def full(_):
        raise OSError(28, "No space left on device")

    record = {"station": "A1", "v": {"value": 1, "unit": "um"}}
    with monkeypatch.context() as patch:
        patch.setattr(module.os, "fsync", full)
        said = live.take_record(record)
    assert "No space left" in said.message
    assert len(live) == 0
    assert isinstance(live.take_record(record), Taken)
    file.close()
    assert len(read_readings([tmp_path / "records.csv"], BED)) == 1


def test_what_is_written_as_a_file_is_taken_live():
    wanted = read_readings([EXAMPLES / "lathe" / "readings" / "as_found.csv"], LATHE)
    live = LiveReadings(LATHE)
    live.take(readings_text(wanted, LATHE, 1e-12))
    assert_same(live.readings, wanted, 1e-12)
