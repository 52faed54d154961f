"""Prisms: light that misses, faces that cut, directions out of their plane, cones in the plane that they sweep."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from scenes.frames import pose_from_turn
from scenes.model.finding import Severity
from scenes.model.machine import Column, Surface
from scenes.model.survey import Limit, PrismUse, Stop


def set_as_said(setup, advice):
    """Turn of the nose and place of the stop as an advice names them."""
    use, touched = setup.prism, False
    turn = re.search(r"turn the nose by \d+\.\d+ deg (?:right|left)-handed about the beam, to (-?\d+\.\d+) deg", advice)
    if turn:
        use, touched = replace(use, turned=np.radians(float(turn[1]))), True
    place = re.search(r"move the prism by \d+\.\d mm (?:farther|back) along the beam, to (\d+\.\d) mm", advice)
    if place:
        use, touched = replace(use, stops=(replace(use.stops[0], distance=float(place[1]) * 1e-3),)), True
    assert touched, advice
    return replace(setup, prism=use)


@pytest.mark.parametrize(
    ("distance", "degrees"), [(5.0, -80.0), (5.0, 90.0), (4.7, -90.0), (5.35, -90.0), (4.9, -99.0), (5.2, 0.0)]
)
def test_a_nose_that_looks_elsewhere_is_turned_and_carried(hall, said, distance, degrees):
    """The stations lie 5 m along the beam, toward +y: the nose has to stand there, turned to -90 deg."""
    stations = hall.across()
    setup = hall.square([station.name for station in stations], distance=distance, turned=np.radians(degrees))
    found = said(hall.layout(stations, setup))
    finding = found.one("prism-misses")
    assert (finding.severity, finding.kind) == (Severity.ERROR, "set-up")
    assert found.codes == {"prism-misses"}
    mended = set_as_said(setup, finding.advice)
    assert np.isclose(mended.prism.stops[0].distance, 5.0, atol=1e-4)
    assert np.isclose(np.cos(mended.prism.turned + 0.5 * np.pi), 1.0, atol=1e-6)
    assert said(hall.layout(stations, mended)).codes == set()


@pytest.mark.parametrize("distance", [4.6, 5.3])
def test_a_stop_read_from_both_ends_is_moved_once(hall, said, distance):
    """Reversed, the beam comes the other way: what is beyond the prism then lies before it."""
    stations = hall.across()
    names = [station.name for station in stations]
    ends = [hall.station(name, x, 0.0, is_datum=True) for name, x in (("near", -4.5), ("far", 3.0))]
    setup = hall.square(names, distance=distance, reversed=True, near="near", far="far")
    setup = replace(setup, reads=("near", "far", *names))
    finding = said(hall.layout([*ends, *stations], setup)).one("prism-misses")
    mended = set_as_said(setup, finding.advice)
    assert np.isclose(mended.prism.stops[0].distance, 5.0, atol=1e-4)
    assert said(hall.layout([*ends, *stations], mended)).codes == set()


def test_a_little_off_is_off_the_window_but_no_miss(hall, said):
    """A stop 9 mm too far: the spots are 9 mm off on windows that reach 10 mm and have room for 8 mm."""
    stations = hall.across()
    setup = hall.square([station.name for station in stations], distance=5.009)
    finding = said(hall.layout(stations, setup)).one("off-window")
    assert said(hall.layout(stations, set_as_said(setup, finding.advice))).codes == set()


def test_a_swept_plane_beside_its_stations(hall, said):
    stations = hall.across()
    setup = hall.square([station.name for station in stations], distance=4.2, sweeps=True)
    found = said(hall.layout(stations, setup))
    finding = found.one("prism-misses")
    assert "800.0 mm off" in finding.message
    assert finding.advice == "move the prism by 800.0 mm farther along the beam, to 5000.0 mm"
    assert "prism-misses" not in said(hall.layout(stations, set_as_said(setup, finding.advice))).codes


def test_every_stop_is_moved_by_what_its_own_stations_need(hall, said):
    first, second = hall.across(2, x=-1.0), hall.across(2, x=2.0)
    second = [replace(each, name=f"R{i}") for i, each in enumerate(second)]
    stops = (Stop("one", 4.5, tuple(s.name for s in first)), Stop("two", 6.8, tuple(s.name for s in second)))
    use = PrismUse("nose", stops, -0.5 * np.pi)
    setup = hall.line([s.name for s in (*first, *second)], prism=use)
    finding = said(hall.layout([*first, *second], setup)).one("prism-misses")
    assert "to one 4000.0 mm, two 7000.0 mm" in finding.advice
    right = replace(use, stops=(replace(stops[0], distance=4.0), replace(stops[1], distance=7.0)))
    assert said(hall.layout([*first, *second], replace(setup, prism=right))).codes == set()


def test_a_surface_on_the_base_line_is_one_finding_for_all_behind_the_prism(hall, said):
    stations = hall.across()
    pillar = Surface("pillar", Column(0.2, 0.2, 3.0), pose_from_turn([-2.0, 0.0, 0.0]), "floor", "", 4)
    found = said(hall.layout(stations, hall.square([s.name for s in stations]), surfaces=[pillar]))
    finding = found.one("blocked")
    assert "Q1, Q2, Q3, Q4 are hidden by pillar (line 4), 2900 mm from the emitter" in finding.message
    beyond = Surface("pillar", pillar.shape, pose_from_turn([2.0, 0.0, 0.0]), "floor", "", 4)
    assert said(hall.layout(stations, hall.square([s.name for s in stations]), surfaces=[beyond])).codes == set()


def test_faces_cut_a_wide_beam_until_the_prism_is_as_large_as_said(hall, said, mm):
    stations = hall.across()
    setup = hall.square([station.name for station in stations])
    small = replace(hall.nose, aperture=3.9e-3)
    found = said(hall.layout(stations, setup, prisms={"nose": small}))
    finding = found.one("clipped")
    assert finding.severity is Severity.WARNING
    assert "cut 0.1" in finding.message
    size = mm(finding.advice)[-1]
    assert 4.1e-3 < size < 4.3e-3
    assert said(hall.layout(stations, setup, prisms={"nose": replace(small, aperture=size)})).codes == set()
    less = replace(small, aperture=size - 2e-4)
    assert "clipped" in said(hall.layout(stations, setup, prisms={"nose": less})).codes


def test_faces_cut_less_near_the_waist(hall, said, moved_as_said):
    """A beam of 1 mm grows to 1.4 mm in 5 m; faces of 2.4 mm let 1.2 mm through, which it has after 3.3 m."""
    stations = hall.across()
    setup = hall.square([station.name for station in stations])
    parts = {"prisms": {"nose": replace(hall.nose, aperture=2.4e-3)},
             "emitters": {"laser": replace(hall.laser, waist_radius=1.0e-3)}}  # fmt: skip
    finding = said(hall.layout(stations, setup, **parts)).one("clipped")
    mended = moved_as_said(setup, finding.advice.partition(", or take")[0])
    rayleigh = np.pi * 1.0e-6 / 635e-9
    assert mended.prism.stops[0].distance == pytest.approx(rayleigh * np.sqrt(0.44), abs=0.02)
    assert said(hall.layout(stations, mended, **parts)).codes == set()


def upright(hall, **more):
    """A column's side read by light that goes straight up from a prism on a line along x."""
    side = {"normal": np.array([-1.0, 0.0, 0.0]), "along": np.array([0.0, 0.0, 1.0])}
    names = ("U1", "U2", "U3")
    stations = [
        replace(hall.station(name, 0.15, 0.0, **side), at=np.array([0.15, 0.0, 0.6 + 0.5 * i]))
        for i, name in enumerate(names)
    ]
    use = PrismUse("nose", (Stop("here", 5.0, names),), 0.0)
    return stations, hall.line(names, prism=use, **more)


