"""The network of readings: law 11 (what stays open, datum, added readings), and law 18 through every method."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.errors import GeometryError
from scenes.model.survey import LevelBy
from scenes.reductions.drawn_errors import drawn_unknowns
from scenes.reductions.network import observed, solve_network
from scenes.reductions.quantities.definition import Linear
from scenes.reductions.quantities.dispatch import QUANTITIES, definition_of
from scenes.reductions.quantities.evaluate import network_of_plan, network_of_visit, setups_for
from scenes.reductions.quantities.evidence import evidence_of
from scenes.reductions.quantities.measured import shape_of
from scenes.tracing.geometry import CHANNELS, survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.uncertainty.propagate import reading_covariance

TASKS = {
    "line": ("vertical", "space"), "square": ("square",), "spindle": ("direction",), "bore": ("axis", "off the beam"),
    "rails": ("cross level", "twist", "height", "level", "parallel", "zone"), "gauge": ("spacing",),
    "press": ("flat", "parallel", "zone", "travel", "travel line"), "rolls": ("rolls",), "steps": ("profile",),
    "gantry": ("square",),
}  # fmt: skip
ALL = [(kind, task) for kind, tasks in TASKS.items() for task in tasks]


def made(surveys, kind):
    return surveys.square(reverse=True) if kind == "square" else getattr(surveys, kind)()


def plan_of(layout, task):
    asked = layout.tasks[task]
    network = network_of_plan(layout, setups_for(layout, asked))
    return network, evidence_of(layout, asked, "plan", network)


def uncertainties(layout, task):
    """Standard uncertainties of the linear components, and of the deviations of the zones, of a plan."""
    network, evidence = plan_of(layout, task)
    found = {}
    for each in definition_of(evidence).values:
        if isinstance(each, Linear):
            found[each.name] = network.spread_of(each.functional[None, :]).standard_uncertainty()
        else:
            names = zip(each.profile.stations, each.profile.components, strict=True)
            u = network.spread_of(shape_of(evidence, each)[1]).standard_uncertainty()
            found.update({(each.name, *key): u[i : i + 1] for i, key in enumerate(names)})
    return found


def test_every_quantity_has_a_method_here(surveys):
    asked = {layout.tasks[task].quantity for kind, task in ALL for layout in [made(surveys, kind)]}
    assert asked | {"coaxiality", "bore position", "run out"} == set(QUANTITIES)


@pytest.mark.parametrize(
    ("kind", "open_"), [("line", 4), ("rails", 1), ("steps", 4), ("spindle", 4), ("rolls", 4), ("gauge", 4)]
)
def test_what_stays_open(surveys, kind, open_):
    """A line leaves two shifts and two angles open, a levelled base its height, a roll turn and place of its prism."""
    network, _ = plan_of(made(surveys, kind), TASKS[kind][0])
    assert network.open_directions.shape[1] == open_
    assert network.redundancy == len(network.residual) - len(network.values) + open_


def test_two_stands_leave_what_one_does(surveys):
    """Ties leave one plane open, whatever the number of set-ups; without a vial that is three unknowns."""
    for stands in (((3.0, 1.0),), ((1.5, 1.0), (5.0, 1.0))):
        layout = surveys.rails(stands=stands, level_by=LevelBy.BEST_FIT, reverse=False)
        network, _ = plan_of(layout, "height")
        assert network.open_directions.shape[1] == 3


@pytest.mark.parametrize(("kind", "task"), ALL)
def test_no_result_depends_on_the_datum(surveys, kind, task):
    """Values moved along any open direction give the same quantities."""
    layout = made(surveys, kind)
    network, evidence = plan_of(layout, task)
    rng = np.random.default_rng(0)
    amount = 1e-4 * rng.standard_normal(network.open_directions.shape[1])
    moved = replace(network, values=network.values + network.scale * (network.open_directions @ amount))
    other = replace(evidence, network=moved)
    for each in definition_of(evidence).values:
        if isinstance(each, Linear):
            assert each.functional @ (moved.values - network.values) == pytest.approx(0.0, abs=1e-10)
        else:
            one, two = (shape_of(which, each)[0] for which in (evidence, other))
            assert np.allclose(one, two, rtol=0.0, atol=1e-10)


@pytest.mark.parametrize(("kind", "task"), ALL)
def test_a_repeated_reading_never_raises_a_variance(surveys, kind, task):
    """Reading some stations once more at the end makes every component and every deviation at least as sure."""
    layout = made(surveys, kind)
    rng = np.random.default_rng(1)
    before = uncertainties(layout, task)
    setups = {}
    for name, setup in layout.setups.items():
        chosen = [read for read in setup.reads if not layout.stations[read].is_datum]
        again = tuple(str(each) for each in rng.choice(chosen, size=2, replace=False))
        setups[name] = replace(setup, again=again)
    after = uncertainties(replace(layout, setups=setups), task)
    assert before.keys() == after.keys()
    for name, u in before.items():
        assert np.all(after[name] <= u * (1.0 + 1e-6)), name


def test_random_readings_more_never_raise_a_variance(surveys, crew):
    """Every subset of the readings that still tells the line knows it no better than all of them."""
    layout = surveys.line(6, reversed=True)
    asked = layout.tasks["vertical"]
    readings = crew.readings(layout, errors=False)
    rng = np.random.default_rng(2)
    network, _ = network_of_visit(layout, ("line",), readings, "as found")
    whole = evidence_of(layout, asked, "as found", network)

    def u_of(evidence):
        (zone,) = definition_of(evidence).values
        return dict(
            zip(zone.profile.stations, evidence.network.spread_of(shape_of(evidence, zone)[1]).standard_uncertainty(),
                strict=True)
        )  # fmt: skip

    best = u_of(whole)
    for _ in range(25):
        first = [int(rng.choice(np.nonzero(np.array(readings.station) == name)[0])) for name in asked.stations]
        more = rng.choice(len(readings), size=3, replace=False).tolist()
        kept = readings.chosen(np.array(sorted({*first, *more}), dtype=np.int64))
        part, _ = network_of_visit(layout, ("line",), kept, "as found")
        some = u_of(evidence_of(layout, asked, "as found", part))
        assert all(best[name] <= some[name] * (1.0 + 1e-6) for name in best)


PRISMS = ("square", "press", "rolls", "gantry")
"""Through a turned prism, what readings leave open couples with them to second order: some nanometres."""


@pytest.mark.parametrize("kind", [kind for kind in TASKS if kind != "gauge"])
def test_a_perfect_survey_closes(surveys, crew, kind):
    """Readings without errors are explained, however the crew has set emitters and prisms."""
    layout = made(surveys, kind)
    asked = layout.tasks[TASKS[kind][-1]]
    readings = crew.readings(layout, errors=False, seed=3)
    network, _ = network_of_visit(layout, setups_for(layout, asked), readings, "as found")
    if kind not in PRISMS:
        assert np.max(np.abs(network.residual)) < 5e-12
    covariance = reading_covariance(network.spread.effects, len(network.residual))
    assert network.residual @ np.linalg.solve(covariance, network.residual) < 0.1


@pytest.mark.parametrize("kind", TASKS)
def test_the_gain_gives_every_unknown_back_but_for_what_stays_open(surveys, kind):
    network, _ = plan_of(made(surveys, kind), TASKS[kind][0])
    gain = (network.spread.gain @ network.design) * network.scale / network.scale[:, None]
    open_ = network.open_directions
    within_datum = np.eye(len(gain)) - open_ @ network.solved.reach.datum
    assert np.allclose(gain @ within_datum, within_datum, atol=1e-9)
    # open are the directions that the nominal design does not reach; off the middle, as the crew may be, prisms couple
    assert np.abs(gain @ open_).max(initial=0.0) < (0.05 if kind in PRISMS else 2e-3)


def test_a_beam_that_never_arrives_is_refused(surveys):
    layout = surveys.line(4)
    setups = {"line": replace(layout.setups["line"], aim=np.array([0.0, 1.0, 0.0]))}
    with pytest.raises(GeometryError, match="never meets its target"):
        network_of_plan(replace(layout, setups=setups), ("line",))


def test_observations_must_be_finite(surveys):
    layout = surveys.line(4)
    geometry = survey_geometry(layout, planned_rows(layout))
    of = observed(geometry, {name: np.zeros(len(geometry.rows)) for name in CHANNELS}, np.zeros(len(geometry.rows)))
    with pytest.raises(ValueError, match="finite"):
        solve_network(layout, geometry, replace(of, value=of.value * np.nan), ())


TRIALS = 2_000
SAMPLING = 5.0 / np.sqrt(2.0 * TRIALS)
"""Five standard deviations of a standard deviation from so many trials."""

SECOND_ORDER = 0.02
"""What set-ups that are off by the crew's scatter may add beyond the first order, as a share."""


@pytest.mark.parametrize(("kind", "task"), ALL)
def test_propagation_and_trials_agree(surveys, kind, task):
    """Law 18: each component and each station, through the traced model with every source and setting drawn."""
    layout = made(surveys, kind)
    network, evidence = plan_of(layout, task)
    errors = drawn_unknowns(network, np.random.default_rng(4), TRIALS)
    for each in definition_of(evidence).values:
        jacobian = each.functional[None, :] if isinstance(each, Linear) else shape_of(evidence, each)[1]
        u = network.spread_of(jacobian).standard_uncertainty()
        drawn = errors @ jacobian.T
        seen = u > 1e-9
        assert np.allclose(drawn.std(axis=0)[seen] / u[seen], 1.0, rtol=0.0, atol=SAMPLING + SECOND_ORDER)
        assert np.all(np.abs(drawn.mean(axis=0)[seen] / u[seen]) < 5.0 / np.sqrt(TRIALS) + SECOND_ORDER)
