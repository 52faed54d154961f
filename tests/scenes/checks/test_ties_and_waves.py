"""Set-ups tied by common stations or not, stations too far apart for waves, and plans that cannot be traced."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from scenes.checks.check import UNTRACEABLE, check_layout
from scenes.checks.codes import CODES
from scenes.checks.looseness import is_loose
from scenes.checks.plan import traced_plan
from scenes.checks.sampling import largest_gap
from scenes.model.finding import Severity
from scenes.model.survey import Group, LevelBy


def grid(hall, columns=6, rows=3):
    return [hall.station(f"G{i}{j}", -5.0 + 2.0 * i, -1.5 + 1.5 * j) for i in range(columns) for j in range(rows)]


def two_planes(hall, first, second, **more):
    west = hall.plane(first, name="west", at=(-7.0, 0.3, 0.0), **more)
    east = hall.plane(second, name="east", at=(7.0, 0.3, 0.0), **more)
    return west, east


def flat(hall, stations):
    return hall.task([each.name for each in stations], 1e-3, "flatness", of=("bed",))


@pytest.mark.parametrize("common", [0, 1, 2])
def test_planes_with_too_few_common_stations_and_the_ones_that_are_advised(hall, said, common):
    stations = grid(hall)
    names = [each.name for each in stations]
    first, second = names[: 9 + common], names[9:]
    setups = two_planes(hall, first, second)
    finding = said(hall.layout(stations, *setups, tasks=[flat(hall, stations)])).one("few-ties")
    assert (finding.kind, finding.severity) == ("task", Severity.ERROR)
    assert ("no station" if not common else "only ") in finding.message
    assert "three stations that are not on one line" in finding.message
    added, reader = re.fullmatch(r"read (.*) from (west|east) as well", finding.advice).groups()
    more = re.split(r", | and ", added)
    assert len(more) == 3 - common
    mended = [replace(each, reads=(*each.reads, *more)) if each.name == reader else each for each in setups]
    found = said(hall.layout(stations, *mended, tasks=[flat(hall, stations)]))
    assert found.codes & {"few-ties", "task-open"} == set()


def test_common_stations_on_one_line_do_not_tie_planes(hall, said):
    stations = grid(hall)
    names = [each.name for each in stations]
    line = [name for name in names if name.endswith("1")]
    rest = [name for name in names if name not in line]
    setups = two_planes(hall, [*line, *rest[:6]], [*line, *rest[6:]])
    finding = said(hall.layout(stations, *setups, tasks=[flat(hall, stations)])).one("few-ties")
    assert "only G01, G11, G21 and 3 more in common" in finding.message
    off = two_planes(hall, [*line, *rest[:6]], [*line, *rest[5:]])
    assert "few-ties" not in said(hall.layout(stations, *off, tasks=[flat(hall, stations)])).codes


def test_lines_with_one_common_station(hall, said):
    """Straightness of a row from both ends, read by two lines that meet in one station, then in two."""
    row = hall.row(9, -4.0, 1.0)
    names = [each.name for each in row]
    task = hall.task(names, 1e-3, plane="vertical", of=("bed",))
    west = hall.line(names[:5], name="west")
    east = hall.line(names[4:], name="east", at=(5.0, 0.0, 0.0), aim=np.array([-1.0, 0.0, 0.0]))
    finding = said(hall.layout(row, west, east, tasks=[task])).one("few-ties")
    assert "have only P5 in common" in finding.message
    assert "the straight line takes two stations that stand apart" in finding.message
    added, reader = re.fullmatch(r"read (\S+) from (west|east) as well", finding.advice).groups()
    mended = [replace(each, reads=(*each.reads, added)) if each.name == reader else each for each in (west, east)]
    assert said(hall.layout(row, *mended, tasks=[task])).codes & {"few-ties", "task-open"} == set()


def loose(layout, *setups, wanted=None):
    plan = traced_plan(layout)
    names = wanted or {name for setup in setups for name in setup.reads}
    return is_loose(plan, list(setups), set(names))


def test_how_many_common_stations_each_method_needs(hall):
    """Lines need two that stand apart, planes three off one line, planes levelled by vials one."""
    stations = grid(hall)
    row = [each.name for each in stations if each.name.endswith("1")]
    for count, free in ((0, True), (1, True), (2, False)):
        west = hall.line(row[: 3 + count], name="west", at=(-5.9, 0.0, 0.0))
        east = hall.line(row[3:], name="east", at=(5.9, 0.0, 0.0), aim=np.array([-1.0, 0.0, 0.0]))
        assert loose(hall.layout(stations, west, east), west, east) is free
    names = [each.name for each in stations]
    for count, free in ((0, True), (1, False)):
        setups = two_planes(hall, names[: 9 + count], names[9:], level_by=LevelBy.VIAL, vial="vial")
        assert loose(hall.layout(stations, *setups), *setups) is free
    for count, free in ((1, True), (2, False)):  # a plane and a line along x
        plane, line = hall.plane(names[: 3 * count] + names[9:]), hall.line(row[:3], at=(-5.9, 0.0, 0.0))
        assert loose(hall.layout(stations, plane, line), plane, line) is free


def test_a_vial_does_not_tie_a_line(hall):
    """One common station holds the height of a line, not its rise."""
    stations = grid(hall)
    names = [each.name for each in stations]
    row = [name for name in names if name.endswith("1")]
    for common, free in ((row[:1], True), (row[:2], False)):
        rest = [name for name in names if name not in row]
        plane = hall.plane([*common, *rest], level_by=LevelBy.VIAL, vial="vial", reversed=True)
        line = hall.line(row, at=(-5.9, 0.0, 0.0))
        assert loose(hall.layout(stations, plane, line), plane, line) is free


@pytest.mark.parametrize(("vials", "words"), [((True, True), "one station"), ((True, False), "three stations")])
def test_the_words_count_a_vial_only_where_both_have_one(hall, said, vials, words):
    stations = grid(hall)
    names = [each.name for each in stations]
    level = [{"level_by": LevelBy.VIAL, "vial": "vial", "reversed": True} if vial else {} for vial in vials]
    west = hall.plane(names[:9], name="west", at=(-7.0, 0.3, 0.0), **level[0])
    east = hall.plane(names[9:], name="east", at=(7.0, 0.3, 0.0), **level[1])
    finding = said(hall.layout(stations, west, east, tasks=[flat(hall, stations)])).one("few-ties")
    assert f"takes {words}" in finding.message


def test_a_chain_of_set_ups_holds_and_breaks_at_one_link(hall):
    stations = grid(hall, 7)
    names = [each.name for each in stations]
    parts = {"one": names[:10], "two": names[6:16], "three": names[12:]}
    setups = [
        hall.plane(reads, name=name, at=(x, -4.0, 0.0))
        for (name, reads), x in zip(parts.items(), (-4, 0, 4), strict=True)
    ]
    assert not loose(hall.layout(stations, *setups), *setups)
    broken = [setups[0], replace(setups[1], reads=tuple(names[6:14])), setups[2]]
    assert loose(hall.layout(stations, *broken), *broken)


def test_the_place_of_a_prism_along_its_beam_is_no_matter_of_ties(hall):
    """A line read directly, and the same line with a prism, on common near and far stations."""
    row, across = hall.row(), hall.across()
    names = [each.name for each in row]
    straight = hall.line(names, near="P1", far="P5", aim=None)
    swept = replace(
        hall.square([each.name for each in across], sweeps=True), near="P1", far="P5", aim=None,
        reads=("P1", "P5", *(each.name for each in across)),
    )  # fmt: skip
    layout = hall.layout([*row, *across], straight, swept)
    assert not loose(layout, straight, swept)
    alone = replace(swept, reads=("P1", *(each.name for each in across)))
    assert loose(hall.layout([*row, *across], straight, alone), straight, alone)


@pytest.mark.parametrize(("wave", "found"), [(3.9, True), (4.0, False), (4.1, False)])
def test_a_wave_needs_two_stations(hall, said, wave, found):
    """Stations every 2 m show waves of 4 m."""
    stations = hall.row()
    names = [each.name for each in stations]
    task = hall.task(names, plane="vertical", waviness=wave)
    codes = said(hall.layout(stations, hall.line(names), tasks=[task])).codes
    assert ("waviness-unresolved" in codes) is found


def test_the_distance_that_is_advised_is_enough(hall, said, mm):
    stations = hall.row()
    task = hall.task([each.name for each in stations], plane="vertical", waviness=3.0)
    finding = said(hall.layout(stations, hall.line(task.stations), tasks=[task])).one("waviness-unresolved")
    assert finding.severity is Severity.WARNING
    assert "up to 2000 mm apart, which shows waves from 4000 mm on; waves of 3000 mm" in finding.message
    every = mm(finding.advice)[0]
    count = int(np.ceil(8.0 / every)) + 1
    closer = hall.row(count, step=8.0 / (count - 1))
    again = hall.task([each.name for each in closer], plane="vertical", waviness=3.0)
    codes = said(hall.layout(closer, hall.line(again.stations), tasks=[again])).codes
    assert "waviness-unresolved" not in codes


def test_a_grid_is_told_its_columns_and_rows(hall, said):
    stations = grid(hall)  # 6 x 3 over 10 m x 3 m
    group = {"all": Group("all", "bed", tuple(each.name for each in stations), 3, 6, 10)}
    task = hall.task([each.name for each in stations], 1e-3, "flatness", waviness=2.5)
    layout = replace(hall.layout(stations, hall.plane(task.stations), tasks=[task]), groups=group)
    finding = said(layout).one("waviness-unresolved")
    assert finding.advice == "place a station every 1250 mm or nearer: grid: 9 x 4"
    x, y = np.linspace(-5.0, 5.0, 9), np.linspace(-1.5, 1.5, 4)
    places = np.array([[a, b, 0.0] for a in x for b in y])
    assert largest_gap(places) <= 1.25


def test_gaps_of_known_patterns():
    """A square grid: its step. A rectangular one: the longer. The border of a square alone: the empty middle."""
    x, y = (part.ravel() for part in np.meshgrid(np.arange(5.0), np.arange(4.0)))
    square = np.column_stack([x, y, 0.0 * x])
    assert largest_gap(square) == pytest.approx(1.0)
    assert largest_gap(square * [2.0, 0.5, 1.0]) == pytest.approx(2.0)
    border = square[(x == 0) | (x == 4) | (y == 0) | (y == 3)]
    assert largest_gap(border) == pytest.approx(np.sqrt(2.0) * np.hypot(1.5, 0.5))  # farthest free place: (1.5, 1.5)
    rng = np.random.default_rng(1)
    turn = np.linalg.qr(rng.standard_normal((3, 3)))[0]
    assert largest_gap(square @ turn.T + [7.0, -3.0, 2.0]) == pytest.approx(1.0)
    assert largest_gap(np.array([[0.0, 0, 0], [0.5, 0, 0], [2.0, 0, 0]])) == pytest.approx(1.5)
    assert largest_gap(np.zeros((1, 3))) == np.inf


def test_a_line_without_a_direction_and_without_length(hall):
    stations = hall.row()
    names = [each.name for each in stations]
    for setup in (
        hall.line(names, aim=None),
        hall.line(names, near="P1", far="P1", aim=None),
    ):
        result = check_layout(hall.layout(stations, setup), np.random.default_rng(0))
        assert result.plan is None
        (finding,) = (each for each in result.findings if each.code == "no-line")
        assert (finding.severity, finding.name) == (Severity.ERROR, "line")
        assert "near and far" in finding.advice
    assert check_layout(hall.layout(stations, hall.line(names)), np.random.default_rng(0)).plan is not None


def test_the_set_up_is_named_whose_name_starts_like_another(hall):
    stations = hall.row()
    names = [each.name for each in stations]
    layout = hall.layout(stations, hall.line(names), hall.line(names, name="line 2", aim=None))
    (finding,) = (each for each in check_layout(layout, np.random.default_rng(0)).findings if each.code == "no-line")
    assert finding.name == "line 2"


def test_a_warm_surface_without_a_material(hall):
    stations = hall.row()
    layout = hall.layout(stations, hall.line([each.name for each in stations]))
    bed = replace(layout.surfaces["bed"], temperature=300.0)
    for material, plans in (("", False), ("cast iron", True)):
        surfaces = {"bed": replace(bed, material=material)}
        result = check_layout(replace(layout, surfaces=surfaces), np.random.default_rng(0))
        assert (result.plan is not None) is plans
        assert ("no-material" in {each.code for each in result.findings}) is not plans


def test_all_reasons_for_an_untraceable_plan_are_codes():
    assert set(UNTRACEABLE) <= set(CODES)