@pytest.mark.parametrize(("directions", "out"), [("x", False), ("y", True), ("xy", True)])
def test_squareness_out_of_the_plane_of_a_fixed_prism(hall, said, directions, out):
    """Light up from a beam along x is square to x whatever the nose does, and to y as well as the nose is turned."""
    stations, setup = upright(hall)
    limits = {name: Limit(2e-5, over=0.3, angle=True) for name in directions}
    task = hall.task([s.name for s in stations], 2e-5 / 0.3, "squareness", limits=limits, of=("bed",), to="bed")
    found = said(hall.layout(stations, setup, tasks=[task]))
    assert ("out-of-plane" in found.codes) is out
    if out:
        finding = found.one("out-of-plane")
        assert "206.26 arcsec" in finding.message  # 1 mrad
        assert "1000.0 um over 1000 mm" in finding.message
        assert "beam runs along the y of the world" in finding.advice


def test_a_second_prism_with_its_beam_that_way_clears_it(hall, said):
    stations, setup = upright(hall)
    limits = {"y": Limit(2e-5, over=0.3, angle=True)}
    names = [s.name for s in stations]
    task = hall.task(names, 2e-5 / 0.3, "squareness", limits=limits, of=("bed",), to="bed")
    across = replace(
        setup, name="across", at=np.array([0.0, -1.5, 0.0]), aim=np.array([0.0, 1.0, 0.0]),
        prism=replace(setup.prism, stops=(replace(setup.prism.stops[0], distance=1.5),)),
    )  # fmt: skip
    assert "out-of-plane" in said(hall.layout(stations, setup, tasks=[task])).codes
    assert "out-of-plane" not in said(hall.layout(stations, setup, across, tasks=[task])).codes
    same = replace(setup, name="same")  # another one with its beam along x tells no more of y
    assert "out-of-plane" in said(hall.layout(stations, setup, same, tasks=[task])).codes


