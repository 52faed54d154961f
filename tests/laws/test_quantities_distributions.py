"""Errors are drawn by the distribution of each source, and few degrees of freedom widen U and interval."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm, t

from scenes.reductions.quantities.components import component_of
from scenes.reductions.quantities.dispatch import definition_of
from scenes.reductions.quantities.evaluate import network_of_visit, setups_for
from scenes.reductions.quantities.evidence import evidence_of
from scenes.reductions.quantities.measures import ProfileForm
from scenes.reductions.quantities.offset_measures import Range
from scenes.reductions.quantities.shape_noise import drawn_deviations, noise_of_measure
from scenes.reductions.reference import Reference
from scenes.uncertainty.distributions import ARCSINE, NORMAL, RECTANGULAR
from scenes.uncertainty.propagate import Effect, Spread

TRIALS = 40_000
U = 1e-6


def opposed(distribution=NORMAL, dof=np.inf):
    """Two deviations that one error moves apart."""
    effect = Effect("e", np.array([U, -U]), np.zeros(2, dtype=np.int64), 1, "test", dof, distribution)
    return Spread(np.eye(2), (effect,), {})


ENDS = [(NORMAL, 1.96), (RECTANGULAR, 0.95 * np.sqrt(3.0)), (ARCSINE, np.sqrt(2.0) * np.sin(0.475 * np.pi))]
"""Ends of the 95 % range of an error, in standard uncertainties."""


@pytest.mark.parametrize(("distribution", "reach"), ENDS)
def test_the_interval_has_the_shape_of_the_error(distribution, reach):
    """Far above the noise a range of two has the error's own 95 % interval: 1.96 u only where that is normal."""
    rng = np.random.default_rng(0)
    noise = noise_of_measure(Range(), 50e-6, np.array([25e-6, -25e-6]), opposed(distribution), rng, TRIALS)
    assert 50e-6 - noise.low == pytest.approx(2.0 * U * reach, rel=0.05)


def test_each_source_is_drawn_as_it_is():
    """Normal ones at once by their covariance, the others each by its own law; the variances are those of both."""
    parts = (opposed().effects[0], replace(opposed(RECTANGULAR).effects[0], name="other"))
    spread = Spread(np.eye(2), parts, {"left": np.array([[U], [0.0]])})
    drawn = drawn_deviations(spread, Range(), np.random.default_rng(1), TRIALS)
    np.testing.assert_allclose(np.cov(drawn), spread.covariance(), rtol=0.03)
    only = Spread(np.eye(2), parts[1:], {})
    assert np.abs(drawn_deviations(only, Range(), np.random.default_rng(1), TRIALS)).max() <= np.sqrt(3) * U


def few(evidence, dof):
    """The same evidence with every standard uncertainty estimated with so many degrees of freedom."""
    network = evidence.network
    effects = tuple(replace(effect, dof=dof) for effect in network.effects)
    return replace(evidence, network=replace(network, effects=effects, _made={}))


@pytest.mark.parametrize(("kind", "task"), [("spindle", "direction"), ("line", "vertical")])
def test_few_degrees_of_freedom_widen_u_and_interval(surveys, crew, kind, task):
    layout = getattr(surveys, kind)()
    asked, readings = layout.tasks[task], crew.readings(layout)
    network, _ = network_of_visit(layout, setups_for(layout, asked), readings, "as found")
    sure = evidence_of(layout, asked, "as found", network)
    one, other = (
        component_of(each, definition_of(each).values[0], "", np.random.default_rng(2), 4000)[0]
        for each in (sure, few(sure, 4.0))
    )
    assert one.dof == np.inf
    assert one.coverage_factor == asked.coverage_factor
    assert 4.0 <= other.dof < np.inf
    wanted = t.ppf(norm.cdf(asked.coverage_factor), np.floor(other.dof))
    assert other.coverage_factor == pytest.approx(wanted, rel=1e-6)
    assert other.expanded_uncertainty == pytest.approx(other.coverage_factor * other.standard_uncertainty)
    assert np.diff(other.interval)[0] > np.diff(one.interval)[0]
    assert other.verdict.guard > one.verdict.guard
    assert other.value == one.value


def test_a_zone_of_student_errors_has_longer_tails():
    x, z = np.arange(5.0), 30e-6 * np.array([0.0, 1.0, 0.0, -1.0, 0.0])
    measure, low = ProfileForm(x, Reference.LEAST_SQUARES), []
    for dof in (np.inf, 3.0):
        effect = Effect("e", np.full(5, U), np.arange(5), 5, "test", dof)
        spread = Spread(np.eye(5), (effect,), {})
        low.append(noise_of_measure(measure, measure.at(z).value, z, spread, np.random.default_rng(3), TRIALS).low)
    assert low[1] < low[0]


def test_the_interval_of_an_angle_has_the_shape_of_its_errors(surveys, crew):
    """A sum of few rectangular errors has shorter tails than a normal one of the same u; U keeps its factor."""
    layout = surveys.spindle(n=3)
    asked, readings = layout.tasks["direction"], crew.readings(layout)
    network, _ = network_of_visit(layout, setups_for(layout, asked), readings, "as found")
    largest = max(network.effects, key=lambda effect: float(np.abs(effect.size).max()))
    alone = tuple(replace(effect, distribution=RECTANGULAR) for effect in (largest,))
    found = []
    for effects in ((largest,), alone):
        evidence = evidence_of(layout, asked, "as found", replace(network, effects=effects, _made={}))
        value = definition_of(evidence).values[0]
        found.append(component_of(evidence, value, "", np.random.default_rng(2), TRIALS)[0])
    assert found[1].expanded_uncertainty == pytest.approx(found[0].expanded_uncertainty)
    assert np.diff(found[1].interval)[0] < np.diff(found[0].interval)[0] * 1.001
    assert found[1].interval[0] < found[1].value < found[1].interval[1]
