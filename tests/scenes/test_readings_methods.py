"""Readings of all methods: positions, clock positions, sides, pitch and yaw, several targets at once; and back."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.errors import ReadingsError
from scenes.model.batches import batch_places
from scenes.model.readings import Readings
from scenes.readings import columns, read_readings_text, readings_text

ARCSEC = math.pi / 180 / 3600
NAN = float("nan")


@pytest.fixture(scope="module")
def layouts(sheets):
    """Layout by the name of its sheet."""
    return {name: sheet.read() for name, sheet in sheets.items()}


def problems(text: str, layout) -> list[SimpleNamespace]:
    with pytest.raises(ReadingsError) as caught:
        read_readings_text(text, layout)
    return [SimpleNamespace(place=(p.line, p.column), text=p.message, advice=p.advice) for p in caught.value.problems]


def test_a_position_joins_the_name_of_the_station(layouts) -> None:
    text = "setup,station,position,v [um]\nupright,P1,low,1\nupright,P1@mid,,2\nupright,P1@top,top,3\n"
    readings = read_readings_text(text, layouts["press_slide"])
    assert readings.station == ("P1@low", "P1@mid", "P1@top")
    np.testing.assert_allclose(readings.v, [1e-6, 2e-6, 3e-6])


def test_a_position_may_be_stated_for_a_station_that_is_read_at_that_one(sheets) -> None:
    travel = "  travel square: {squareness: slide travel, to: bed, directions: [x, y], limit: 0.02 mm over 300 mm}\n"
    drawn = ("on slide, at positions: [low, mid, top]", "on slide, at positions: low")
    layout = sheets["press_slide"].read(("positions: all, ", ""), drawn, (travel, ""))
    assert read_readings_text("station,position,v [um]\nP1,low,1\n", layout).station == ("P1",)
    (problem,) = problems("station,position,v [um]\nP1,top,1\n", layout)
    assert problem.text == "station 'P1' is read at the position low, the row says 'top'"


@pytest.mark.parametrize(
    ("row", "place", "message", "advice"),
    [
        ("P1,,1", (2, 1), "station 'P1' is read at the positions low, mid, top and the row names none", "P1@low"),
        ("P1,tip,1", (2, 2), "station 'P1' is not read at the position 'tip'", "did you mean top?"),
        ("P1@low,top,1", (2, 2), "station 'P1@low' is read at the position low, the row says 'top'", "correct"),
        ("P9,low,1", (2, 1), "station 'P9' is not in the layout", ""),
        ("P9,,1", (2, 1), "station 'P9' is not in the layout", ""),
        ("A1,low,1", (2, 2), "station 'A1' is on no part that moves between positions, the row says 'low'", "correct"),
        (",low,1", (2, 1), "the row names no station", ""),
    ],
)
def test_positions_that_are_not_there(layouts, row, place, message, advice) -> None:
    (problem,) = problems(f"station,position,v [um]\n{row}\n", layouts["press_slide"])
    assert (problem.place, problem.text) == (place, message)
    assert advice in problem.advice


def test_clock_positions_are_read_in_their_unit(layouts) -> None:
    text = "station;clock [deg];h [um];v [um]\nrings1;0;1;2\nrings1;90,0;3;4\nrings1;-180;5;6\n"
    readings = read_readings_text(text, layouts["bore"])
    assert readings.clock == pytest.approx([0.0, 0.5 * math.pi, -math.pi])
    assert readings.remarks == ()
    readings = read_readings_text("station,clock [rad],v [um]\nrings1,0.785,1\n", layouts["bore"])
    assert "station rings1 is not planned at the clock position 44.98 deg" in readings.remarks[0]


def test_a_spindle_is_read_at_the_turns_of_its_setup(layouts) -> None:
    text = "setup,station,clock [deg],h [um],v [um]\nin the spindle,W1,90,1,2\nin the spindle,W1,270,1,2\n"
    readings = read_readings_text(text, layouts["bore"])
    assert readings.clock == pytest.approx([0.5 * math.pi, 1.5 * math.pi])
    assert readings.remarks == ()


def test_a_clock_position_that_must_be_stated(layouts, sheets) -> None:
    (problem,) = problems("station,v [um]\nrings1,1\nrings1,2\n", layouts["bore"])
    assert problem.text == "station 'rings1' is read at 4 clock positions and the row names none"
    assert (problem.place, problem.advice) == ((2, 0), "state it in a column clock [deg]")
    (problem,) = problems("station,clock,v [um]\nrings1,0,1\n", layouts["bore"])
    assert problem.advice == "write the header as clock [deg]"
    layout = sheets["bore"].read(("clock: [0 deg, 90 deg, 180 deg, 270 deg], target", "clock: 90 deg, target"))
    assert read_readings_text("station,v [um]\nrings1,1\n", layout).clock == pytest.approx([0.5 * math.pi])


def test_sides_of_a_reversed_setup(layouts) -> None:
    text = "station,side,v [um]\nroll_1 near,direct,1\nroll_1 near,Reversed,2\nroll_1 far,,3\n"
    readings = read_readings_text(text, layouts["rolls"])
    assert readings.side.tolist() == [0, 1, 0]
    assert readings.remarks == (
        "standard input, line 4: set-up base line is reversed; rows that state no side are taken as direct",
    )
    (problem,) = problems("station,side,v [um]\nroll_1 near,reverse,1\n", layouts["rolls"])
    assert problem.place == (2, 2)
    assert (problem.text, problem.advice) == ("the side of a reading is not 'reverse'", "did you mean reversed?")
    (problem,) = problems("station,side,v [um]\nroll_1 near,1,1\n", layouts["rolls"])
    assert problem.advice == "one of: direct, reversed"
    readings = read_readings_text("setup,station,side,v [um]\nfirst,A1,reversed,1\n", layouts["rails"])
    assert readings.side.tolist() == [1]
    assert "set-up first is not planned to be reversed" in readings.remarks[0]


def test_pitch_and_yaw_where_the_target_reads_them(layouts) -> None:
    text = "station,pitch [arcsec],yaw [mrad]\nS1,2.5,-0.1\nS2,-,0.2\nS3,-,\nS4,-1,\n"
    readings = read_readings_text(text, layouts["rails"])
    assert readings.station == ("S1", "S2", "S4")  # one value is enough for a record
    np.testing.assert_allclose(readings.pitch, [2.5 * ARCSEC, NAN, -ARCSEC])
    np.testing.assert_allclose(readings.yaw, [-1e-4, 2e-4, NAN])
    assert np.isnan(readings.v).all()
    assert any("station S3 was not read" in remark for remark in readings.remarks)


def test_angles_that_cannot_be(layouts) -> None:
    (problem,) = problems("station,pitch [arcmin]\nS1,20\n", layouts["rails"])
    assert problem.text == "pitch [arcmin]: 20 is more than target stepper reads, 15 arcmin"
    (problem,) = problems("station,pitch\nS1,20\n", layouts["rails"])
    assert problem.advice == "write the header as pitch [arcsec]"
    (problem,) = problems("station,pitch [mm]\nS1,20\n", layouts["rails"])
    assert "'mm' is not a unit of angle" in problem.text
    readings = read_readings_text("setup,station,v [um],pitch [arcsec]\nside,A3,1,3\n", layouts["rails"])
    assert "target t3 reads no angles; its pitch is not used" in readings.remarks[0]
    assert np.isnan(readings.pitch).all()
    readings = read_readings_text("station,v [um],yaw [arcsec]\nroll_1 near,1,3\n", layouts["rolls"])
    assert "the column 'yaw [arcsec]' is not used" in readings.remarks[0]  # no target of the layout reads angles
    (problem,) = problems("station,note\nS1,\n", layouts["rails"])
    assert problem.text == "there is no column of values, h [um], v [um], pitch [arcsec] or yaw [arcsec]"


def test_targets_that_stand_in_the_beam_at_once_follow_the_order_of_reading(layouts) -> None:
    text = "setup,station,target,v [um]\n" + "".join(f"side,A{i + 1},t{i % 3 + 1},0\n" for i in range(21))
    assert len(read_readings_text(text, layouts["rails"])) == 21
    (problem,) = problems("setup,station,target,v [um]\nside,A2,t3,0\n", layouts["rails"])
    assert problem.text == "the row says target 't3', the layout reads station 'A2' with 't2'"


def test_columns_of_all_methods_can_be_mapped(sheets) -> None:
    mapping = 'readings: {columns: {station: Pt, position: Where, side: Way, v: "Height [um]"}}\ntasks:'
    layout = sheets["press_slide"].read(("tasks:", mapping))
    readings = read_readings_text("Pt,Where,Way,Height [um]\nP1,low,reversed,5\n", layout)
    assert (readings.station, readings.side.tolist()) == (("P1@low",), [1])


def test_only_columns_with_a_value_are_written(layouts) -> None:
    def header(text: str, sheet: str) -> str:
        return readings_text(read_readings_text(text, layouts[sheet]), layouts[sheet]).splitlines()[0]

    assert header("station,v [um]\nroll_1 near,1\n", "rolls") == "visit,setup,station,target,v [um]"
    assert header("station,side,v [um]\nroll_1 near,reversed,1\n", "rolls") == "visit,setup,station,target,side,v [um]"
    assert header("station,pitch [mrad]\nS1,1\n", "rails") == "visit,setup,station,target,pitch [arcsec]"
    assert header("station,clock [deg],v [um]\nrings1,0,1\n", "bore") == "visit,setup,station,target,clock [deg],v [um]"


PLACES = st.one_of(st.just(NAN), st.floats(-0.0045, 0.0045))
ANGLES = st.one_of(st.just(NAN), st.floats(-800.0, 800.0).map(lambda seconds: seconds * ARCSEC))


@st.composite
def records(draw: st.DrawFn) -> tuple:
    sheet, setup, stations, angles, turned = draw(
        st.sampled_from([
            ("press_slide", "upright", ("P1@low", "P2@top", "P3@mid"), False, False),
            ("rolls", "base line", ("roll_1 near", "base line far"), False, False),
            ("bore", "through the bore", ("rings1", "rings13"), False, True),
            ("bore", "in the spindle", ("W1", "W2"), False, True),
            ("rails", "stepping", ("S1", "S7"), True, False),
            ("rails", "side", ("A1", "A2", "A3"), False, False),
        ])
    )  # fmt: skip
    clocks = st.sampled_from([0.0, 0.5 * math.pi, math.pi, 1.5 * math.pi]) if turned else st.just(NAN)
    rows = []
    for _ in range(draw(st.integers(1, 6))):
        pitch, yaw = (draw(ANGLES), draw(ANGLES)) if angles else (NAN, NAN)
        v = draw(st.floats(-0.0045, 0.0045) if math.isnan(pitch) and math.isnan(yaw) else PLACES)
        side = draw(st.integers(0, 1))
        rows.append((draw(st.sampled_from(stations)), draw(PLACES), v, pitch, yaw, draw(clocks), side))
    station, h, v, pitch, yaw, clock, side = (list(part) for part in zip(*rows, strict=True))
    n = len(rows)
    readings = Readings(
        ("as found",) * n, (setup,) * n, tuple(station), ("",) * n, np.array(h), np.array(v), np.full(n, NAN),
        np.zeros(n), ("survey.csv",) * n, np.arange(n) + 2, (), np.array(pitch), np.array(yaw), np.array(clock),
        np.array(side),
    )  # fmt: skip
    return sheet, readings


@given(records())
@settings(max_examples=150, deadline=None)
def test_what_is_written_is_read_back(layouts, case) -> None:
    sheet, readings = case
    layout = layouts[sheet]
    text = readings_text(readings, layout)
    back = read_readings_text(text, layout)
    assert (back.setup, back.station) == (readings.setup, readings.station)
    assert back.side.tolist() == readings.side.tolist()
    for name in ("h", "v", "pitch", "yaw"):
        np.testing.assert_allclose(getattr(back, name), getattr(readings, name), rtol=0, atol=0.51e-7)
    np.testing.assert_allclose(back.clock, readings.clock, rtol=0, atol=1e-5)
    assert readings_text(back, layout) == text  # written again, nothing moves


def test_which_target_is_read_is_worked_out_once_for_a_set_up(beams, monkeypatch):
    """And not once for every record, which takes the square of their number."""
    layout = beams.layout(beams.line(*range(1, 41)), glass=(beams.glass,), through=("g1", "t1"))
    asked = []
    monkeypatch.setattr(columns, "batch_places", lambda *given: asked.append(1) or batch_places(*given))
    names = tuple(layout.stations)
    targets = columns.planned_targets(layout, ["beam"] * 40 + ["no", "beam"], [*names, "P1", "none"])
    assert targets == ["g1", "t1"] * 20 + ["t1", ""]
    assert len(asked) == 1
