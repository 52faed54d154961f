"""Every example: its plan holds, its readings are what its truth makes, and they lead back to that truth."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from scenes.checks.check import check_layout
from scenes.layout import read_layout
from scenes.model.finding import Severity
from scenes.readings import read_readings
from scenes.readings.truth_file import read_truth
from scenes.reductions.form import flatness
from scenes.reductions.survey import reduce_survey
from scenes.uncertainty.simulate import simulated

EXAMPLES = Path(__file__).parents[2] / "examples"
SEEDS = {
    "press_slide": 21, "transfer_rails": 22, "coating_rolls": 23, "extruder_barrel": 24, "lathe": 26, "gantry_mill": 26,
    "rotary_table": 27,
}  # fmt: skip
"""datumray simulate LAYOUT --truth truth.csv --seed N --visit "as found" -o readings/as_found.csv"""

VISIT = "as found"
TRIALS = 2000
each = pytest.mark.parametrize("name", SEEDS)


@cache
def layout_of(name):
    return read_layout(EXAMPLES / name / "layout.yaml")


@cache
def truth_of(name):
    return read_truth(EXAMPLES / name / "truth.csv", layout_of(name))


def values_of(layout, readings):
    """Every result as {(task, component): (value, U)}, SI units."""
    survey = reduce_survey(layout, readings, trials=TRIALS)
    assert not survey.failures
    found = {}
    for measured in survey.measured:
        found |= {
            (measured.evidence.task.name, part.name): (part.value, part.expanded_uncertainty)
            for part in measured.components
        }
    return found


@each
def test_the_plan_holds_and_settles_its_tasks(name):
    result = check_layout(layout_of(name), np.random.default_rng(1))
    assert not [finding for finding in result.findings if finding.severity is not Severity.NOTE]
    assert np.isfinite(result.plan.spots.path).all()


@each
def test_the_readings_are_those_of_the_truth(name):
    layout = layout_of(name)
    made = simulated(layout, np.random.default_rng(SEEDS[name]), truth_of(name), visit=VISIT).readings
    filed = read_readings([EXAMPLES / name / "readings" / "as_found.csv"], layout)
    assert filed.station == made.station
    for column in ("h", "v"):  # written to a tenth of a micrometre
        assert np.nanmax(np.abs(getattr(filed, column) - getattr(made, column))) < 0.06e-6


@each
def test_the_readings_lead_back_to_the_truth(name):
    """Against the same survey without any error: within three standard uncertainties, one and a half times U.

    The results of one task share errors, so how many lie within U says little; laws count that over many surveys.
    """
    layout = layout_of(name)
    perfect = simulated(layout, np.random.default_rng(1), truth_of(name), visit=VISIT, perfect=True).readings
    filed = read_readings([EXAMPLES / name / "readings" / "as_found.csv"], layout)
    true, found = values_of(layout, perfect), values_of(layout, filed)
    assert set(true) == set(found)
    off = np.array([abs(value - true[key][0]) / u for key, (value, u) in found.items()])
    assert off.max() < 1.5


def test_rolls_are_as_askew_as_their_ends_say():
    """Plain arithmetic on the truth: the far end ahead of the near one, over the length between them."""
    layout, truth = layout_of("coating_rolls"), truth_of("coating_rolls")
    perfect = simulated(layout, np.random.default_rng(1), truth, visit=VISIT, perfect=True).readings
    found = values_of(layout, perfect)
    for roll in ("roll_1", "roll_2", "roll_3", "roll_4", "roll_5"):
        near, far = (layout.stations[f"{roll} {end}"] for end in ("near", "far"))
        ahead = truth.aside[near.name] - truth.aside[far.name]  # aside of these rolls points back along the line
        assert found["rolls", f"{roll} in plane"][0] == pytest.approx(ahead / (far.at[2] - near.at[2]), abs=2e-8)


def test_rails_are_as_crooked_as_their_heights_and_sides_say():
    """Least squares by numpy's polynomials, end points by a straight line."""
    layout, truth = layout_of("transfer_rails"), truth_of("transfer_rails")
    perfect = simulated(layout, np.random.default_rng(1), truth, visit=VISIT, perfect=True).readings
    found = values_of(layout, perfect)
    for task, letters, part in (("b height", "B", truth.up), ("a side", "SA", truth.aside)):
        names = [name for name in layout.stations if name.rstrip("0123456789") == letters]
        x = np.array([layout.stations[name].at[0] for name in names])
        y = np.array([part[name] for name in names])
        line = np.polyval(np.polyfit(x, y, 1), x) if letters == "B" else np.interp(x, x[[0, -1]], y[[0, -1]])
        assert found[task, ""][0] == pytest.approx(np.ptp(y - line), abs=2e-8)


def test_a_face_and_a_plate_are_as_their_truth_says():
    """A face runs out by the range of its points, whatever the light; slopes summed along lines are one surface."""
    layout, truth = layout_of("rotary_table"), truth_of("rotary_table")
    perfect = simulated(layout, np.random.default_rng(1), truth, visit=VISIT, perfect=True).readings
    found = values_of(layout, perfect)
    ahead = {
        place: np.array([truth.up[name] for name in truth.up if name.startswith(place)]) for place in ("P1", "P2", "P3")
    }
    np.testing.assert_allclose(ahead["P1"], np.roll(ahead["P3"], 4), atol=1e-12)  # the same points, half a turn apart
    for place, heights in ahead.items():
        assert found["run-out", place][0] == pytest.approx(np.ptp(heights), abs=2e-9)
    assert found["run-out", "total"][0] == pytest.approx(np.ptp(list(ahead.values())), abs=2e-9)
    assert found["flatness", ""][0] == pytest.approx(flatness(stepped_plate(layout, truth)).value, abs=2e-8)


def stepped_plate(layout, truth):
    """Points where feet stand, from the truth of slopes, step by step from the corner in front on the left."""
    height = {(-0.4, -0.3): 0.0}
    ways = {"F": (1.0, 0.0), "L": (0.0, 1.0), "D": (0.8, 0.6), "M": (1.0, 0.0), "B": (1.0, 0.0), "C": (0.0, 1.0),
            "R": (0.0, 1.0), "U": (0.8, -0.6)}  # fmt: skip
    for letter, way in ways.items():
        for name in (name for name in truth.nod if name[0] == letter):
            middle, half = layout.stations[name].at[:2], 0.05 * np.array(way)
            near, far = (tuple(np.round(middle + sign * half, 6) + 0.0) for sign in (-1.0, 1.0))
            there = height[near] + 0.1 * truth.nod[name]
            assert height.setdefault(far, there) == pytest.approx(there, abs=3e-8)  # lines close, as far as written
    return np.array([[*place, z] for place, z in height.items()])
