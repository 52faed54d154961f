"""What readings do not tell is refused in words; what does not agree is named; limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.errors import GeometryError
from scenes.model.survey import LevelBy, Limit
from scenes.reductions.network import PLACED
from scenes.reductions.quantities.measured import bounds_of
from scenes.reductions.verdict import Word


def component(result, name=""):
    return next(each for each in result.components if each.name == name)


def test_a_fixed_prism_tells_nothing_out_of_plane(surveys, crew):
    layout = surveys.rolls(plane="out of plane")
    with pytest.raises(GeometryError, match="turn of the prism about the beam is not known"):
        crew.measured(layout, crew.readings(layout, errors=False), "rolls")


def test_level_needs_a_vial(surveys, crew):
    layout = surveys.rails(level_by=LevelBy.BEST_FIT, reverse=False)
    readings = crew.readings(layout, errors=False)
    with pytest.raises(GeometryError, match="level its base by a vial"):
        crew.measured(layout, readings, "level")
    cross = crew.measured(layout, readings, "cross level")
    assert cross.word is Word.NOT_PROVEN
    assert "only how it changes along the rails is known" in cross.components[0].verdict.reason


def test_set_ups_that_are_not_tied_are_named(surveys, crew):
    layout = surveys.rails(stands=((1.5, 1.0), (5.0, 1.0)), ties=0)
    readings = crew.readings(layout, errors=False)
    with pytest.raises(GeometryError, match="nothing ties the set-ups stand 1, stand 2"):
        crew.measured(layout, readings, "height")


def test_a_direction_that_nobody_reads_is_named(surveys, crew):
    layout = surveys.rails()
    with pytest.raises(GeometryError, match="no reading tells how a stands sideways"):
        crew.measured(layout, crew.readings(layout, errors=False), "spacing")


def test_missing_stations_hold_a_form_back(surveys, crew):
    layout = surveys.line()
    readings = crew.readings(layout, errors=False)
    kept = readings.chosen(np.array([i for i, name in enumerate(readings.station) if name != "A4"]))
    result = crew.measured(layout, kept, "vertical")
    assert result.missing == ("A4",)
    assert component(result).verdict.word is Word.NOT_PROVEN
    assert [finding.code for finding in result.findings] == ["station-not-read"]


def test_a_wrong_reading_is_named(surveys, crew):
    layout = surveys.bore()
    readings = crew.readings(layout, errors=False)
    v = np.array(readings.v)
    v[7] += 60e-6
    result = crew.measured(layout, replace(readings, v=v), "axis")
    named = [finding for finding in result.findings if finding.code == "readings-differ"]
    assert [finding.name for finding in named] == [readings.station[7]]
    assert "reading v" in named[0].message


def test_a_target_off_its_mark_counts_where_the_beam_is_askew(surveys, crew):
    """A beam that climbs by 2 mm/m along a rail: its place on the rail matters by that share of a millimetre."""
    level = surveys.line(5)
    askew = surveys.line(5, aim=np.array([1.0, 0.0, 2e-3]))
    for layout, expected in ((level, 0.0), (askew, 2e-6)):
        result = crew.measured(layout, crew.readings(layout, errors=False, scatter=0.0), "vertical")
        effects = [effect for effect in result.evidence.network.spread.effects if effect.name == PLACED]
        largest = max((float(np.abs(effect.size).max()) for effect in effects), default=0.0)
        assert largest == pytest.approx(expected, abs=0.05e-6)


# --- limits ---------------------------------------------------------------------------------------------------------


def test_bounds_of_limits():
    """A plain size is kept both ways by a value with a sign; ``0..20 um`` is what it says."""
    assert bounds_of(Limit(20e-6, 0.0, over=0.3, angle=True), True) == pytest.approx((20e-6 / 0.3, 0.0))
    assert bounds_of(Limit(20e-6, over=0.3, angle=True), True) == pytest.approx((20e-6 / 0.3, -20e-6 / 0.3))
    assert bounds_of(Limit(5e-5, angle=True), True) == pytest.approx((5e-5, -5e-5))
    assert bounds_of(Limit(3e-3, -1e-3), True) == pytest.approx((3e-3, -1e-3))
    assert bounds_of(Limit(60e-6), False) == (60e-6, None)
