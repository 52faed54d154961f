"""Beams that something stops, cuts or dims, and targets too near, too far or out of reach."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from scenes.frames import pose_from_turn
from scenes.model.finding import Severity
from scenes.model.machine import Column, Surface

PILLAR = Column(0.2, 0.2, 3.0)


def pillar(x: float, y: float, height: float = 3.0, name: str = "pillar") -> Surface:
    return Surface(name, replace(PILLAR, height=height), pose_from_turn([x, y, 0.0]), "floor", "", 4)


@pytest.fixture
def grid(hall):
    return [hall.station(f"G{i}{j}", -2.0 + i, -1.0 + j) for i in range(4) for j in range(3)]


def test_one_finding_for_all_that_one_surface_hides_and_the_move_it_names_frees_them(hall, said, grid, moved_as_said):
    names = [station.name for station in grid]
    setup = hall.plane(names)
    post = pillar(-6.4, 0.25)
    found = said(hall.layout(grid, setup, surfaces=[post]))
    finding = found.one("blocked")
    assert finding.severity is Severity.ERROR
    assert "hidden by pillar (line 4)" in finding.message
    hidden = finding.message.split(" are hidden")[0].split(", ")
    assert len(hidden) > 2
    assert set(hidden) <= set(names)
    assert found.codes == {"blocked"}
    mended = moved_as_said(setup, finding.advice)
    assert said(hall.layout(grid, mended, surfaces=[post])).codes == set()


def test_where_no_move_frees_all_a_place_for_a_second_set_up_is_named(hall, said, moved_as_said):
    """A wall across the bed: from no place are both sides seen, but from the other side the hidden ones are."""
    sides = {"W": (-4.0, -3.0), "E": (3.0, 4.0)}
    stations = [hall.station(f"{s}{i}{j}", x, y) for s, xs in sides.items() for i, x in enumerate(xs)
                for j, y in enumerate((-1.0, 1.0))]  # fmt: skip
    wall = Surface("wall", Column(0.1, 40.0, 3.0), pose_from_turn([0.0, 0.0, 0.0]), "floor", "", 4)
    setup = hall.plane([station.name for station in stations], at=(-2.0, -3.0, 0.0))
    finding = said(hall.layout(stations, setup, surfaces=[wall])).one("blocked")
    way = 1.95 * np.hypot(1.0, 2.0 / 5.0)  # to the near side of the wall, 50 mm before its middle
    assert finding.message.startswith(f"E00, E01, E10, E11 are hidden by wall (line 4), {1e3 * way:.0f} mm from the")
    assert finding.advice == "read these stations from a second set-up, 3000.0 mm toward +x from this one"
    second = replace(moved_as_said(setup, finding.advice), reads=("E00", "E01", "E10", "E11"))
    assert said(hall.layout(stations, second, surfaces=[wall])).codes == set()


def test_a_line_over_a_bump_is_raised_with_its_targets(hall, said):
    """A bump 2 mm into the edge of the beam: line and posts go up by the least height that clears it."""
    stations = hall.row()
    names = [station.name for station in stations]
    bump = pillar(-1.0, 0.0, 0.65 - 1.0e-3)
    finding = said(hall.layout(stations, hall.line(names), surfaces=[bump])).one("clipped")
    assert finding.severity is Severity.WARNING
    assert re.search(r"cuts 1\.[0-9] mm into the edge", finding.message)
    assert "raise the emitter by 5.0 mm, and raise the mounts of its targets by 5.0 mm" in finding.advice
    higher = [replace(station, mount=replace(station.mount, height=0.125)) for station in stations]
    assert said(hall.layout(higher, hall.line(names, at=(-5.0, 0.0, 5e-3)), surfaces=[bump])).codes == set()


def test_a_beam_that_a_bump_only_nears_is_free(hall, said):
    stations = hall.row()
    low = pillar(-1.0, 0.0, 0.65 - 3.0e-3)
    assert said(hall.layout(stations, hall.line([s.name for s in stations]), surfaces=[low])).codes == set()


def test_a_plain_target_hides_those_behind_it_until_the_order_of_reading_puts_it_last(hall, said):
    stations = hall.row()
    backward = ("P4", "P3", "P2", "P1")
    setup = hall.line(backward, through=("g1", "t1"))
    found = said(hall.layout(stations, setup))
    finding = found.one("blocked")
    assert found.codes == {"blocked"}  # that no light is left goes without saying
    assert finding.message == "t1 at P3 and P1 lets no light through to P4 and P2 behind it"
    assert "from the nearest to the farthest, P1 to P4" in finding.advice
    ordered = replace(setup, reads=tuple(reversed(backward)))
    assert said(hall.layout(stations, ordered)).codes == set()


def test_a_plain_target_in_the_middle_has_to_be_a_see_through_one(hall, said):
    stations = hall.row(4)
    names = [station.name for station in stations]
    finding = said(hall.layout(stations, hall.line(names, through=("g1", "t1", "g1", "t1")))).one("blocked")
    assert finding.advice == "take a see-through target instead of t1"
    assert said(hall.layout(stations, hall.line(names, through=("g1", "g1", "g1", "t1")))).codes == set()


def test_too_little_light_says_after_how_many_and_how_many_may_stand(hall, said):
    dark = replace(hall.glass, name="dark", passes=0.3)
    stations = hall.row()
    names = [station.name for station in stations]
    setup = hall.line(names, through=("dark",) * 5)
    finding = said(hall.layout(stations, setup, targets=[dark])).one("too-little-light")
    assert "after 4 see-through targets 0.8% of the light is left at P5" in finding.message
    assert "dark reads from 5.0% on" in finding.message
    assert "2 stations get too little" in finding.message  # 0.3^3 = 2.7 %, 0.3^4 = 0.8 %; 0.3^2 = 9 % are enough
    most = int(re.search(r"at most (\d) targets", finding.advice)[1])
    assert most == 3
    assert said(hall.layout(stations, replace(setup, through=("dark",) * most), targets=[dark])).codes == set()
    more = replace(setup, through=("dark",) * (most + 1))
    assert "too-little-light" in said(hall.layout(stations, more, targets=[dark])).codes


def test_a_prism_takes_its_share_of_the_light(hall, said):
    """90 % behind the prism; the target asks for 95 %, then for 85 %."""
    stations = hall.across()
    names = [station.name for station in stations]
    for least, codes in ((0.95, {"too-little-light"}), (0.85, set())):
        layout = hall.layout(stations, hall.square(names), targets=[replace(hall.target, least_light=least)])
        assert said(layout).codes == codes
    finding = said(hall.layout(stations, hall.square(names), targets=[replace(hall.target, least_light=0.95)]))
    assert "after nose 90.0% of the light is left" in finding.one("too-little-light").message


def test_more_than_twelve_targets_at_once(hall, said):
    clear = replace(hall.glass, name="clear", passes=0.99)
    stations = hall.row(13, -4.0, 0.6)
    names = [station.name for station in stations]
    setup = hall.line(names, through=("clear",) * 13)
    finding = said(hall.layout(stations, setup, targets=[clear])).one("too-many-targets")
    assert "13 targets stand in the beam at once; 12 can be read" in finding.message
    assert said(hall.layout(stations, replace(setup, through=("clear",) * 12), targets=[clear])).codes == set()


@pytest.mark.parametrize(("code", "field", "value"), [("too-far", "farthest", 8.5), ("too-near", "nearest", 1.2)])
def test_range_of_a_line_is_mended_by_moving_the_emitter_along_it(hall, said, moved_as_said, code, field, value):
    stations = hall.row()
    laser = {"laser": replace(hall.laser, **{field: value})}
    setup = hall.line([station.name for station in stations])
    finding = said(hall.layout(stations, setup, emitters=laser)).one(code)
    assert finding.severity is Severity.ERROR
    assert ("9000 mm" if code == "too-far" else "1000 mm") in finding.message
    mended = moved_as_said(setup, finding.advice)
    way = mended.at[0] - setup.at[0]
    assert way == pytest.approx(0.501 if code == "too-far" else -0.201, abs=1e-6)
    assert said(hall.layout(stations, mended, emitters=laser)).codes == set()


def test_where_stations_reach_too_far_both_ways_a_second_set_up_is_advised(hall, said, grid):
    laser = {"laser": replace(hall.laser, nearest=4.5, farthest=6.0)}
    found = said(hall.layout(grid, hall.plane([station.name for station in grid]), emitters=laser))
    assert "second set-up" in found.one("too-far").advice


def test_the_way_through_a_prism_counts(hall, said):
    """5 m to the prism and 1.6 m from there are 6.6 m of light; the straight way is 5.25 m."""
    stations = hall.across()
    names = [station.name for station in stations]
    for farthest, codes in ((6.5, {"too-far"}), (6.7, set())):
        layout = hall.layout(stations, hall.square(names), emitters={"laser": replace(hall.laser, farthest=farthest)})
        assert said(layout).codes == codes


def test_reach_of_a_cable_counts_straight(hall, said, moved_as_said):
    stations = hall.row()
    setup = hall.line([station.name for station in stations])
    short = replace(hall.target, reach=8.9)
    finding = said(hall.layout(stations, setup, targets=[short])).one("out-of-reach")
    assert "P5 is 9000 mm from the emitter in a straight line; t1 reaches 8900 mm" in finding.message
    mended = moved_as_said(setup, finding.advice)
    assert said(hall.layout(stations, mended, targets=[short])).codes == set()
    across = hall.across()
    prism = hall.square([station.name for station in across])  # 5.25 m straight, 6.6 m of light
    for reach, codes in ((5.2, {"out-of-reach"}), (5.3, set())):
        assert said(hall.layout(across, prism, targets=[replace(hall.target, reach=reach)])).codes == codes


def test_a_beam_grows_too_wide_and_the_length_that_is_said_is_right(hall, said, mm):
    """w0 = 2 mm, zR = 19.8 m: 2.05 mm after 4.46 m. Source: w(z) = w0 sqrt(1 + (z/zR)^2)."""
    stations = hall.row()
    narrow = replace(hall.target, largest_spot=2.05e-3)
    setup = hall.line([station.name for station in stations], at=(-5.0, 0.0, 0.0))
    finding = said(hall.layout(stations, setup, targets=[narrow])).one("spot-too-large")
    rayleigh = np.pi * 2.0e-3**2 / 635e-9
    assert f"{2e-3 * np.hypot(1.0, 9.0 / rayleigh) * 1e3:.2f} mm" in finding.message
    assert mm(finding.advice)[0] == pytest.approx(rayleigh * np.sqrt((2.05 / 2.0) ** 2 - 1.0), abs=6e-3)


def test_stations_behind_the_emitter_and_the_way_back(hall, said, moved_as_said):
    stations = hall.row()
    setup = hall.line([station.name for station in stations], at=(-3.0, 0.0, 0.0))
    finding = said(hall.layout(stations, setup)).one("wrong-side")
    assert (finding.name, finding.kind) == ("P1", "station")
    assert "1000 mm against the way of the beam" in finding.message
    assert said(hall.layout(stations, moved_as_said(setup, finding.advice))).codes == set()


def test_a_beam_aimed_the_wrong_way_is_one_finding(hall, said, moved_as_said):
    stations = hall.row()
    setup = hall.line([station.name for station in stations], aim=np.array([-1.0, 0.0, 0.0]))
    found = said(hall.layout(stations, setup))
    finding = found.one("wrong-side")
    assert finding.kind == "set-up"
    mended = moved_as_said(setup, finding.advice)
    assert said(hall.layout(stations, mended)).codes == set()


def test_what_a_lost_beam_leaves_open_goes_without_saying(hall, said):
    stations = hall.row()
    names = [station.name for station in stations]
    task = hall.task(names, plane="vertical", of=("bed",))
    lost = said(hall.layout(stations, hall.line(names, at=(-3.0, 0.0, 0.0)), tasks=[task]))
    assert lost.codes == {"wrong-side"}
    touching = said(hall.layout(stations, hall.line(names, at=(-4.0, 0.0, 0.0)), tasks=[task]))
    assert touching.codes == {"too-near"}
    assert said(hall.layout(stations, hall.line(names), tasks=[task])).codes == set()