def test_parallelism_in_and_out_of_the_plane(hall, said):
    stations = hall.across()
    names = [station.name for station in stations]
    for plane, codes in (("out of plane", {"out-of-plane"}), ("in plane", set())):
        task = hall.task(names, 1e-3, "parallelism", plane=plane, of=("bed",), to="square")
        found = said(hall.layout(stations, hall.square(names), tasks=[task]))
        assert found.codes & {"out-of-plane"} == codes
        if codes:  # what it leaves open is told once, as an error
            assert found.one("out-of-plane").severity is Severity.ERROR
            assert "plane swept by a rotary base" in found.one("out-of-plane").advice
            assert "task-open" not in found.codes


def test_heights_from_a_base_give_what_is_out_of_the_plane(hall, said):
    """As the advice says: a plane swept by a base over the same stations."""
    stations = hall.across()
    names = [station.name for station in stations]
    task = hall.task(names, 1e-3, "parallelism", plane="out of plane", of=("bed",), to="square")
    more = [hall.station(f"G{i}", -2.0 + i, -1.0) for i in range(3)]
    plane = hall.plane([*names, *(each.name for each in more)])
    assert "out-of-plane" not in said(hall.layout([*stations, *more], hall.square(names), plane, tasks=[task])).codes
    some = hall.plane([*names[:3], *(each.name for each in more)])
    assert "out-of-plane" in said(hall.layout([*stations, *more], hall.square(names), some, tasks=[task])).codes


def ring(hall, count, radius, start=0.3):
    """Stations of a swept plane at one radius from the prism at the origin, their mounts along the beam."""
    angles = start + np.linspace(0.0, np.pi - 2.0 * start, count)
    side = {"normal": np.array([1.0, 0.0, 0.0]), "along": np.array([0.0, 1.0, 0.0])}
    return [
        replace(
            hall.station(f"S{i}", 0.0, 0.0, **side),
            at=np.array([-0.15, radius * np.cos(angle), 0.15 + radius * np.sin(angle)]),
        )
        for i, angle in enumerate(angles)
    ]


def test_equal_radii_in_the_plane_of_a_prism_and_the_station_that_is_said(hall, said, mm):
    stations = ring(hall, 6, 1.2)
    setup = hall.square([station.name for station in stations], sweeps=True)
    finding = said(hall.layout(stations, setup)).one("equal-radii")
    assert finding.severity is Severity.NOTE
    assert "all 6 stations stand 1200 mm from nose" in finding.message
    assert f"{2 * 1.517 * 3e-6 * 1.2 * 1e6:.1f} um at 1200 mm" in finding.message  # 2 n dm r
    half = replace(ring(hall, 3, mm(finding.advice)[0])[1], name="inner")
    more = [*stations, half]
    wider = hall.square([station.name for station in more], sweeps=True)
    assert said(hall.layout(more, wider)).codes == set()


def test_radii_along_one_line_look_like_a_tilt_until_the_other_side_is_read(hall, said):
    stations = hall.across()
    setup = hall.square([station.name for station in stations], sweeps=True)
    finding = said(hall.layout(stations, setup)).one("equal-radii")
    assert "tilts all readings" in finding.message
    assert "the other side of nose" in finding.advice
    other = [*stations, replace(hall.across(1, -0.9)[0], name="other")]
    both = hall.square([station.name for station in other], sweeps=True)
    assert said(hall.layout(other, both)).codes == set()
