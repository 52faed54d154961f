"""Squareness, parallelism and direction, against closed forms of a truth that was put in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.reductions.verdict import Word

NANOMETRE = 1e-9
NANORADIAN = 1e-9
BY_PRISM = 30 * NANORADIAN
"""A nose that nobody knows better than to 0.2 mrad couples with what else is off, to second order."""


def slope(places, values):
    return np.polyfit(places, values, 1)[0]


def values(names, truth):
    return np.array([truth.get(name, 0.0) for name in names])


def component(result, name=""):
    return next(each for each in result.components if each.name == name)


@pytest.mark.parametrize(("reverse", "sweeps"), [(False, False), (True, False), (False, True)])
def test_squareness_of_a_way_to_a_base_line(surveys, crew, reverse, sweeps):
    layout = surveys.square(reverse=reverse, sweeps=sweeps)
    names = layout.tasks["square"].stations
    aside = crew.truth(names, 7)
    y = np.array([layout.stations[name].at[0] for name in names])
    readings = crew.readings(layout, {"deviation_side": aside}, errors=False)
    found = component(crew.measured(layout, readings, "square"))
    # The way runs along +y, so that its side points along -x; the angle closes where it leans toward +x.
    assert found.value == pytest.approx(-slope(y, values(names, aside)), abs=BY_PRISM)


def test_squareness_of_travel_to_a_bed_and_what_stays_open(surveys, crew):
    layout = surveys.press()
    ahead, up = crew.truth(["C@low", "C@mid", "C@top"], 8), crew.truth(["W", "E"], 9)
    readings = crew.readings(layout, {"deviation_along": ahead, "deviation": up}, errors=False)
    rising = (up["E"] - up["W"]) / 1.9
    wanted = slope([0.0, 0.3, 0.6], list(ahead.values())) + rising
    assert component(crew.measured(layout, readings, "travel"), "x").value == pytest.approx(wanted, abs=BY_PRISM)
    both = crew.measured(layout, readings, "both ways")
    assert [each.component for each in both.unreached] == ["y"]
    assert both.word is Word.NOT_PROVEN


def test_squareness_of_a_gantry_to_its_rail(surveys, crew):
    layout = surveys.gantry()
    rail, beam = surveys.names("A", 3), surveys.names("G", 4)
    aside, ahead = crew.truth(rail, 10), crew.truth(beam, 11)
    readings = crew.readings(layout, {"deviation_side": aside, "deviation": ahead}, errors=False)
    x = np.array([layout.stations[name].at[0] for name in rail])
    y = np.array([layout.stations[name].at[0] for name in beam])
    wanted = slope(y, values(beam, ahead)) + slope(x, values(rail, aside))
    assert component(crew.measured(layout, readings, "square")).value == pytest.approx(wanted, abs=BY_PRISM)


def test_parallelism_of_rolls_in_plane(surveys, crew):
    layout = surveys.rolls()
    names = layout.tasks["rolls"].stations
    aside = crew.truth(names, 12)
    readings = crew.readings(layout, {"deviation_side": aside}, errors=False)
    found = crew.measured(layout, readings, "rolls")
    for i in (1, 2):
        near, far = aside[f"roll {i} near"], aside[f"roll {i} far"]
        # Normal up, along +y: the side points along +y x ... = up x y = -x.
        assert component(found, f"roll {i} in plane").value == pytest.approx(-(far - near) / 2.0, abs=BY_PRISM)


def test_parallelism_of_slide_and_bed_by_angle_and_by_zone(surveys, crew):
    layout = surveys.press()
    bed = [name for name in layout.tasks["parallel"].stations if name.startswith("G")]
    slide = [name for name in layout.tasks["parallel"].stations if name.startswith("S")]
    up = {**crew.truth(bed, 13), **crew.truth(slide, 14)}
    readings = crew.readings(layout, {"deviation": up}, errors=False)

    def plane(names, sign):
        x, y = np.array([layout.stations[name].at[:2] for name in names]).T
        y = -y if sign < 0 else y  # the slide faces down: its frame is turned about x
        design = np.column_stack([np.ones(len(names)), x, y])
        return design, np.linalg.lstsq(design, sign * values(names, up), rcond=None)[0]

    (_, low), (design, high) = plane(bed, 1.0), plane(slide, -1.0)
    found = crew.measured(layout, readings, "parallel")
    assert component(found, "x").value == pytest.approx(high[1] - low[1], abs=5 * NANORADIAN)
    assert component(found, "y").value == pytest.approx(high[2] - low[2], abs=5 * NANORADIAN)
    heights = -values(slide, up) - design[:, 1:] @ low[1:]
    assert component(crew.measured(layout, readings, "zone"), "slide").value == pytest.approx(
        np.ptp(heights), abs=5 * NANOMETRE
    )


def test_parallelism_of_rails(surveys, crew):
    layout = surveys.rails()
    a, b = surveys.names("A", 8), surveys.names("B", 8)
    up = {**crew.truth(a, 15), **crew.truth(b, 16)}
    x = np.array([layout.stations[name].at[0] for name in a])
    readings = crew.readings(layout, {"deviation": up}, errors=False)
    found = component(crew.measured(layout, readings, "parallel"), "vertical")
    wanted = slope(x, values(b, up)) - slope(x, values(a, up))
    assert found.value == pytest.approx(wanted, abs=5 * NANORADIAN)
    zone = component(crew.measured(layout, readings, "zone"), "vertical")
    assert zone.value == pytest.approx(np.ptp(values(b, up) - slope(x, values(a, up)) * x), abs=5 * NANOMETRE)


def test_direction_of_a_spindle_has_the_stated_signs(surveys, crew):
    """Ways that sink and swing to the left (+y) seen along +x: the spindle rises and runs to the right against them."""
    layout = surveys.spindle()
    names = layout.tasks["direction"].stations
    x = np.array([layout.stations[name].at[0] for name in names])
    up = dict(zip(names, -40e-6 * x, strict=True))
    aside = dict(zip(names, 70e-6 * x, strict=True))
    readings = crew.readings(layout, {"deviation": up, "deviation_side": aside}, errors=False)
    # The spindle itself is moved by the crew's scatter, which the network finds; take it out through the same truth.
    still = crew.readings(layout, errors=False)
    found, base = (crew.measured(layout, each, "direction") for each in (readings, still))
    for name, wanted in (("up", 40e-6), ("front", 70e-6)):
        change = component(found, name).value - component(base, name).value
        assert change == pytest.approx(wanted, abs=5 * NANORADIAN)


@pytest.mark.parametrize("reverse", [False, True])
def test_squareness_of_a_face_to_an_axis(surveys, crew, reverse):
    """A face that leans: its normal leans against the rise of its stations; by reversal the prism falls out."""
    layout = surveys.faced(reverse=reverse)
    names = layout.tasks["square"].stations
    at = np.array([layout.stations[name].at[:2] for name in names])
    lean = np.array([40e-6, -70e-6])
    ahead = dict(zip(names, at @ lean + 3e-6, strict=True))
    readings = crew.readings(layout, {"deviation": ahead}, errors=False)
    found = crew.measured(layout, readings, "square")
    world = layout.surfaces["face"].world_from_surface.rotation
    frame = {each.name: each for each in found.components}
    # The components lie along the face's own axes as the feature lays them: x level, y up.
    normal = -(world[:, 0] * lean[0] + world[:, 1] * lean[1])
    told = sorted(abs(component(found, name).value) for name in frame)
    assert told == pytest.approx(sorted(abs(part) for part in (normal[1], normal[2])), abs=2 * BY_PRISM)
    assert all(each.verdict is not None for each in found.components)
    budget = dict(component(found, "x").budget)
    assert budget.get("mirror angle of the prism", 0.0) < 1e-6  # a cone is no tilt of the plane


def test_squareness_of_an_axis_to_an_axis_is_the_angle_in_their_plane(surveys, crew):
    layout = surveys.rolls()
    names = [name for name in layout.stations if name.startswith("roll 1")]
    tilted = replace(
        layout.tasks["rolls"], name="square", quantity="squareness", of=("roll 1 axis",), surface="roll 1",
        stations=tuple(names), plane="",
    )  # fmt: skip
    layout = replace(layout, tasks={**layout.tasks, "square": tilted})
    aside = crew.truth([name for name in layout.stations if name.startswith("roll")], 12)
    readings = crew.readings(layout, {"deviation_side": aside}, errors=False)
    wanted = component(crew.measured(layout, readings, "rolls"), "roll 1 in plane").value
    found = component(crew.measured(layout, readings, "square"))
    assert abs(found.value) == pytest.approx(abs(wanted), abs=1e-12)
    assert "smaller than a right one" in found.plus
    assert found.value == pytest.approx(wanted, abs=1e-12)  # ahead along the base line closes the angle to it
