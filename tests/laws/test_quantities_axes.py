"""Coaxiality and the axis of a spindle. Law 6: the axis does not depend on the emitter in it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.errors import GeometryError
from scenes.model.survey import Limit
from scenes.reductions.quantities.cylinder import circumscribed_cylinder
from scenes.uncertainty.sources import sources_of

NANOMETRE = 1e-9
NANORADIAN = 1e-9


def off_line(places, values):
    return values - np.polyval(np.polyfit(places, values, 1), places)


def values(names, truth):
    return np.array([truth.get(name, 0.0) for name in names])


def component(result, name=""):
    return next(each for each in result.components if each.name == name)


def test_coaxiality_about_all_and_about_the_beam(surveys, crew):
    layout = surveys.bore()
    names = layout.tasks["place"].stations
    z = np.array([layout.stations[name].at[2] for name in names])
    up, aside = crew.truth(names, 17), crew.truth(names, 18)
    readings = crew.readings(layout, {"deviation": up, "deviation_side": aside}, errors=False)
    off = np.column_stack([off_line(z, values(names, part)) for part in (up, aside)])
    wanted = 2.0 * np.hypot(*off.T).max()
    assert component(crew.measured(layout, readings, "place")).value == pytest.approx(wanted, abs=2 * NANOMETRE)
    axis = component(crew.measured(layout, readings, "axis"))
    points = np.column_stack([z, values(names, up), values(names, aside)])
    assert axis.value == pytest.approx(circumscribed_cylinder(points)[0], abs=2 * NANOMETRE)
    straight = crew.readings(layout, {"deviation": up, "deviation_side": aside}, errors=False, scatter=0.0)
    beam = component(crew.measured(layout, straight, "off the beam"))
    assert beam.value == pytest.approx(2.0 * np.hypot(values(names, up), values(names, aside)).max(), abs=NANOMETRE)


# --- law 6: the spindle ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(5))
def test_the_axis_of_a_spindle_does_not_depend_on_its_emitter(surveys, crew, seed):
    """The centre of the clock circle stays where it is, however the emitter leans and stands off in its chuck."""
    layout = surveys.spindle()
    rng = np.random.default_rng(seed)
    names = layout.tasks["direction"].stations
    truth = {"deviation": crew.truth(names, seed), "deviation_side": crew.truth(names, seed + 50)}
    still = crew.readings(layout, truth, errors=False, scatter=0.0)
    off = {"cone": 200e-6, "cone_side": 200e-6, "offset_y": 1e-3, "offset_z": 1e-3}
    moved = crew.readings(
        layout, truth, errors=False, scatter=0.0, **{name: size * rng.standard_normal() for name, size in off.items()}
    )
    one, two = (crew.measured(layout, each, "direction") for each in (still, moved))
    assert not np.allclose(still.v, moved.v, atol=1e-6)
    for a, b in zip(one.components, two.components, strict=True):
        assert b.value == pytest.approx(a.value, abs=NANORADIAN)


def test_two_clock_positions_tell_the_axis_and_one_does_not(surveys, crew):
    one = surveys.spindle(clocks=(0.0,))
    with pytest.raises(GeometryError, match="clock positions"):
        crew.measured(one, crew.readings(one, errors=False), "direction")
    two = surveys.spindle(clocks=(0.0, np.pi))
    readings = crew.readings(two, errors=False, scatter=0.0, cone=100e-6, offset_z=1e-3)
    for each in crew.measured(two, readings, "direction").components:
        assert abs(each.value) < NANORADIAN


# --- position of bores ----------------------------------------------------------------------------------------------


def test_position_of_a_bore_by_components_and_by_clock(surveys, crew):
    layout = surveys.bore(n=4)
    names = layout.tasks["place"].stations
    limits = {"vertical": Limit(80e-6), "horizontal": Limit(50e-6, 0.0)}
    asked = replace(layout.tasks["off the beam"], name="position", quantity="bore position", limits=limits)
    one = replace(asked, name="round", limits={"": Limit(0.2e-3, diameter=True)})
    layout = replace(layout, tasks={"position": asked, "round": one})
    up = dict(zip(names, [60e-6, 62e-6, 58e-6, 60e-6], strict=True))
    aside = dict(zip(names, [-30e-6, -31e-6, -29e-6, -30e-6], strict=True))
    readings = crew.readings(layout, {"deviation": up, "deviation_side": aside}, errors=False, scatter=0.0)
    found = crew.measured(layout, readings, "position")
    # A station deviates sideways along normal x along = up x along, which points to the left as seen along the axis.
    assert component(found, "vertical").value == pytest.approx(60e-6, abs=NANOMETRE)
    assert component(found, "horizontal").value == pytest.approx(-30e-6, abs=NANOMETRE)
    assert component(found, "clock").value == pytest.approx(np.arctan2(30e-6, 60e-6), abs=1e-4)
    whole = 2.0 * max(np.hypot(a, b) for a, b in zip(up.values(), aside.values(), strict=True))
    assert component(found).value == pytest.approx(whole, abs=2 * NANOMETRE)
    assert component(found).verdict is None
    assert component(found, "vertical").verdict is not None
    assert component(found, "horizontal").lower == 0.0
    judged = crew.measured(layout, readings, "round")
    assert component(judged).verdict is not None
    assert component(judged, "vertical").verdict is None


def test_a_bore_on_its_datum_axis_has_no_clock(surveys, crew):
    layout = surveys.bore(n=4)
    asked = replace(layout.tasks["off the beam"], name="position", quantity="bore position")
    layout = replace(layout, tasks={"position": asked})
    found = crew.measured(layout, crew.readings(layout, errors=False, scatter=0.0), "position")
    assert [each.name for each in found.components] == ["", "vertical", "horizontal"]


# --- bearings of the spindle ----------------------------------------------------------------------------------------


def test_the_wander_of_a_spindle_is_an_error_source(surveys, crew):
    """It averages over the clock positions, and is one draw for all that is read at one of them."""
    still = surveys.spindle()
    moving = replace(
        still, setups={"turned": replace(still.setups["turned"], wander=1e-6, wander_tilt=4e-6)}
    )  # fmt: skip
    budgets = {}
    for layout in (still, moving):
        found = crew.measured(layout, crew.readings(layout, errors=False, scatter=0.0), "direction")
        budgets[layout is moving] = dict(component(found, "up").budget)
    source = "wander of the spindle"
    assert source not in budgets[False]
    # Four clock positions, and the direction is the mean of the four: half of the wander in tilt stays.
    assert budgets[True][source] == pytest.approx(4e-6 / 2.0, rel=0.05)
    sources = sources_of(moving, crew.geometry(moving))
    mine = [each for each in sources if each.name == source]
    assert {each.field for each in mine} == {"shift", "lift", "tilt_y", "tilt_z"}
    assert all(len(np.unique(each.group)) == 4 for each in mine)
