"""Limits of tasks as lengths: angles over what is asked about, zones, and the direction in which a limit counts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.checks.allowances import allowed, channel_travel, strictest, wanted_travel
from scenes.frames import pose_from_turn
from scenes.model.machine import Moves, Plate, Surface
from scenes.model.survey import Limit
from scenes.tracing.geometry import survey_geometry
from scenes.tracing.rows import planned_rows


@pytest.fixture
def row(hall):
    """Five stations over 8 m, read by a line."""
    stations = hall.row()
    return hall.layout(stations, hall.line([station.name for station in stations]))


@pytest.mark.parametrize(
    ("limit", "length"),
    [
        (Limit(3e-4), 3e-4),
        (Limit(2e-4, -5e-4), 5e-4),
        (Limit(5e-5, angle=True), 4e-4),  # 50 um/m over 8 m
        (Limit(2e-5, over=0.3, angle=True), 2e-5 * 8.0 / 0.3),
        (Limit(4e-4, diameter=True), 2e-4),
    ],
)
def test_a_limit_as_a_length(hall, row, limit, length):
    task = hall.task(row.stations, 1.0, "parallelism", of=("bed",), limits={"": limit})
    assert allowed(row, task) == pytest.approx(length)


def test_an_angle_may_count_over_a_given_length(hall, row):
    task = hall.task(row.stations, 1.0, "squareness", of=("bed",), limits={"x": Limit(2e-5, over=0.3, angle=True)})
    assert allowed(row, task, 0.6) == pytest.approx(4e-5)


def test_of_a_travel_the_way_counts_not_the_size_of_the_part(hall):
    """Stations 2 m apart on a slide that goes from 0.3 m to 0.8 m: 0.02 mm over 300 mm are 33 um over 0.5 m."""
    moves = Moves(np.array([0.0, 0.0, 1.0]), {"low": 0.3, "top": 0.8}, "low")
    slide = Surface("slide", Plate(3.0, 1.0, 0.2), pose_from_turn([0.0, 0.0, 1.5]), "floor", "", 6, moves)
    stations = [
        replace(hall.station(f"S{i}@{at}", 2.0 * i, 0.0), surface="slide", carried_by="slide", position=at)
        for at in ("low", "top") for i in range(2)
    ]  # fmt: skip
    layout = hall.layout(stations, hall.line([each.name for each in stations]), surfaces=[slide])
    limits = {"x": Limit(2e-5, over=0.3, angle=True)}
    travel = hall.task([each.name for each in stations], 1.0, "squareness", of=("slide travel",), limits=limits)
    assert allowed(layout, travel) == pytest.approx(2e-5 * 0.5 / 0.3)
    whole = replace(travel, of=("slide",))
    assert allowed(layout, whole) == pytest.approx(2e-5 * np.hypot(2.0, 0.5) / 0.3)


@pytest.mark.parametrize(
    ("quantity", "plane", "along_h", "along_v"),
    [
        ("straightness", "vertical", 0.0, 1.0),
        ("straightness", "horizontal", 1.0, 0.0),
        ("straightness", "space", 1.0, 1.0),
        ("straightness", "", 0.0, 1.0),
        ("flatness", "", 0.0, 1.0),
        ("spacing", "", 1.0, 0.0),
        ("coaxiality", "", 1.0, 1.0),
    ],
)
def test_a_limit_moves_the_spot_where_it_counts(hall, row, quantity, plane, along_h, along_v):
    task = hall.task(tuple(row.stations)[:3], 3e-4, quantity, plane=plane, of=("bed",))
    layout = replace(row, tasks={"asked": task})
    travel = channel_travel(layout, survey_geometry(layout, planned_rows(layout)))
    assert np.allclose(travel[:3], 3e-4 * np.array([along_h, along_v]))
    assert np.allclose(travel[3:], 0.0)  # stations of no task


def test_the_widest_limit_moves_a_station_and_the_strictest_judges(hall, row):
    names = tuple(row.stations)
    wide, tight = hall.task(names, 5e-4, plane="vertical"), hall.task(names[1:], 1e-4, plane="vertical")
    layout = replace(row, tasks={"wide": replace(wide, name="wide"), "tight": replace(tight, name="tight")})
    assert np.allclose(wanted_travel(layout, names), 5e-4)
    assert strictest(layout, names) == (1e-4, "tight")
    assert strictest(layout, names[:1]) == (5e-4, "wide")
    assert strictest(row, names) == (np.inf, "")
