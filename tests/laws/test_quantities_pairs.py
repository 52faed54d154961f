"""Spacing, cross level, levelness, twist and flatness, against closed forms of a truth that was put in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.errors import GeometryError
from scenes.tracing.earth import EARTH_RADIUS, level_drop

NANOMETRE = 1e-9
NANORADIAN = 1e-9


def slope(places, values):
    return np.polyfit(places, values, 1)[0]


def values(names, truth):
    return np.array([truth.get(name, 0.0) for name in names])


def component(result, name=""):
    return next(each for each in result.components if each.name == name)


def test_spacing_cross_level_and_twist(surveys, crew):
    layout = surveys.rails()
    a, b = surveys.names("A", 8), surveys.names("B", 8)
    up = {**crew.truth(a, 19), **crew.truth(b, 20)}
    readings = crew.readings(layout, {"deviation": up}, errors=False)
    higher = values(b, up) - values(a, up)
    levels = crew.measured(layout, readings, "cross level")
    x = np.array([layout.stations[name].at[0] for name in a])
    stand = layout.setups["stand 1"].at[:2]
    curved = [level_drop(np.hypot(x - stand[0], y - stand[1])) for y in (0.0, 2.0)]
    assert np.allclose([c.value for c in levels.components], higher + curved[1] - curved[0], rtol=0.0, atol=NANOMETRE)
    assert [c.name for c in levels.components] == [f"{i}-{j}" for i, j in zip(a, b, strict=True)]
    twisted = crew.measured(layout, readings, "twist")
    assert component(twisted, "largest change").value == pytest.approx(np.ptp(higher), abs=NANOMETRE)
    # Clockwise as seen along +x: the left rail (b) rises.
    assert component(twisted, "end to end").value == pytest.approx(higher[-1] - higher[0], abs=NANOMETRE)


def test_spacing_lies_on_the_line_of_the_neighbours(surveys, crew):
    layout = surveys.gauge()
    a, b = surveys.names("A", 5), surveys.names("B", 5)
    aside = {**crew.truth(a, 21), **crew.truth(b, 22)}
    found = crew.measured(layout, crew.readings(layout, {"deviation_side": aside}, errors=False), "spacing")
    x, y = (np.array([layout.stations[name].at[0] for name in names]) for names in (a, b))
    beside = np.interp(x, y, values(b, aside))
    beside[0] = np.polyval(np.polyfit(y[:2], values(b, aside)[:2], 1), x[0])
    wanted = beside - values(a, aside)
    assert np.allclose([c.value for c in found.components], wanted, rtol=0.0, atol=NANOMETRE)


def test_levelness_follows_the_round_earth(surveys, crew):
    """A rail that lies in the level surface of a base far away is level; a flat one is inclined by d / R."""
    layout = surveys.rails(at=(20.0, 0.0), stands=((-18.0, 1.0),))
    names = surveys.names("A", 8)
    x = np.array([layout.stations[name].at[0] for name in names])
    stand = layout.setups["stand 1"].at[:2]
    distance = np.hypot(x + 20.0 - stand[0], stand[1])
    flat = crew.readings(layout, errors=False)
    found = component(crew.measured(layout, flat, "level"))
    assert found.value == pytest.approx(slope(x, level_drop(distance)), abs=0.02 * NANORADIAN)
    assert found.value * EARTH_RADIUS == pytest.approx(x.mean() + 20.0 - stand[0], rel=2e-3)
    level = crew.readings(layout, {"deviation": dict(zip(names, -level_drop(distance), strict=True))}, errors=False)
    assert component(crew.measured(layout, level, "over all")).value < NANOMETRE


def test_flatness_and_twist_of_a_bed(surveys, crew):
    layout = surveys.press()
    bed = [name for name in layout.stations if name.startswith("G")]
    up = crew.truth(bed, 24)
    readings = crew.readings(layout, {"deviation": up}, errors=False)
    z = values(bed, up).reshape(3, 2)  # sections along x, two across y
    roll = (z[:, 1] - z[:, 0]) / 1.2
    found = crew.measured(layout, readings, "twist")
    assert component(found, "largest change").value == pytest.approx(np.ptp(roll), abs=5 * NANORADIAN)
    assert component(found, "end to end").value == pytest.approx(roll[-1] - roll[0], abs=5 * NANORADIAN)


# --- a distance that no light tells, by tape -------------------------------------------------------------------------


def test_two_tapes_hold_what_two_beams_leave_open(surveys, crew):
    """Each beam has a place and a slope of its own: taped at both ends, all distances between are known."""
    a, b = surveys.names("A", 5), surveys.names("B", 5)
    aside = {**crew.truth(a, 21, 200e-6), **crew.truth(b, 22, 200e-6)}
    wanted = values(b, aside) - values(a, aside)
    layout = surveys.apart(tape={"A1": 2.0 + wanted[0], "A5": 2.0 + wanted[4]})
    found = crew.measured(layout, crew.readings(layout, {"deviation_side": aside}, errors=False), "spacing")
    assert np.allclose([c.value for c in found.components], wanted, rtol=0.0, atol=2 * NANOMETRE)
    shares = [dict(c.budget)["tape"] / 0.3e-3 for c in found.components]
    assert shares == pytest.approx([np.hypot(1.0 - t, t) for t in (0.0, 0.25, 0.5, 0.75, 1.0)], rel=1e-3)
    assert "by tape at A1-B1, A5-B5" in found.remarks[-1]


@pytest.mark.parametrize("tape", [None, {"A3": 2.0}])
def test_without_enough_tapes_the_missing_one_is_named(surveys, crew, tape):
    layout = surveys.apart(tape=tape)
    with pytest.raises(GeometryError, match="tape the distance at two pairs"):
        crew.measured(layout, crew.readings(layout, errors=False), "spacing")


def test_a_tape_beside_a_distance_by_light_is_compared(surveys, crew):
    layout = surveys.gauge()
    asked = replace(layout.tasks["spacing"], tape={"": {"A1": 2.0004}}, tape_known_to=0.3e-3)
    found = crew.measured(
        replace(layout, tasks={"spacing": asked}), crew.readings(layout, errors=False), "spacing"
    )  # fmt: skip
    assert "-400" in found.remarks[0]
    assert "the tape is not used" in found.remarks[0]
    assert all("tape" not in dict(c.budget) for c in found.components)
