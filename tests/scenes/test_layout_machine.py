"""Machine surfaces of every kind as the layout language says them: shapes, frames, moving parts, temperatures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from scenes.errors import LayoutError, Problem
from scenes.layout import read_layout
from scenes.model.machine import Bore, Plate, Rail, Roll
from scenes.tracing.places import pose_of, positions_of

HALL = (Path(__file__).parent / "machine_hall.yaml").read_text(encoding="utf-8")
PICOMETRE = 1e-12
PLATE = "plate: {length: 1 m, width: 1 m, thickness: 0.1 m}"


def changed(*pairs: tuple[str, str]) -> str:
    text = HALL
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def problems_of(text: str) -> tuple[Problem, ...]:
    try:
        read_layout("hall.yaml", text)
    except LayoutError as error:
        return error.problems
    return ()


@pytest.fixture(scope="module")
def hall():
    return read_layout("hall.yaml", HALL)


def test_shapes_are_as_written(hall) -> None:
    shapes = {name: surface.shape for name, surface in hall.surfaces.items()}
    assert shapes["rail_a"] == Rail(30.0, 0.08, 0.1, "-y")
    assert shapes["roll_1"] == Roll(0.4, 3.2)
    assert shapes["press lower"] == shapes["press upper"] == Plate(1.6, 1.4, 0.08)
    assert shapes["barrel"] == Bore(((0.18, 0.0, 6.0),), pytest.approx(0.036))
    assert shapes["bearings"] == Bore(((0.18, 0.0, 0.1), (0.2, 1.0, 1.2), (0.16, 1.2, 1.3)), 0.03)
    assert shapes["bearings"].length == 1.3


def test_temperatures_are_kelvin_and_none_where_nothing_is_said(hall) -> None:
    bed, roll = hall.surfaces["bed"], hall.surfaces["roll_1"]
    assert (bed.temperature, bed.temperature_known_to, bed.across, bed.across_known_to) == (297.15, 1.0, 2.0, 0.5)
    assert (roll.temperature, roll.temperature_known_to, roll.across, roll.across_known_to) == (None, 0.0, 0.0, 0.0)


def test_a_difference_of_temperature_has_no_zero_point() -> None:
    layout = read_layout("hall.yaml", changed(("across: 2 K", "across: -1.8 degF"), ("to: 0.5 K", "to: 0.5 degC")))
    assert layout.surfaces["bed"].across == pytest.approx(-1.0)
    assert layout.surfaces["bed"].across_known_to == pytest.approx(0.5)


def test_an_axis_leads_into_a_bore_and_along_a_roll(hall) -> None:
    assert hall.surfaces["barrel"].world_from_surface.rotation[:, 2] == pytest.approx([1, 0, 0])
    assert hall.surfaces["roll_1"].world_from_surface.rotation[:, 2] == pytest.approx([0, 1, 0])
    assert hall.surfaces["bearings"].world_from_surface.points(np.array([0.0, 0.0, 1.3])) == pytest.approx(
        [0, -8.3, 1.2]
    )


def test_along_says_where_x_goes(hall) -> None:
    rail = hall.surfaces["rail_a"].world_from_surface
    np.testing.assert_allclose(rail.rotation, [[0, -1, 0], [1, 0, 0], [0, 0, 1]], atol=PICOMETRE)
    np.testing.assert_allclose(rail.points(np.array([30.0, 0, 0])), [20, 30, 0.2], atol=PICOMETRE)


def test_platens_face_each_other_with_the_same_x(hall) -> None:
    lower, upper = (hall.surfaces[f"press {which}"].world_from_surface for which in ("lower", "upper"))
    np.testing.assert_allclose(upper.origin - lower.origin, [0, 0, 0.3], atol=PICOMETRE)
    np.testing.assert_allclose(upper.rotation[:, 0], lower.rotation[:, 0], atol=PICOMETRE)
    np.testing.assert_allclose(upper.rotation[:, 0], [0, 1, 0], atol=PICOMETRE)
    np.testing.assert_allclose(upper.rotation[:, 2], -lower.rotation[:, 2], atol=PICOMETRE)
    assert hall.surfaces["press lower"].moves is None
    assert pose_of(hall, "press upper", {"press upper": "open"}).origin == pytest.approx([0, -12, 1.5])
    assert hall.surfaces["press upper"].line == hall.surfaces["press lower"].line > 0


def test_platens_that_stand_askew_keep_their_gap() -> None:
    text = changed(("at: [0 m, -12 m, 1 m], turned: 90 deg", "at: [0 m, -12 m, 1 m], axis: [1, 2, 3]"))
    layout = read_layout("hall.yaml", text)
    lower, upper = (layout.surfaces[f"press {which}"].world_from_surface for which in ("lower", "upper"))
    np.testing.assert_allclose(upper.origin - lower.origin, 0.3 * lower.rotation[:, 2], atol=PICOMETRE)
    np.testing.assert_allclose(upper.rotation, lower.rotation * [1, -1, -1], atol=PICOMETRE)


@pytest.mark.parametrize(("position", "z"), [("low", 1.1), ("mid", 1.4), ("top", 1.7)])
def test_what_stands_on_a_moving_part_moves_with_it(hall, position: str, z: float) -> None:
    assert hall.surfaces["slide"].world_from_surface.origin[2] == pytest.approx(1.4)  # drawn at mid
    here = {"slide": position}
    np.testing.assert_allclose(pose_of(hall, "slide", here).origin, [0, 0, z], atol=PICOMETRE)
    np.testing.assert_allclose(pose_of(hall, "ram", here).origin, [0.1, -0.2, z], atol=PICOMETRE)
    np.testing.assert_allclose(pose_of(hall, "bed", here).origin, [0, 0, 0.8], atol=PICOMETRE)
    assert pose_of(hall, "floor", here).origin == pytest.approx([0, 0, 0])


def test_ways_of_parts_on_parts_add_up_in_their_own_frames(hall) -> None:
    """The gantry goes 5 m along (3, 4)/5; the head on it goes along its x, which is that of the gantry."""
    head = pose_of(hall, "head", {"gantry": "back", "head": "right"})
    np.testing.assert_allclose(head.origin, [3.0 + 0.3, 9.0 + 4.0, 2.0], atol=PICOMETRE)
    assert hall.surfaces["head"].world_from_surface.origin == pytest.approx([-0.3, 9, 2])
    with pytest.raises(KeyError):
        pose_of(hall, "head", {"head": "nowhere"})


def test_poses_at_positions_are_those_of_a_layout_drawn_there(hall) -> None:
    """The independent way: the same layout, drawn at other positions."""
    there = read_layout(
        "hall.yaml",
        changed(
            ("at position: mid", "at position: top"),
            ("back: 5 m}}", "back: 5 m}}, at position: back"),
            ("right: 300 mm}}", "right: 300 mm}}, at position: right"),
        ),
    )
    positions = {"slide": "top", "gantry": "back", "head": "right"}
    for name, surface in there.surfaces.items():
        pose = pose_of(hall, name, positions)
        np.testing.assert_allclose(pose.origin, surface.world_from_surface.origin, atol=PICOMETRE)
        np.testing.assert_allclose(pose.rotation, surface.world_from_surface.rotation, atol=PICOMETRE)


def test_the_nearest_moving_part_that_has_the_positions_is_meant(hall) -> None:
    stations = hall.stations
    assert (stations["H@back"].carried_by, stations["H@back"].position) == ("gantry", "back")
    text = changed(("positions: [front, back], mount", "positions: all, mount"))
    assert read_layout("hall.yaml", text).stations["H@left"].carried_by == "head"
    assert positions_of(stations["H@back"]) == {"gantry": "back"}


# old part of the hall, new part, text at whose start the problem stands, message, advice
ONE_CHANGE = [
    ("roll: {diameter: 400 mm", "roll: {diametre: 400 mm", "diametre", "a roll has no key 'diametre'", "diameter?"),
    ("guide: -y", "guide: left", "left", "one of these is expected, not 'left': +y, -y", ""),
    ("along: +y}", "along: up}", "up}", "'rail_a' cannot lie along its own z", "another direction"),
    ("along: +y}", "along: +y, turned: 5 deg}", "turned: 5", "both along and turned", "keep one"),
    ("along: +y}", "along: +yy}", "+yy", "a direction is expected, not '+yy'", "one of"),
    ("at position: mid", "at position: midd", "midd", "'slide' has no position 'midd'", "did you mean mid?"),
    ("axis: +x}\n  bearings", "axis: +x, at position: low}\n  bearings", "at position: low", "does not move", "moves"),
    ("{left: -300 mm, right: 300 mm}", "{}", "{}", "named positions are expected", "low: 300 mm"),
    ("{left: -300 mm,", "{all: -300 mm,", "{all", "'all' stands for every position", ""),
    ("{left: -300 mm,", "{l@t: -300 mm,", "{l@t", "'l@t' cannot name a position", "@ stands between"),
    ("{left: -300 mm,", "{left: -300,", "-300", "the number -300 has no unit", "-300 mm"),
    ("moves: {along: +x, ", "moves: {", "{positions: {left", "the moving of a part needs the key 'along'", "+z"),
    ("{diameter: 180 mm, length: 6 m", "{diameter: 180 mm", "{diameter", "a bore needs the key 'length'", ""),
    ("{diameter: 180 mm, length: 6 m", "{length: 6 m", "{length: 6 m", "a bore needs the key 'diameter'", "sections"),
    ("      wall: 30 mm", "      length: 2 m", "length", "either a diameter and a length, or sections", "remove"),
    ("from: 1.2 m, to: 1.3 m", "from: 1.1 m, to: 1.3 m", "1.1 m", "starts before the one in front ends", ""),
    ("from: 1.2 m, to: 1.3 m", "from: 1.3 m, to: 1.2 m", "1.2 m}", "must end behind where it starts", "exchange"),
    ("gap: 300 mm", "gap: 0 mm", "0 mm}", "a length above zero is expected", ""),
    ("across: 2 K", "across: 2 m", "2 m", "'m' is not a unit of temperature difference", "K"),
    ("across known to: 0.5 K", "across known to: -0.5 K", "-0.5", "not below zero", "sign"),
    ("temperature: 24 degC\n", "temperature: 24\n", "24\n", "the number 24 has no unit", "24 degC"),
    ("on: bed\n    faces", "on: press\n    faces", "press\n", "there is no machine surface 'press'", "press"),
    ("  press: {platens: {", "  press: {platen: {", "platen", "no key 'platen'", "did you mean platens"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "at", "message", "advice"), [case for case in ONE_CHANGE if case[2]])
def test_a_wrong_surface_is_told_at_its_place(old, new, at, message, advice) -> None:
    text = changed((old, new))
    problems = problems_of(text)
    offset = text.index(at, text.index(new))
    line, column = text.count("\n", 0, offset) + 1, offset - (text.rfind("\n", 0, offset) + 1) + 1
    hits = [p for p in problems if message in p.message and advice in p.advice]
    assert hits, [str(p) for p in problems]
    assert (hits[0].line, hits[0].column) == (line, column)
    assert len(problems) == 1, [str(p) for p in problems]


def test_platens_and_a_surface_of_the_same_name_clash() -> None:
    for new in ("  press upper: {" + PLATE + "}\n  press: ", "  press lower: {" + PLATE + "}\n  press: "):
        problems = problems_of(changed(("  press: ", new)))
        assert ["the platens 'press' name a surface" in p.message for p in problems] == [True]
    later = changed(("  hub: ", "  press upper: {" + PLATE + "}\n  hub: "))
    assert ["the platens 'press' name a surface" in p.message for p in problems_of(later)] == [True]
