"""With errors, the truth lies within the stated uncertainty. Law 16: a simulated survey gives back what was put in."""

from __future__ import annotations

import numpy as np
import pytest

from scenes.reductions.drawn_errors import drawn_unknowns
from scenes.reductions.form import straightness
from scenes.reductions.noise import NORMAL_95
from scenes.reductions.quantities.dispatch import definition_of
from scenes.reductions.quantities.evaluate import network_of_plan, setups_for
from scenes.reductions.quantities.evidence import evidence_of
from scenes.reductions.quantities.shape_noise import noise_of_measure


def off_line(places, values):
    return values - np.polyval(np.polyfit(places, values, 1), places)


def values(names, truth):
    return np.array([truth.get(name, 0.0) for name in names])


def component(result, name=""):
    return next(each for each in result.components if each.name == name)


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


def zone_coverage(layout, task, shape, zones=ZONES):
    """Share of many surveys of a known shape whose zone lies within U (k = 2) of the true one."""
    evidence, definition, errors = many(layout, task, zones)
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


def test_a_surface_from_slopes_covers_the_truth(surveys):
    layout = surveys.stepped()
    _, definition, _ = many(layout, "plate", 1)
    heights = 5e-6 * np.random.default_rng(28).standard_normal(len(definition.values[0].profile.stations))
    assert zone_coverage(layout, "plate", heights, 40) >= 0.85  # fewer than 34 of 40 happen once in 200 by chance
