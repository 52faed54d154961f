"""Straightness in a plane, in space and of a travel, against closed forms of a truth that was put in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.reductions.form import Reference, straightness
from scenes.reductions.quantities.measures import LocalForm
from scenes.reductions.quantities.references import with_reference
from scenes.reductions.quantities.straightness import pieces_of

NANOMETRE = 1e-9


def off_line(places, values):
    return values - np.polyval(np.polyfit(places, values, 1), places)


def values(names, truth):
    return np.array([truth.get(name, 0.0) for name in names])


def component(result, name=""):
    return next(each for each in result.components if each.name == name)


def shown(result, component):
    """Deviations of one direction, by station."""
    return {
        name: value
        for each in result.deviations
        for name, word, value in zip(each.stations, each.components, each.values, strict=True)
        if word == component
    }


def test_straightness_in_both_planes_and_in_space(surveys, crew):
    layout = surveys.line()
    names = layout.tasks["space"].stations
    x = np.array([layout.stations[name].at[0] for name in names])
    up, aside = crew.truth(names, 1), crew.truth(names, 2)
    readings = crew.readings(layout, {"deviation": up, "deviation_side": aside}, errors=False)
    vertical, horizontal = off_line(x, values(names, up)), off_line(x, values(names, aside))
    for name, wanted in (("vertical", vertical), ("horizontal", horizontal)):
        result = crew.measured(layout, readings, name)
        assert component(result).value == pytest.approx(np.ptp(wanted), abs=NANOMETRE)
        assert np.allclose(list(shown(result, name).values()), wanted, rtol=0.0, atol=NANOMETRE)
        assert component(result).interval[0] <= component(result).value <= component(result).interval[1]
    space = component(crew.measured(layout, readings, "space"))
    assert space.value == pytest.approx(2.0 * np.hypot(vertical, horizontal).max(), abs=2 * NANOMETRE)


@pytest.mark.parametrize("kind", [Reference.MINIMUM_ZONE, Reference.END_POINTS])
def test_straightness_against_other_references(surveys, crew, kind):
    layout = surveys.line()
    layout = replace(layout, tasks={"v": with_reference(layout.tasks["vertical"], kind)})
    names = layout.tasks["v"].stations
    up = crew.truth(names, 3)
    x = np.array([layout.stations[name].at[0] for name in names])
    found = crew.measured(layout, crew.readings(layout, {"deviation": up}, errors=False), "v")
    wanted = straightness(np.column_stack([x, values(names, up)]), kind)
    assert component(found).value == pytest.approx(wanted.value, abs=NANOMETRE)
    assert set(component(found).high) == {names[i] for i in wanted.high}


def test_straightness_through_see_through_targets(surveys, crew):
    """A beam of unknown slope goes through glass on its way, which leaves some ten nanometres open; they are stated."""
    layout = surveys.glass()
    names = layout.tasks["side"].stations
    aside = crew.truth(names, 4)
    x = np.array([layout.stations[name].at[0] for name in names])
    found = crew.measured(layout, crew.readings(layout, {"deviation_side": aside}, errors=False), "side")
    wanted = off_line(x, values(names, aside))
    assert component(found).value == pytest.approx(np.ptp(wanted), abs=60 * NANOMETRE)
    assert dict(component(found).budget)["what readings leave open"] < 1e-6


def test_a_local_limit_looks_at_every_piece(surveys, crew):
    layout = surveys.rails()
    names = layout.tasks["height"].stations
    x = np.array([layout.stations[name].at[0] for name in names])
    up = crew.truth(names, 5)
    found = crew.measured(layout, crew.readings(layout, {"deviation": up}, errors=False), "height")
    z = values(names, up)
    pieces = [(x >= start - 1e-9) & (x <= start + 2.0 + 1e-9) for start in (*x, *(x - 2.0))]
    wanted = max(np.ptp(off_line(x[piece], z[piece])) for piece in pieces if piece.sum() > 2)
    assert component(found, "local").value == pytest.approx(wanted, abs=NANOMETRE)
    assert component(found, "local").limit.upper == 0.2e-3


def test_straightness_of_a_travel(surveys, crew):
    layout = surveys.press()
    names = layout.tasks["travel line"].stations
    ahead = crew.truth(names, 6)
    found = crew.measured(layout, crew.readings(layout, {"deviation_along": ahead}, errors=False), "travel line")
    wanted = np.ptp(off_line(np.array([0.0, 0.3, 0.6]), values(names, ahead)))
    assert component(found, "vertical").value == pytest.approx(wanted, abs=NANOMETRE)  # its x, the travel being upright


# --- local straightness slides over every start ---------------------------------------------------------------------


def slid(x, z, span, reference, count=4000):
    """Largest straightness of the stations on any piece of length ``span``, by sliding it in small steps."""
    best = 0.0
    seen = set()
    for start in np.linspace(x.min() - span, x.max(), count):
        inside = (x >= start - 1e-9) & (x <= start + span + 1e-9)
        if inside.sum() < 3 or inside.tobytes() in seen or len(np.unique(x[inside])) < 3:
            continue
        seen.add(inside.tobytes())
        best = max(best, straightness(np.column_stack([x[inside], z[inside]]), reference).value)
    return best


@pytest.mark.parametrize("reference", [Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.END_POINTS])
@pytest.mark.parametrize("seed", range(12))
def test_a_sliding_piece_is_found_wherever_it_starts(reference, seed):
    """Stations at uneven places; with a fitted line a piece may be worse than a longer one that holds it."""
    rng = np.random.default_rng(seed)
    x = np.sort(np.round(rng.uniform(0.0, 6.0, 14), 2))
    z = 20e-6 * rng.standard_normal(14)
    pieces = pieces_of(x, 2.0, reference)
    found = LocalForm(x, reference, pieces).at(z).value
    assert found == pytest.approx(slid(x, z, 2.0, reference), rel=1e-9)
    assert LocalForm(x, reference, pieces).of_trials(z[:, None])[0] == pytest.approx(found, rel=1e-6)


def test_a_fitted_piece_may_be_worse_than_the_one_that_holds_it():
    """Found by sliding: leaving out an end station turns the line through the ends, and the rest stands off it."""
    x = np.array([0.0, 0.5, 1.0, 1.5, 2.0])
    z = np.array([0.0, 10.0, 0.0, -2.0, 0.0]) * 1e-6
    whole = straightness(np.column_stack([x, z]), Reference.END_POINTS).value
    pieces = pieces_of(x, 2.0, Reference.END_POINTS)
    assert len(pieces) > len(pieces_of(x, 2.0, Reference.MINIMUM_ZONE))
    assert LocalForm(x, Reference.END_POINTS, pieces).at(z).value >= whole
