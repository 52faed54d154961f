"""Law 5: reversals and clock positions cancel exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.model.survey import Limit

NANORADIAN = 1e-9
NANOMETRE = 1e-9
BY_PRISM = 30 * NANORADIAN
"""A nose that nobody knows better than to 0.2 mrad couples with what else is off, to second order."""


def component(result, name=""):
    return next(each for each in result.components if each.name == name)


def test_the_mirrors_of_a_prism_cancel_by_reversal(surveys, crew):
    real, refraction = 20e-6, 1.517
    single, both = (surveys.square(reverse=reverse) for reverse in (False, True))
    found = {}
    for layout in (single, both):
        readings = crew.readings(layout, errors=False, mirror=real)
        found[layout is both] = component(crew.measured(layout, readings, "square"))
    assert abs(found[False].value) == pytest.approx(2.0 * refraction * real, rel=1e-3)
    assert abs(found[True].value) < BY_PRISM
    mirror = "mirror angle of the prism"
    known = single.prisms["nose"].mirror_known_to
    assert dict(found[False].budget)[mirror] == pytest.approx(2.0 * refraction * known, rel=1e-3)
    assert dict(found[True].budget).get(mirror, 0.0) < 1e-3 * dict(found[False].budget)[mirror]


def test_the_pointing_of_an_emitter_cancels_in_its_v(surveys, crew):
    """Distance from the line of a V-block: the beam runs off it by its pointing, which half a turn takes out."""
    results = {}
    for reverse in (False, True):
        layout = surveys.line(5, reversed=reverse)
        asked = replace(
            layout.tasks["vertical"], name="off", quantity="coaxiality", to="line", plane="", limits={"": Limit(1e-3)}
        )
        layout = replace(layout, tasks={"off": asked})
        readings = crew.readings(layout, errors=False, scatter=0.0, cone=40e-6, offset_y=0.1e-3)
        results[reverse] = component(crew.measured(layout, readings, "off"))
    budget = dict(results[True].budget)
    assert results[True].value < NANOMETRE
    for name in ("beam against the housing", "offset of the beam in its housing"):  # stated as 20 urad and 50 um
        assert budget.get(name, 0.0) < 0.05e-6
    # Without a reversal nobody knows the housing: the line is that of the beam itself, and the rail stands off it.
    assert results[False].value == pytest.approx(np.hypot(40e-6 * 2.0, 0.1e-3), rel=1e-3)


def test_the_housing_of_an_emitter_shows_only_against_its_v(surveys, crew):
    """With half a turn the network tells pointing and offset of the beam from the line of its V."""
    layout = surveys.line(5, reversed=True)
    readings = crew.readings(layout, errors=False, scatter=0.0, cone=40e-6)
    half = readings.chosen(np.nonzero(readings.side == 0)[0])
    asked = replace(layout.tasks["vertical"], name="off", quantity="coaxiality", to="line", plane="", limits={})
    layout = replace(layout, tasks={"off": asked})
    x = np.array([layout.stations[name].at[0] for name in asked.stations])
    one_side = component(crew.measured(layout, half, "off"))
    assert one_side.value == pytest.approx(40e-6 * x.max(), rel=1e-3)
    assert one_side.standard_uncertainty > 40e-6


def test_eccentric_discs_cancel_over_the_clock(surveys, crew):
    results = {}
    for clocks in ((0.0,), (0.0, np.pi), (0.0, np.pi / 2, np.pi, 3 * np.pi / 2)):
        layout = surveys.bore(clocks=clocks, rings=("ring", "ring 2"))
        rows = crew.rows(layout)
        odd = np.where(rows.station % 2 == 0, 60e-6, 0.0)  # two rings, one of them true
        readings = crew.readings(layout, errors=False, eccentric_h=odd)
        results[len(clocks)] = component(crew.measured(layout, readings, "axis")).value
    assert results[1] > 40e-6
    assert results[2] < NANOMETRE
    assert results[4] < NANOMETRE


def test_the_zero_of_a_vial_cancels_by_turning_it_about(surveys, crew):
    zero = "zero of the vial"
    budgets = {}
    for reverse in (False, True):
        layout = surveys.rails(reverse=reverse)
        result = crew.measured(layout, crew.readings(layout, errors=False), "level")
        budgets[reverse] = dict(component(result).budget)
    assert budgets[False][zero] == pytest.approx(layout.vials["level"].zero_known_to, rel=1e-3)
    assert zero not in budgets[True]
