"""Every reference of every quantity against closed forms, and what another reference or rule says of the same readings.

Law 8: no reference gives a narrower zone than the minimum one. Law 10: leverages add up to the parameters.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.model.survey import LevelBy, Limit, Rule
from scenes.reductions.form import Reference, flatness, straightness
from scenes.reductions.quantities.compared import compared, rules_compared
from scenes.reductions.quantities.cylinder import circumscribed_cylinder
from scenes.reductions.quantities.references import KNOWN, known_references, with_reference
from scenes.reductions.verdict import Word
from scenes.tracing.earth import level_drop

NANOMETRE = 1e-9
LINES = (Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.END_POINTS)
PARAMETERS = {"flatness": 3, "straightness": 2, "cylinder": 4, "outside": 1}


def values(names, truth):
    return np.array([truth.get(name, 0.0) for name in names])


def along(layout, names):
    return np.array([layout.stations[name].at[0] for name in names])


def of(found, reference):
    return next(each for each in found if each.reference is reference)


def all_compared(crew, layout, readings, name, trials=500):
    return compared(crew.measured(layout, readings, name), np.random.default_rng(1), trials)


@pytest.fixture(scope="module")
def rail_heights(surveys, crew):
    """A rail read by a levelled base, with the rail beside it as datum, and its truth."""
    layout = surveys.rails()
    a, b = surveys.names("A", 8), surveys.names("B", 8)
    up = {**crew.truth(a, 15), **crew.truth(b, 16)}
    asked = replace(layout.tasks["height"], local=None, to="b", stations=(*a, *b))
    layout = replace(layout, tasks={"height": asked})
    return layout, a, b, up, crew.readings(layout, {"deviation": up}, errors=False)


def test_a_rail_against_every_reference(rail_heights, crew):
    layout, a, b, up, readings = rail_heights
    found = all_compared(crew, layout, readings, "height")
    assert {each.reference for each in found} == set(known_references(layout.tasks["height"]))
    x, z = along(layout, a), values(a, up)
    for reference in LINES:
        wanted = straightness(np.column_stack([x, z]), reference).value
        assert of(found, reference).components[0].value == pytest.approx(wanted, abs=NANOMETRE)
    stand = layout.setups["stand 1"].at[:2]
    level = z + level_drop(np.hypot(x - stand[0], -stand[1]))
    assert of(found, Reference.GRAVITY).components[0].value == pytest.approx(np.ptp(level), abs=NANOMETRE)
    beside = z - np.polyval(np.polyfit(x, values(b, up), 1), x)
    datum = of(found, Reference.DATUM_FEATURE)
    assert datum.components[0].value == pytest.approx(np.ptp(beside), abs=5 * NANOMETRE)
    assert datum.words == "datum feature b"
    narrowest = of(found, Reference.MINIMUM_ZONE).components[0].value
    assert all(narrowest <= each.components[0].value + NANOMETRE for each in found)
    assert [each.chosen for each in found] == [each.reference == layout.tasks["height"].reference for each in found]
    assert found[0].chosen


def test_the_deviations_from_gravity_and_a_datum_are_told_station_by_station(rail_heights, crew):
    layout, a, b, up, readings = rail_heights
    x, z = along(layout, a), values(a, up)
    beside = z - np.polyval(np.polyfit(x, values(b, up), 1), x)
    against = with_reference(layout.tasks["height"], Reference.DATUM_FEATURE)
    result = crew.measured(replace(layout, tasks={"height": against}), readings, "height")
    (told,) = result.deviations
    assert told.stations == a
    middle = 0.5 * (beside.max() + beside.min())
    np.testing.assert_allclose(told.values, beside - middle, rtol=0.0, atol=5 * NANOMETRE)
    assert told.leverage.sum() == pytest.approx(PARAMETERS["outside"])


def test_a_bed_against_every_reference(surveys, crew):
    layout = surveys.press()
    bed = layout.tasks["flat"].stations
    slide = tuple(name for name in layout.stations if name.startswith("S"))
    up = {**crew.truth(bed, 24), **crew.truth(slide, 25)}
    asked = replace(layout.tasks["flat"], to="slide", stations=(*bed, *slide))
    layout = replace(layout, tasks={"flat": asked})
    found = all_compared(crew, layout, crew.readings(layout, {"deviation": up}, errors=False), "flat")
    xy = np.array([layout.stations[name].at[:2] for name in bed])
    points = np.column_stack([xy, values(bed, up)])
    for reference in (Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS):
        wanted = flatness(points, reference).value
        assert of(found, reference).components[0].value == pytest.approx(wanted, abs=2 * NANOMETRE)
    foot = layout.surfaces["bed"].world_from_surface.points(np.column_stack([xy, 0.0 * xy[:, 0]]))[:, :2]
    level = points[:, 2] + level_drop(np.linalg.norm(foot - layout.setups["plane"].at[:2], axis=1))
    assert of(found, Reference.GRAVITY).components[0].value == pytest.approx(np.ptp(level), abs=2 * NANOMETRE)
    # The slide faces down and its frame is turned about x: its heights in the world are -up, at (x, -y).
    at = np.array([layout.stations[name].at[:2] for name in slide]) * [1.0, -1.0]
    plane = np.linalg.lstsq(np.column_stack([np.ones(4), at]), -values(slide, up), rcond=None)[0]
    beside = points[:, 2] - xy @ plane[1:]
    assert of(found, Reference.DATUM_FEATURE).components[0].value == pytest.approx(np.ptp(beside), abs=5 * NANOMETRE)


def test_an_axis_against_every_reference(surveys, crew):
    layout = surveys.bore()
    names = layout.tasks["axis"].stations
    up, aside = crew.truth(names, 17), crew.truth(names, 18)
    found = all_compared(crew, layout, crew.readings(layout, {"deviation": up, "deviation_side": aside}, errors=False),
                         "axis")  # fmt: skip
    z = np.array([layout.stations[name].at[2] for name in names])
    off = np.column_stack([values(names, up), values(names, aside)])
    smallest = circumscribed_cylinder(np.column_stack([z, off]))[0]
    fitted = off - np.column_stack([np.polyval(np.polyfit(z, part, 1), z) for part in off.T])
    ends = off - off[0] - np.outer((z - z[0]) / (z[-1] - z[0]), off[-1] - off[0])
    wanted = {
        Reference.MINIMUM_CYLINDER: smallest,
        Reference.LEAST_SQUARES: 2.0 * np.hypot(*fitted.T).max(),
        Reference.END_POINTS: 2.0 * np.hypot(*ends.T).max(),
    }
    assert {each.reference for each in found} == set(wanted)
    for reference, value in wanted.items():
        assert of(found, reference).components[0].value == pytest.approx(value, abs=2 * NANOMETRE)
    assert smallest == min(wanted.values())
    # The axis of all bores together, which their coaxiality counts from, has the same three.
    place = all_compared(crew, layout, crew.readings(layout, {"deviation": up, "deviation_side": aside}, errors=False),
                         "place")  # fmt: skip
    for reference, value in wanted.items():
        assert of(place, reference).components[0].value == pytest.approx(value, abs=2 * NANOMETRE)


@pytest.mark.parametrize(("kind", "task", "parameters"), [
    ("rails", "height", 2), ("press", "flat", 3), ("bore", "axis", 4), ("steps", "profile", 2),
])  # fmt: skip
def test_leverages_add_up_to_the_parameters(surveys, crew, kind, task, parameters):
    """Law 10, whatever holds the reference; the points of a datum carry it alone."""
    layout = getattr(surveys, kind)()
    asked = layout.tasks[task]
    readings = crew.readings(layout)
    for reference in known_references(asked):
        if reference in (Reference.GRAVITY, Reference.DATUM_FEATURE):
            continue
        one = replace(layout, tasks={task: with_reference(asked, reference)})
        if kind == "steps" and reference is Reference.THREE_POINTS:
            continue  # a line has none
        found = crew.measured(one, readings, task)
        (told,) = found.deviations
        assert told.leverage.sum() == pytest.approx(parameters, abs=1e-6)
        assert told.leverage.min() > -1e-6
        assert told.leverage.max() < 1.0 + 1e-6
        (component, *_) = found.components
        if reference in (Reference.END_POINTS, Reference.THREE_POINTS) and component.datum:
            held = [name in component.datum for name in told.stations]
            np.testing.assert_allclose(told.leverage, held, rtol=0.0, atol=1e-9)


# --- what readings do not reach is refused with the missing reading -------------------------------------------------


def test_gravity_needs_a_level(surveys, crew):
    layout = surveys.rails(level_by=LevelBy.BEST_FIT, reverse=False)
    found = all_compared(crew, layout, crew.readings(layout, errors=False), "height")
    gravity = of(found, Reference.GRAVITY)
    assert not gravity.components
    assert "level its base by a vial" in gravity.reason
    assert "add to:" in of(found, Reference.DATUM_FEATURE).reason


def test_gravity_tells_nothing_sideways(surveys, crew):
    layout = surveys.line()
    found = all_compared(crew, layout, crew.readings(layout, errors=False), "horizontal")
    assert "tells heights only" in of(found, Reference.GRAVITY).reason


def test_a_datum_that_is_not_read_is_named(rail_heights, crew):
    layout, a, _, _, readings = rail_heights
    kept = readings.chosen(np.array([i for i, name in enumerate(readings.station) if name in a]))
    found = all_compared(crew, layout, kept, "height")
    assert "no station of b was read" in of(found, Reference.DATUM_FEATURE).reason
    assert of(found, Reference.GRAVITY).components


def test_three_points_need_them(surveys, crew):
    layout = surveys.press()
    layout = replace(layout, tasks={"flat": replace(layout.tasks["flat"], reference="three points",
                                                    datum=("G00", "G20", "G11"))})  # fmt: skip
    readings = crew.readings(layout, errors=False)
    kept = readings.chosen(np.array([i for i, name in enumerate(readings.station) if name != "G11"]))
    found = compared(crew.measured(replace(layout, tasks={"flat": replace(layout.tasks["flat"], reference="gravity",
                                                                          datum=("G00", "G20", "G11"))}), kept, "flat"),
                     np.random.default_rng(0), 500)  # fmt: skip
    assert "datum station G11 was not read" in of(found, Reference.THREE_POINTS).reason
    assert of(found, Reference.MINIMUM_ZONE).word is Word.NOT_PROVEN


# --- rules ----------------------------------------------------------------------------------------------------------


def test_rules_side_by_side(surveys, crew):
    layout = surveys.line(7)
    names = layout.tasks["vertical"].stations
    readings = crew.readings(layout, {"deviation": crew.truth(names, 3)})
    value = crew.measured(layout, readings, "vertical").components[0]
    u = value.standard_uncertainty
    words = {}
    for above in (-1.0, 1.0):
        limits = {"": Limit(value.value + above * u)}
        one = replace(layout, tasks={"vertical": replace(layout.tasks["vertical"], limits=limits)})
        ruled = rules_compared(crew.measured(one, readings, "vertical"))
        assert ruled[0].rule is Rule.GUARD_BAND
        assert {each.rule for each in ruled} == set(Rule)
        words[above] = {each.rule: each.verdicts[0].word for each in ruled}
    assert words[1.0] == {
        Rule.GUARD_BAND: Word.NOT_PROVEN, Rule.GUARD_BAND_U: Word.NOT_PROVEN, Rule.SIMPLE: Word.CONFORMS,
        Rule.RELAXED: Word.CONFORMS,
    }  # fmt: skip
    assert words[-1.0] == {
        Rule.GUARD_BAND: Word.NOT_PROVEN, Rule.GUARD_BAND_U: Word.NOT_PROVEN, Rule.SIMPLE: Word.DOES_NOT_CONFORM,
        Rule.RELAXED: Word.CONFORMS,
    }  # fmt: skip


def test_every_quantity_with_references_is_tried_here():
    assert set(KNOWN) == {"flatness", "straightness", "slope", "coaxiality", "bore position"}


def test_a_reference_that_a_task_does_not_know_leaves_it_as_it_is(surveys):
    """A profile in one plane has no cylinder, an axis in space no level; other quantities know none at all."""
    line, bore, press = surveys.line(), surveys.bore(), surveys.press()
    for task, reference in (
        (line.tasks["vertical"], Reference.MINIMUM_CYLINDER), (bore.tasks["axis"], Reference.GRAVITY),
        (press.tasks["parallel"], Reference.LEAST_SQUARES), (press.tasks["flat"], None),
    ):  # fmt: skip
        assert with_reference(task, reference) is task
    other = with_reference(line.tasks["vertical"], Reference.GRAVITY)
    assert (other.reference, other.plane) == ("gravity", "vertical")
