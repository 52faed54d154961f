"""Every quantity of the language, through the network, against closed forms of a truth that was put in.

Law 5: reversals cancel exactly. Law 6: the axis of a spindle does not depend on the emitter in it. Law 16: a perfect
survey closes to zero, and a simulated one gives back the deviations that were put in, within the stated uncertainty.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from scenes.errors import GeometryError
from scenes.model.survey import LevelBy, Limit
from scenes.reductions.drawn_errors import drawn_unknowns
from scenes.reductions.form import Reference, straightness
from scenes.reductions.network import PLACED
from scenes.reductions.noise import NORMAL_95
from scenes.reductions.quantities.cylinder import circumscribed_cylinder, smallest_cylinders
from scenes.reductions.quantities.dispatch import definition_of
from scenes.reductions.quantities.evaluate import network_of_plan, setups_for
from scenes.reductions.quantities.evidence import evidence_of
from scenes.reductions.quantities.measured import bounds_of
from scenes.reductions.quantities.measures import LocalForm, PlaneForm, ProfileForm
from scenes.reductions.quantities.offset_measures import CylinderForm, LargestOffset, Range
from scenes.reductions.quantities.references import with_reference
from scenes.reductions.quantities.shape_noise import noise_of_measure
from scenes.reductions.verdict import Word
from scenes.tracing.earth import EARTH_RADIUS, level_drop

NANOMETRE = 1e-9
NANORADIAN = 1e-9
BY_PRISM = 30 * NANORADIAN
"""A nose that nobody knows better than to 0.2 mrad couples with what else is off, to second order."""


def slope(places, values):
    return np.polyfit(places, values, 1)[0]


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


# --- a perfect reading of a known machine gives the machine back ----------------------------------------------------


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


def test_a_profile_is_the_sum_of_its_steps(surveys, crew):
    layout = surveys.steps()
    names = layout.tasks["profile"].stations
    nod = crew.truth(names, 23, 20e-6)
    found = crew.measured(layout, crew.readings(layout, {"nod": nod}, errors=False), "profile")
    heights = np.concatenate([[0.0], np.cumsum(0.2 * values(names, nod))])
    feet = np.arange(len(heights)) * 0.2
    wanted = straightness(np.column_stack([feet, heights]), Reference.END_POINTS)
    assert component(found).value == pytest.approx(wanted.value, abs=NANOMETRE)
    assert np.allclose(list(shown(found, "up").values()), wanted.deviations, rtol=0.0, atol=NANOMETRE)
    apart = surveys.steps(step=0.3)
    assert "do not join" in crew.measured(apart, crew.readings(apart, errors=False), "profile").remarks[0]


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


# --- with errors, the truth lies within the stated uncertainty ------------------------------------------------------

SURVEYS = 25
LEAST_COVERED = 0.76
"""Of 25 values 95.45 % are expected within U; fewer than 19 happen by chance less than once in 1000."""

MANY = 400
COVERED = (0.92, 0.985)
"""Of 400 values 95.45 % are expected within U = 2 u, with a standard deviation of 1.04 %."""


ZONES = 300
ZONES_COVERED = 0.92
"""Of 300 zones 95.45 % or more are expected within U; fewer than 276 are so once in 200 by chance."""


def coverage(crew, layout, task, wanted, truth):
    """Share of simulated surveys, each reduced as a whole, whose components lie within their U (k = 2)."""
    inside = []
    for seed in range(SURVEYS):
        result = crew.measured(layout, crew.readings(layout, truth, seed), task, trials=500)
        inside += [abs(each.value - wanted) <= each.expanded_uncertainty for each in result.components]
    return float(np.mean(inside))


def many(layout, task, count=MANY):
    """Errors of the unknowns in many surveys drawn through the traced model, and the plan that they belong to."""
    asked = layout.tasks[task]
    network = network_of_plan(layout, setups_for(layout, asked))
    evidence = evidence_of(layout, asked, "plan", network)
    return evidence, definition_of(evidence), drawn_unknowns(network, np.random.default_rng(5), count)


def zone_coverage(layout, task, shape):
    """Share of many surveys of a known shape whose zone lies within U (k = 2) of the true one."""
    evidence, definition, errors = many(layout, task, ZONES)
    (zone,) = definition.values
    free = zone.measure.unseen(len(shape))
    keep = np.eye(len(shape)) - free @ np.linalg.pinv(free)
    spread = evidence.network.spread_of(keep @ zone.profile.jacobian)
    wanted, rng = zone.measure.at(shape).value, np.random.default_rng(6)
    inside = []
    for z in keep @ (shape[:, None] + zone.profile.jacobian @ errors.T).T[..., None]:
        value = zone.measure.at(z[:, 0]).value
        noise = noise_of_measure(zone.measure, value, z[:, 0], spread, rng, 300)
        u = max(value - noise.low, noise.high - value) / NORMAL_95
        inside.append(abs(value - wanted) <= 2.0 * u)
    return float(np.mean(inside))


def test_squareness_by_reversal_covers_the_truth(surveys, crew):
    layout = surveys.square(reverse=True)
    names = layout.tasks["square"].stations
    y = np.array([layout.stations[name].at[0] for name in names])
    aside = dict(zip(names, -25e-6 * y, strict=True))
    assert coverage(crew, layout, "square", 25e-6, {"deviation_side": aside}) >= LEAST_COVERED


def test_straightness_covers_the_truth(surveys, crew):
    layout = surveys.line(7, reference="minimum zone")
    names = layout.tasks["vertical"].stations
    up = crew.truth(names, 25, 15e-6)
    x = np.array([layout.stations[name].at[0] for name in names])
    wanted = straightness(np.column_stack([x, values(names, up)])).value
    assert coverage(crew, layout, "vertical", wanted, {"deviation": up}) >= LEAST_COVERED
    assert zone_coverage(surveys.line(7), "vertical", values(names, up)) >= ZONES_COVERED


def test_coaxiality_of_a_bore_covers_the_truth(surveys, crew):
    layout = surveys.bore(n=5)
    names = layout.tasks["axis"].stations
    up, aside = crew.truth(names, 26, 15e-6), crew.truth(names, 27, 15e-6)
    z = np.array([layout.stations[name].at[2] for name in names])
    off = np.column_stack([off_line(z, values(names, part)) for part in (up, aside)])
    truth = {"deviation": up, "deviation_side": aside}
    assert coverage(crew, layout, "place", 2.0 * np.hypot(*off.T).max(), truth) >= LEAST_COVERED
    assert zone_coverage(layout, "place", off.ravel()) >= ZONES_COVERED


def test_direction_of_a_spindle_covers_the_truth(surveys, crew):
    """The spindle leans in its headstock, and the emitter in the spindle; only the first counts."""
    layout = surveys.spindle(n=3)
    rows = crew.rows(layout)
    inside = []
    for seed in range(SURVEYS):
        rng = np.random.default_rng(seed)
        tilt, swing = 30e-6 * rng.standard_normal(2)
        readings = crew.readings(
            layout, {}, seed, scatter=0.0, tilt_y=np.full(len(rows), tilt), tilt_z=np.full(len(rows), swing),
            cone=50e-6 * rng.standard_normal(), offset_y=0.2e-3 * rng.standard_normal(),
        )  # fmt: skip
        found = crew.measured(layout, readings, "direction")
        for name, wanted in (("up", -tilt), ("front", -swing)):
            each = component(found, name)
            inside.append(abs(each.value - wanted) <= each.expanded_uncertainty)
    assert np.mean(inside) >= LEAST_COVERED


@pytest.mark.parametrize(
    ("kind", "task"), [("square", "square"), ("spindle", "direction"), ("press", "travel"), ("rolls", "rolls")]
)
def test_many_surveys_lie_within_their_uncertainty(surveys, kind, task):
    layout = surveys.square(reverse=True) if kind == "square" else getattr(surveys, kind)()
    evidence, definition, errors = many(layout, task)
    for each in definition.values:
        u = evidence.network.spread_of(each.functional[None, :]).standard_uncertainty()[0]
        share = np.mean(np.abs(errors @ each.functional) <= 2.0 * u)
        assert COVERED[0] <= share <= COVERED[1], each.name


# --- law 5: reversals cancel ----------------------------------------------------------------------------------------


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


# --- what is not known is refused in words --------------------------------------------------------------------------


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


# --- measures -------------------------------------------------------------------------------------------------------

S = np.array([0.0, 0.4, 1.1, 1.5, 2.2, 3.0])
PLACES = np.random.default_rng(0).uniform(0.0, 2.0, (9, 2))
HALVES = np.array([[1, 1, 1, 1, 0, 0], [0, 0, 1, 1, 1, 1]], dtype=bool)
MEASURES = {
    "profile, minimum zone": (ProfileForm(S, Reference.MINIMUM_ZONE), 6),
    "profile, least squares": (ProfileForm(S, Reference.LEAST_SQUARES), 6),
    "profile, end points": (ProfileForm(S, Reference.END_POINTS), 6),
    "plane, minimum zone": (PlaneForm(PLACES, Reference.MINIMUM_ZONE), 9),
    "plane, least squares": (PlaneForm(PLACES, Reference.LEAST_SQUARES), 9),
    "plane, three points": (PlaneForm(PLACES, Reference.THREE_POINTS, np.array([0, 3, 5])), 9),
    "range": (Range(), 7),
    "largest offset": (LargestOffset(2, 2.0), 10),
    "cylinder": (CylinderForm(S, Reference.MINIMUM_ZONE), 12),
    "cylinder, least squares": (CylinderForm(S, Reference.LEAST_SQUARES), 12),
    "cylinder, end points": (CylinderForm(S, Reference.END_POINTS), 12),
    "local": (LocalForm(S, Reference.MINIMUM_ZONE, HALVES), 6),
}


@pytest.mark.parametrize("name", MEASURES)
@pytest.mark.parametrize("seed", range(4))
def test_a_measure_and_its_slopes(name, seed):
    """Value, gradient and gain of every measure by finite differences and in trials; what is unseen changes nothing."""
    measure, k = MEASURES[name]
    rng = np.random.default_rng(seed)
    z = 1e-5 * rng.standard_normal(k)
    stand = measure.at(z)
    assert stand.value > 0.0
    assert measure.of_trials(z[:, None])[0] == pytest.approx(stand.value, rel=2e-4)
    step = 1e-10
    either = [measure.at(z + sign * step * e) for e in np.eye(k) for sign in (1.0, -1.0)]
    gradient = [(high.value - low.value) / (2.0 * step) for high, low in zip(either[::2], either[1::2], strict=True)]
    assert np.allclose(stand.gradient, gradient, rtol=0.0, atol=2e-3)
    if name != "local":
        gain = [(h.deviations - w.deviations) / (2.0 * step) for h, w in zip(either[::2], either[1::2], strict=True)]
        assert np.allclose(stand.gain.T, gain, rtol=0.0, atol=5e-3)
    unseen = measure.unseen(k)
    moved = z + 1e-5 * unseen @ rng.standard_normal(unseen.shape[1])
    assert measure.at(moved).value == pytest.approx(stand.value, rel=1e-8)


# --- the smallest cylinder about an axis ----------------------------------------------------------------------------


def test_smallest_cylinders_by_their_proof():
    """Weights that balance about the axis prove that no cylinder is smaller; rounded readings make many contacts."""
    rng = np.random.default_rng(0)
    checked = 0
    for n in (3, 4, 5, 8, 13, 30):
        s = np.sort(rng.uniform(0.0, 6.0, n))
        sets = 1e-4 * rng.standard_normal((200, n, 2))
        sets[100:] = np.round(sets[100:] / 5e-5) * 5e-5
        found = smallest_cylinders(s, sets)
        distance = np.linalg.norm(found.off, axis=2)
        ok = found.radius > 1e-12
        assert np.all(distance.max(axis=1) <= found.radius * (1.0 + 1e-9) + 1e-15)
        pull = np.einsum("tn,tnc->tc", found.weights, found.off)
        moment = np.einsum("tn,n,tnc->tc", found.weights, s - s.mean(), found.off)
        # For any other axis the weighted mean of the squared distances is larger than this bound.
        bound = np.sqrt(np.sum(found.weights * distance**2, axis=1))
        assert np.all(bound[ok] >= found.radius[ok] * (1.0 - 1e-9))
        assert np.abs(pull[ok]).max() < 1e-9 * 1e-4
        assert np.abs(moment[ok]).max() < 1e-8 * 1e-4
        # No wider than the smallest circle about all points as seen along the axis, by Jung's theorem.
        widest = np.linalg.norm(sets[:, :, None] - sets[:, None, :], axis=3).max(axis=(1, 2))
        assert np.all(found.radius <= widest / np.sqrt(3.0) * (1.0 + 1e-9) + 1e-15)
        checked += len(sets)
    assert checked >= 1000


def test_a_cylinder_is_at_least_half_as_wide_as_its_points():
    """Points that mirror each other about the middle cannot be brought nearer by any tilt."""
    rng = np.random.default_rng(1)
    for _ in range(60):
        half = 1e-4 * rng.standard_normal((4, 2))
        s = np.concatenate([np.arange(4.0), np.arange(4.0)])
        found = smallest_cylinders(s, np.concatenate([half, -half])[None])
        assert found.radius[0] == pytest.approx(np.linalg.norm(half, axis=1).max(), rel=1e-9)


def test_smallest_cylinders_against_a_general_solver():
    rng = np.random.default_rng(2)
    for n in (4, 6, 9):
        s = np.sort(rng.uniform(0.0, 6.0, n))
        q = rng.standard_normal((n, 2))

        def room(x, q=q, s=s):
            return x[4] ** 2 - np.sum((q - x[:2] - np.outer(s, x[2:4])) ** 2, axis=1)

        tries = [
            minimize(
                lambda x: x[4], np.append(0.1 * rng.standard_normal(4), 5.0), method="SLSQP",
                constraints=[{"type": "ineq", "fun": room}], options={"maxiter": 500, "ftol": 1e-13},
            )
            for _ in range(3)
        ]  # fmt: skip
        best = min(each.fun for each in tries if each.success)
        assert smallest_cylinders(s, q[None]).radius[0] == pytest.approx(best, rel=1e-8)


def test_a_cylinder_moves_with_its_points():
    """Rigid motion, order and unit of the points change nothing; fewer points are never wider."""
    from scenes.vectors import rotation_from_vector

    rng = np.random.default_rng(3)
    for _ in range(8):
        points = np.column_stack([np.linspace(0.0, 6.0, 9), 1e-3 * rng.standard_normal((9, 2))])
        width, _, direction = circumscribed_cylinder(points)
        turn = rotation_from_vector(rng.standard_normal(3))
        moved = points @ turn.T + rng.standard_normal(3)
        other, _, turned = circumscribed_cylinder(moved[rng.permutation(9)])
        assert other == pytest.approx(width, rel=1e-7)
        assert abs(turned @ turn @ direction) == pytest.approx(1.0, abs=1e-12)
        assert circumscribed_cylinder(1e3 * points)[0] == pytest.approx(1e3 * width, rel=1e-7)
        assert circumscribed_cylinder(points[1:])[0] <= width * (1.0 + 1e-9)


def test_degenerate_axes():
    line = np.outer(np.arange(5.0), [1.0, 2.0, -1.0])
    assert circumscribed_cylinder(line)[0] < 1e-12
    assert smallest_cylinders(np.arange(4.0), np.zeros((2, 4, 2))).radius == pytest.approx([0.0, 0.0])
    with pytest.raises(GeometryError, match="one place along the axis"):
        smallest_cylinders(np.ones(4), np.zeros((1, 4, 2)))
