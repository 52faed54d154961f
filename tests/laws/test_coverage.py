"""The stated uncertainties hold: over 1000 simulated surveys of each example, U covers the truth as often as it says.

A crew sets up the example ``CREWS`` times; for each, all error sources are drawn through the traced model and reduced
by the network of that visit, many at once. Some surveys go the whole way, from records to `reduce_survey`; 1000 of each
example go it in `tests/bench/bench_coverage.py`.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from scenes.layout.read import read_layout
from scenes.readings.truth_file import read_truth
from scenes.reductions.drawn_errors import drawn_unknowns
from scenes.reductions.noise import NORMAL_95, square_root
from scenes.reductions.quantities.components import component_of
from scenes.reductions.quantities.definition import Linear
from scenes.reductions.quantities.dispatch import definition_of
from scenes.reductions.quantities.evaluate import fitted_for, network_of_visit, setups_for
from scenes.reductions.quantities.evidence import evidence_of
from scenes.reductions.quantities.measured import shape_of
from scenes.reductions.quantities.shape_noise import noise_of_measure
from scenes.reductions.survey import reduce_survey
from scenes.uncertainty.crew import PERFECT
from scenes.uncertainty.distributions import Shape
from scenes.uncertainty.propagate import Spread
from scenes.uncertainty.simulate import simulated

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = (
    "press_bed", "press_slide", "transfer_rails", "coating_rolls", "extruder_barrel", "lathe", "gantry_mill",
    "rotary_table",
)  # fmt: skip
VISIT = "as found"
CREWS, EACH = 20, 50
SURVEYS = CREWS * EACH
ZONES = 8
"""Zones have intervals of their own in every survey, from trials: of each crew's surveys, so many are worked out."""

TRIALS = 300
WHOLE = 12
"""Surveys that go the whole way."""

LEAST_OF_A_FEW = 0.8
"""Of a few surveys, whose components share errors and miss together; the coverage itself is measured on all 1000."""

STATED = 0.9545
"""Share of a normal distribution within two standard uncertainties."""

RARE = 1e-4
"""A count that a true coverage of ``STATED`` would give less often than this fails."""


def fewest(count, tried=1):
    """Least number of covered surveys, of the worst of some counts, that agrees with the stated coverage."""
    return int(binom.ppf(RARE / tried, count, STATED))


class Example:
    """An example as it really is."""

    def __init__(self, name):
        self.layout = read_layout(EXAMPLES / name / "layout.yaml")
        self.truth = read_truth(EXAMPLES / name / "truth.csv", self.layout)

    def perfect(self):
        return simulated(self.layout, np.random.default_rng(0), self.truth, perfect=True, visit=VISIT).readings

    def surveys(self, crew):
        """Every task of one crew's visit: the evidence, and the errors of the unknowns in further surveys of it."""
        rng, networks = np.random.default_rng([7, crew]), {}
        readings = simulated(self.layout, rng, self.truth, visit=VISIT).readings
        for task in self.layout.tasks.values():
            key = (setups_for(self.layout, task), fitted_for(task))
            if key not in networks:
                network, _ = network_of_visit(self.layout, key[0], readings, VISIT, key[1])
                networks[key] = network, drawn_unknowns(network, rng, EACH, PERFECT)
            network, errors = networks[key]
            yield task, evidence_of(self.layout, task, VISIT, network), errors


def covered_linear(evidence, errors, asked):
    """How many surveys keep the value of a linear component within U of the truth, and of how many."""
    component, _ = component_of(evidence, asked, "", np.random.default_rng(0), TRIALS)
    return np.array([np.sum(np.abs(errors @ asked.functional) <= component.expanded_uncertainty), len(errors)])


def worked_out(spread):
    """The same errors with their covariance worked out once for all surveys, where all are normal."""
    if any(effect.drawn.shape is not Shape.NORMAL for effect in spread.effects):
        return spread
    return Spread(np.zeros((len(spread.gain), 0)), (), {"all": square_root(spread.covariance())})


def covered_zone(evidence, errors, asked, rng):
    """The same of the first ``ZONES`` surveys of a zone, each with the U that its own shape gives; and its stations.

    Of each station: in how many of all surveys its deviation is within 2 u of the truth.
    """
    shape, jacobian = shape_of(evidence, asked)
    exact = evidence.network.spread_of(jacobian)
    within = np.sum(np.abs(errors @ jacobian.T) <= 2.0 * exact.standard_uncertainty(), axis=0)
    spread, true, k, covered = worked_out(exact), asked.measure.at(shape).value, evidence.task.coverage_factor, 0
    for error in errors[:ZONES] @ jacobian.T:
        value = asked.measure.at(shape + error).value
        noise = noise_of_measure(asked.measure, value, shape + error, spread, rng, TRIALS)
        u = max(value - noise.low, noise.high - value) / NORMAL_95
        covered += abs(value - true) <= k * u
    return np.array([covered, ZONES]), within


@pytest.mark.parametrize("name", NAMES)
def test_u_covers_the_truth_as_often_as_it_says(name, record_property):
    example, found, stations = Example(name), {}, {}
    rng = np.random.default_rng(5)
    for crew in range(CREWS):
        for task, evidence, errors in example.surveys(crew):
            for asked in definition_of(evidence).values:
                key = f"{task.name} {asked.name}".strip()
                if isinstance(asked, Linear):
                    found[key] = found.get(key, 0) + covered_linear(evidence, errors, asked)
                else:
                    covered, within = covered_zone(evidence, errors, asked, rng)
                    found[key] = found.get(key, 0) + covered
                    stations[key] = stations.get(key, 0) + within
    print(f"\n{name}: U covers " + "; ".join(f"{key} {100 * a / n:.1f} % of {n}" for key, (a, n) in found.items()))
    for key, (covered, count) in found.items():
        record_property(key, covered / count)
        assert covered >= fewest(count), key
    for key, covered in stations.items():
        print(f"  stations of {key}: {100 * covered.min() / SURVEYS:.1f} to {100 * covered.max() / SURVEYS:.1f} %")
        assert covered.min() >= fewest(SURVEYS, len(covered)), key


@pytest.mark.parametrize("name", NAMES)
def test_surveys_that_go_the_whole_way(name):
    """Records of simulated surveys, read and reduced like any others, against the truth that was put in."""
    example = Example(name)
    true = {
        (measured.evidence.task.name, part.name): part.value
        for measured in reduce_survey(example.layout, example.perfect(), trials=TRIALS).measured
        for part in measured.components
    }
    rng, inside, total = np.random.default_rng(17), 0, 0
    for _ in range(WHOLE):
        readings = simulated(example.layout, rng, example.truth, visit=VISIT).readings
        survey = reduce_survey(example.layout, readings, trials=TRIALS)
        assert not survey.failures
        for measured in survey.measured:
            for part in measured.components:
                inside += abs(part.value - true[measured.evidence.task.name, part.name]) <= part.expanded_uncertainty
                total += 1
    print(f"\n{name}: {inside} of {total} values within U")
    assert inside > LEAST_OF_A_FEW * total
