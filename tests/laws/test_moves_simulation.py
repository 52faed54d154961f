"""The moves, applied in simulation, give the predicted as-left: within its stated U, as often as it says.

A machine with a known truth is read and reduced; the moves are applied to the truth, with the errors of a fitter and of
the influence that the prediction states; the machine is read again. ``tests/bench/bench_moves.py`` does it more often.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from scenes.corrections.planned_moves import as_left_truth, moves_of
from scenes.layout.read import read_layout
from scenes.readings.truth_file import read_truth
from scenes.reductions.quantities.definition import Zone
from scenes.reductions.quantities.measured import shape_of
from scenes.reductions.survey import reduce_survey
from scenes.uncertainty.simulate import simulated

EXAMPLES = Path(__file__).parents[2] / "examples"
ROLLS = "\nbearings:\n" + "".join(
    f"  roll_{k}: {{at: {{drive: -1.4 m, tending: 1.4 m}}, fixed: drive, side: {{travel: 3 mm}}}}\n"
    for k in range(1, 6)
)
SHAFT = """
bearings:
  shaft:
    at: {inner: 50 mm, outer: 250 mm}
    up: {travel: 2 mm, stock: [0.02 mm, 0.05 mm, 0.1 mm, 0.2 mm]}
    side: {travel: 2 mm, shim known to: 8 um}
"""
PACKERS = ", ".join(f"[{x} m, 0 m]" for x in range(0, 31, 3))
RAIL = f"""
feet:
  rail_a:
    at: [{PACKERS}]
    influence: beam
    travel: 3 mm
    stock: [0.05 mm, 0.1 mm, 0.2 mm, 0.5 mm]
"""
CASES = {
    "press_bed": ("", "bed flatness"), "coating_rolls": (ROLLS, "rolls"), "extruder_barrel": (SHAFT, "drive place"),
    "transfer_rails": (RAIL, "a height"),
}  # fmt: skip
SURVEYS, WHOLE, TRIALS = 8, 3, 50
STATED = 0.9545
RARE = 1e-4
WORDS = ("stations within U of the truth", "values within U of the truth", "values within U of the new readings")


class Case:
    """An example with feet or bearings, one of its tasks, and its truth; nothing in it changes."""

    def __init__(self, name):
        more, self.task = CASES[name]
        path = EXAMPLES / name / "layout.yaml"
        text = path.read_text(encoding="utf-8").replace("limit: dia 0.3 mm", "limit: dia 0.1 mm")
        layout = read_layout(path, text + more)
        self.layout = replace(layout, tasks={self.task: layout.tasks[self.task]})
        self.truth = read_truth(EXAMPLES / name / "truth.csv", self.layout)
        self.ideal = self.read(self.truth, np.random.default_rng(0), "as found", perfect=True)

    def read(self, truth, rng, visit, perfect=False):
        """One visit, reduced."""
        readings = simulated(self.layout, rng, truth, visit=visit, perfect=perfect).readings
        return reduce_survey(self.layout, readings, trials=TRIALS).of(self.task, visit)

    def change(self, left):
        """Change of the unknowns from the truth as found to that as left, station by station."""
        network = self.ideal.evidence.network
        change = np.zeros(len(network.values))
        for field, new, old in (
            ("deviation", left.up, self.truth.up),
            ("deviation_side", left.aside, self.truth.aside),
        ):
            for station, value in new.items():
                column = network.column(field, station)
                if column is not None:
                    change[column] = value - old.get(station, 0.0)
        return change

    def true_shape(self, shape, change):
        """Deviations of a shape as left, without any error."""
        for asked in self.ideal.definition.values:
            if isinstance(asked, Zone) and asked.name == shape.of and asked.profile.stations == shape.profile.stations:
                z, jacobian = shape_of(self.ideal.evidence, asked)
                return z + jacobian @ change
        profile = next(p for p in self.ideal.definition.shown if p.stations == shape.profile.stations
                       and p.components == shape.profile.components)  # fmt: skip
        return profile.offsets + profile.jacobian @ (self.ideal.evidence.network.values + change)

    def true_value(self, answer, change):
        """Value of a component as left, without any error."""
        asked = next(each for each in self.ideal.definition.values if each.name == answer.component.name)
        if isinstance(asked, Zone):
            z, jacobian = shape_of(self.ideal.evidence, asked)
            return asked.measure.at(z + jacobian @ change).value
        return asked.nominal + asked.functional @ (self.ideal.evidence.network.values + change)


case_of = cache(Case)  # tests share what they only read


def survey(case, rng, whole):
    """As found, moved, as left: counts of stations and values within U of the truth, and of new readings."""
    moves = moves_of(case.layout, case.read(case.truth, rng, "as found"), rng=rng)
    left = as_left_truth(case.layout, case.truth, moves, rng)
    change, counts = case.change(left), np.zeros((3, 2))
    for shape, told in zip(moves.shapes, moves.stations, strict=True):
        after = shape.found + shape.moves @ moves.lifts
        answer = next((each for each in moves.answers if each.shape is shape), None)
        gain = np.eye(len(after)) if answer is None else answer.measure.at(after).gain  # reference of the prediction
        off = gain @ (after - case.true_shape(shape, change))
        counts[0] += np.mean(np.abs(off) <= 2.0 * told.u_as_left + 1e-9) / len(moves.shapes), 1 / len(moves.shapes)
    true = [case.true_value(answer, change) for answer in moves.answers]
    for c, value in zip(moves.components, true, strict=True):
        inside = c.interval[0] - 1e-9 <= value <= c.interval[1] + 1e-9
        counts[1] += (inside or abs(c.after - value) <= 2.0 * c.u_after) / len(true), 1 / len(true)
    if whole:
        again = case.read(left, rng, "as left")
        for c, other in zip(moves.components, again.components, strict=True):
            near = abs(c.after - other.value) <= 2.0 * np.hypot(c.u_after, other.standard_uncertainty)
            counts[2] += near / len(true), 1 / len(true)
    return counts


@pytest.mark.parametrize("name", CASES)
def test_moves_applied_in_simulation_give_the_predicted_as_left(name, record_property):
    """Values and stations of one survey share errors and miss together: every survey counts once."""
    case, counts = case_of(name), np.zeros((3, 2))
    for seed in range(SURVEYS):
        counts += survey(case, np.random.default_rng([3, seed]), seed < WHOLE)
    for word, (inside, total) in zip(WORDS, counts, strict=True):
        print(f"\n{name}: {word}: {inside:.2f} of {total:.0f} surveys")
        record_property(word, inside / total)
        assert inside >= binom.ppf(RARE, round(total), STATED)


@pytest.mark.parametrize("name", CASES)
def test_without_errors_the_as_left_is_the_prediction(name):
    """Perfect readings, exact moves: the machine is read again and stands where it was foretold."""
    case, rng = case_of(name), np.random.default_rng(1)
    moves = moves_of(case.layout, case.ideal)
    assert moves.touched
    left = case.read(as_left_truth(case.layout, case.truth, moves), rng, "as left", perfect=True)
    for c, again in zip(moves.components, left.components, strict=True):
        assert again.value == pytest.approx(c.after, abs=1e-7)
    worst = max(abs(c.before) / c.limit.upper for c in moves.components if c.limit)
    assert max(abs(c.after) / c.limit.upper for c in moves.components if c.limit) < worst
