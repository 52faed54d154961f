"""Spots off their windows along h and v, and the change of set-up, prism or station that brings them back."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from scenes.model.finding import Severity
from scenes.model.mounts import Mount
from scenes.model.survey import Limit

HIGH, ASIDE = 25e-3, 30e-3
"""Past a window of 20 mm with a beam of 2 mm radius."""


@pytest.mark.parametrize(
    ("at", "sides"),
    [
        ((-5.0, 0.0, HIGH), {"above": HIGH}),
        ((-5.0, ASIDE, 0.0), {"to the left of": ASIDE}),
        ((-5.0, -ASIDE, 0.0), {"to the right of": ASIDE}),
        ((-5.0, -ASIDE, -HIGH), {"to the right of": ASIDE}),
    ],
)
def test_a_line_beside_its_targets_is_moved_onto_them(hall, said, moved_as_said, at, sides):
    stations = hall.row()
    setup = hall.line([station.name for station in stations], at=at)
    found = said(hall.layout(stations, setup))
    finding = found.one("off-window")
    assert (finding.kind, finding.severity) == ("set-up", Severity.ERROR)
    for words, size in sides.items():
        assert f"{1e3 * size:.2f} mm {words} the centre" in finding.message
    assert "5 stations are off" in finding.message
    assert found.codes == {"off-window"}
    mended = moved_as_said(setup, finding.advice)
    assert np.allclose(mended.at, [-5.0, 0.0, 0.0], atol=1e-4)
    assert said(hall.layout(stations, mended)).codes == set()


def test_a_line_at_a_slant_is_turned(hall, said, moved_as_said):
    """5 mrad: 5 mm off at the nearest, 45 mm at the farthest; no shift brings all onto windows of 16 mm."""
    stations = hall.row()
    setup = hall.line([station.name for station in stations], aim=np.array([1.0, 0.005, 0.0]) / np.hypot(1.0, 0.005))
    finding = said(hall.layout(stations, setup)).one("off-window")
    assert re.search(r"turn the beam by 0\.28[67] deg", finding.advice)
    assert said(hall.layout(stations, moved_as_said(setup, finding.advice))).codes == set()


def test_near_and_far_targets_in_the_beam_move_with_the_line(hall, said, moved_as_said):
    ends = [hall.station(name, x, ASIDE, is_datum=True) for name, x in (("near", -4.5), ("far", 4.5))]
    stations = hall.row()
    reads = ["near", "far", *(station.name for station in stations)]
    setup = hall.line(reads, at=(-5.0, ASIDE, 0.0), near="near", far="far")
    finding = said(hall.layout([*ends, *stations], setup)).one("off-window")
    assert finding.advice == "move the emitter 30.0 mm toward -y of bed"
    brought = [replace(end, at=end.at - [0.0, ASIDE, 0.0]) for end in ends]
    assert said(hall.layout([*brought, *stations], moved_as_said(setup, finding.advice))).codes == set()


def test_the_free_direction_of_a_swept_plane_does_not_count(hall, said):
    """A bracket 60 mm to the side only turns the base; 60 mm up is off."""
    grid = [hall.station(f"G{i}{j}", -2.0 + i, -1.0 + j) for i in range(4) for j in range(3)]
    names = [station.name for station in grid]
    aside = [replace(each, mount=Mount("bracket", 0.12, 0.06, 0.3, 1e-6, 1e-5, arm=0.06)) for each in grid]
    assert said(hall.layout(aside, hall.plane(names))).codes == set()
    low = hall.plane(names, mount=replace(hall.tripod, height=0.49))
    assert said(hall.layout(grid, low)).one("off-window").advice == "raise the tripod by 60.0 mm to 550.0 mm"


def test_the_free_direction_needs_no_room_for_the_limit(hall, said):
    """9 mm either way in a window of 12 mm x 30 mm: along h, the base is turned after the spot."""
    grid = [hall.station(f"G{i}{j}", -2.0 + i, -1.0 + j) for i in range(4) for j in range(3)]
    names = [station.name for station in grid]
    task = hall.task(names, 9e-3, "parallelism", of=("bed",), to="bed")
    for across, up, off in ((12e-3, 30e-3, False), (30e-3, 12e-3, True)):
        target = replace(hall.target, window_h=across, window_v=up)
        found = said(hall.layout(grid, hall.plane(names), tasks=[task], targets=[target]))
        assert ("off-window" in found.codes) is off


def test_stations_of_different_heights_are_told_apart_by_what_each_group_needs(hall, said):
    stations = hall.row(6, -4.0, 1.5)
    odd = {1: 0.14, 3: 0.14, 4: 0.10}
    uneven = [
        replace(each, mount=replace(each.mount, height=odd.get(i, 0.12))) for i, each in enumerate(stations)
    ]  # fmt: skip
    setup = hall.line([station.name for station in stations])
    found = said(hall.layout(uneven, setup))
    advice = {finding.name: finding.advice for finding in found.all if finding.code == "off-window"}
    assert advice == {
        "line": "lower the post by 20.0 mm to 120.0 mm",
        "P5": "raise the post by 20.0 mm to 120.0 mm",
    }
    assert found.codes == {"off-window"}
    assert said(hall.layout(stations, setup)).codes == set()


def test_a_station_beside_the_line_is_moved_aside(hall, said):
    stations = hall.row()
    off = [*stations[:4], replace(stations[4], at=np.array([4.0, -ASIDE, 0.0]))]
    finding = said(hall.layout(off, hall.line([station.name for station in stations]))).one("off-window")
    assert (finding.name, finding.advice) == ("P5", "move the target 30.0 mm toward +y of bed")


def test_a_mount_that_other_readings_need_is_not_moved_for_all(hall, said):
    """One post is 20 mm low for the line, but right for the plane: the advice is for the line alone."""
    grid = [hall.station(f"G{i}{j}", -2.0 + i, -1.0 + j) for i in range(4) for j in range(3)]
    names = [station.name for station in grid]
    line = hall.line(["G01", "G11", "G21", "G31"], at=(-5.0, 0.0, 20e-3), near="G01", far="G31")
    post = replace(hall.post, height=0.14)
    odd = [replace(each, mount=post) if each.name in ("G01", "G31") else each for each in grid]
    plane = hall.plane([name for name in names if name not in ("G01", "G31")])
    found = said(hall.layout(odd, plane, line))
    finding = found.one("off-window")
    assert "for line alone: other readings need it where it is" in finding.advice
    assert finding.advice.startswith("raise the post by 20.0 mm to 140.0 mm")


def test_a_window_too_small_for_the_limit_says_how_large_it_must_be(hall, said, mm):
    stations = hall.row()
    names = [station.name for station in stations]
    wide = hall.task(names, 9e-3, plane="horizontal")
    finding = said(hall.layout(stations, hall.line(names), tasks=[wide])).one("off-window")
    assert "9.00 mm left or right" in finding.message
    size = mm(finding.advice)[0]
    large = replace(hall.target, window_h=size + 1e-5)
    assert "off-window" not in said(hall.layout(stations, hall.line(names), tasks=[wide], targets=[large])).codes
    small = replace(hall.target, window_h=size - 1e-4)
    assert "off-window" in said(hall.layout(stations, hall.line(names), tasks=[wide], targets=[small])).codes


def test_a_limit_counts_in_its_own_direction_only(hall, said):
    """9 mm up and down in a window of 30 mm x 20 mm: along h there is no need for them."""
    stations = hall.row()
    names = [station.name for station in stations]
    tall = replace(hall.target, window_v=0.03)
    vertical = hall.task(names, 9e-3, plane="vertical")
    assert "off-window" not in said(hall.layout(stations, hall.line(names), tasks=[vertical], targets=[tall])).codes
    assert "off-window" in said(hall.layout(stations, hall.line(names), tasks=[vertical])).codes


def test_an_angle_as_a_limit_counts_over_the_length(hall, said):
    """1.2 mm/m over 8 m are 9.6 mm, 0.5 mm/m are 4 mm; the window has room for 8 mm less the beam."""
    stations = hall.row()
    names = [station.name for station in stations]
    for size, off in ((1.2e-3, True), (0.5e-3, False)):
        task = hall.task(names, size, "levelness", limits={"": Limit(size, angle=True)})
        assert ("off-window" in said(hall.layout(stations, hall.line(names), tasks=[task])).codes) is off


def test_a_beam_as_wide_as_the_window(hall, said):
    small = replace(hall.target, window_h=3.9e-3, window_v=3.9e-3)
    stations = hall.row()
    finding = said(hall.layout(stations, hall.line([s.name for s in stations]), targets=[small])).one("off-window")
    assert "as wide as the window" in finding.message


def test_a_see_through_target_off_its_window_also_cuts_the_light_behind_it(hall, said):
    stations = hall.row(3)
    off = [stations[0], replace(stations[1], mount=replace(stations[1].mount, height=0.14)), stations[2]]
    setup = hall.line([station.name for station in stations], through=("g1", "g1", "t1"))
    finding = said(hall.layout(off, setup)).one("off-window")
    assert finding.name == "P2"
    assert finding.message.endswith("their windows also cut the light to P3")


def test_near_the_edge_is_a_warning_with_the_way_to_the_middle(hall, said, moved_as_said):
    stations = hall.row()
    setup = hall.line([station.name for station in stations], at=(-5.0, 7e-3, 0.0))
    finding = said(hall.layout(stations, setup)).one("near-edge")
    assert finding.severity is Severity.WARNING
    assert "7.00 mm to the left of the centre" in finding.message
    assert said(hall.layout(stations, moved_as_said(setup, finding.advice))).codes == set()
    assert said(hall.layout(stations, hall.line(setup.reads, at=(-5.0, 4e-3, 0.0)))).codes == set()
