"""Monte Carlo figures of the published examples.

Source: JCGM 101:2008, clause 9, as recorded in jcgm101-9.2-additive.json and jcgm101-9.5-gauge-block.json, which say
what was seen and what is from memory. Printed figures are good to half a unit in their last digit; the sampling error
of our own trials is worked out beside each comparison.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from scenes.uncertainty.distributions import ARCSINE, NORMAL, RECTANGULAR, inexact_limits
from scenes.uncertainty.formula import Input, evaluate_formula

RECORDS = Path(__file__).parents[2].parent / "shared" / "reference"
TRIALS = 1_000_000


def record(name: str) -> dict:
    path = RECORDS / f"{name}.json"
    if not path.exists():
        pytest.skip(f"the recorded figures {path.name} are not beside the repository")
    return json.loads(path.read_text(encoding="utf-8"))


def sampling(density: float, tail: float, trials: int = TRIALS) -> float:
    """Four standard deviations of a quantile from trials, where the density of the quantity is ``density``."""
    return 4.0 * float(np.sqrt(tail * (1.0 - tail) / trials)) / density


def additive(distributions: list, sizes: list[float], seed: int, **more: object):
    inputs = [
        Input(f"X{i + 1}", 0.0, u, distribution=one)
        for i, (one, u) in enumerate(zip(distributions, sizes, strict=True))
    ]
    return evaluate_formula(lambda x: x.sum(axis=1), inputs, np.random.default_rng(seed), **more)


def test_9_2_2_four_normal_inputs() -> None:
    expected = record("jcgm101-9.2-additive")["expected"]["9.2.2"]
    result = additive([NORMAL] * 4, [1.0] * 4, 1, trials=TRIALS)
    assert result.standard_uncertainty == pytest.approx(expected["u"], abs=0.05)
    assert result.interval == pytest.approx(expected["interval95"], abs=0.005)
    density = float(np.exp(-0.5 * 1.96**2) / np.sqrt(2.0 * np.pi)) / 2.0
    assert result.monte_carlo.symmetric == pytest.approx(expected["interval95"], abs=0.005 + sampling(density, 0.025))
    assert result.monte_carlo.standard_uncertainty == pytest.approx(expected["u"], abs=4.0 * 2.0 / np.sqrt(2 * TRIALS))
    assert result.linear_suffices


def test_9_2_3_four_rectangular_inputs() -> None:
    """Linear propagation gives 3.92, the trials 3.88: the tails of a sum of rectangles are thinner than normal."""
    expected = record("jcgm101-9.2-additive")["expected"]["9.2.3"]
    result = additive([RECTANGULAR] * 4, [1.0] * 4, 2, trials=TRIALS)
    assert result.standard_uncertainty == pytest.approx(expected["u"], abs=0.05)
    density = 0.033  # of the sum at 3.88, counted in 4e6 trials
    slack = sampling(density, 0.025)
    assert slack < 0.5 * 0.04  # the trials tell 3.88 from 3.92
    assert result.monte_carlo.symmetric == pytest.approx(expected["interval95_MCM"], abs=0.005 + slack)
    assert result.interval == pytest.approx([-3.92, 3.92], abs=0.005)


def test_9_2_4_one_large_rectangular_input() -> None:
    expected = record("jcgm101-9.2-additive")["expected"]["9.2.4"]
    result = additive([RECTANGULAR] * 4, [1.0, 1.0, 1.0, 10.0], 3, trials=TRIALS)
    assert result.standard_uncertainty == pytest.approx(expected["u"], abs=0.05)
    assert result.interval == pytest.approx(expected["interval95_GUF"], abs=0.05)
    density = 0.0163  # at 17.0, counted in 4e6 trials
    slack = 0.05 + sampling(density, 0.025)
    assert result.monte_carlo.symmetric == pytest.approx(expected["interval95_MCM"], abs=slack)
    assert np.diff(result.monte_carlo.shortest)[0] == pytest.approx(34.0, abs=2.0 * slack)  # its place is ill-defined
    assert not result.linear_suffices


def test_9_2_2_as_many_trials_as_it_takes() -> None:
    expected = record("jcgm101-9.2-additive")["expected"]["9.2.2"]
    result = additive([NORMAL] * 4, [1.0] * 4, 4, digits=2)
    drawn = result.monte_carlo
    assert drawn.settled
    assert drawn.tolerance == pytest.approx(0.05)
    # Settled figures are known to the tolerance at two standard deviations; three are allowed here.
    assert drawn.symmetric == pytest.approx(expected["interval95"], abs=0.005 + 1.5 * drawn.tolerance)
    assert drawn.standard_uncertainty == pytest.approx(expected["u"], abs=1.5 * drawn.tolerance)
    assert additive([NORMAL] * 4, [1.0] * 4, 4, digits=3).monte_carlo.trials > drawn.trials


def gauge_block(x: np.ndarray) -> np.ndarray:
    """9.5: deviation of a gauge block from its nominal length, nm."""
    standard, difference, at_random, at_large, expansion, warm, swing, expansion_apart, warm_apart = x.T
    grown = standard * (expansion_apart * (warm + swing) + expansion * warm_apart)
    return standard + difference + at_random + at_large - grown - 50_000_000.0


def gauge_block_inputs() -> list[Input]:
    """Inputs as the record words them; degrees of freedom of inexact limits are those of H.1, 50 and 2."""
    ten_percent, fifty_percent = inexact_limits(0.1), inexact_limits(0.5)
    return [
        Input("Ls", 50_000_623.0, 25.0, 18.0),
        Input("D", 215.0, 6.0, 24.0),
        Input("d1", 0.0, 4.0, 5.0),
        Input("d2", 0.0, 7.0, 8.0),
        Input("alpha_s", 11.5e-6, 2e-6 / RECTANGULAR.half_width, distribution=RECTANGULAR),
        Input("theta0", -0.1, 0.2),
        Input("Delta", 0.0, 0.5 / ARCSINE.half_width, distribution=ARCSINE),
        Input("dalpha", 0.0, 1e-6 / ten_percent.half_width, 50.0, ten_percent),
        Input("dtheta", 0.0, 0.05 / fifty_percent.half_width, 2.0, fifty_percent),
    ]


def test_9_5_gauge_block() -> None:
    figure = record("jcgm101-9.5-gauge-block")
    linear, drawn = figure["expected"]["GUF"], figure["expected"]["MCM"]
    result = evaluate_formula(
        gauge_block, gauge_block_inputs(), np.random.default_rng(5), probability=0.99, trials=TRIALS
    )
    assert result.value == pytest.approx(linear["y"], abs=0.5)
    assert result.standard_uncertainty == pytest.approx(linear["u"], abs=0.5)
    # The printed linear interval is 838 -+ 93, that of H.1, and is checked there: it knows nothing of inexact limits.

    ours = result.monte_carlo
    assert ours.mean == pytest.approx(drawn["y"], abs=0.5)
    assert ours.standard_uncertainty == pytest.approx(drawn["u"], abs=0.5)
    # Their ends are printed to 1 nm and were settled to a tolerance of 0.5 nm (two digits of u = 36 nm).
    assert ours.symmetric == pytest.approx(drawn["interval99"], abs=0.5 + 0.5)
    assert np.diff(ours.shortest)[0] == pytest.approx(np.diff(drawn["interval99"])[0], abs=1.0)
    # What linear propagation misses is the spread of Student t and terms of second order.
    assert result.standard_uncertainty < result.second_order_uncertainty < ours.standard_uncertainty


def test_9_5_agrees_with_an_evaluation_of_four_million_trials() -> None:
    """u 35.79 nm, shortest 99 % interval [744.0, 931.2] nm: the detail that the record verifies its figures with."""
    assert "u 35.79, shortest 99 % [744.0, 931.2]" in record("jcgm101-9.5-gauge-block")["verified"]["detail"]
    result = evaluate_formula(
        gauge_block, gauge_block_inputs(), np.random.default_rng(6), probability=0.99, trials=2 * TRIALS
    )
    both = np.sqrt(1.0 / (2 * TRIALS) + 1.0 / 4e6)  # the sampling error of both evaluations
    slack = 4.0 * 35.79 * np.sqrt((3.1 - 1.0) / 4.0) * both  # the fourth moment of this quantity is near 3.1
    assert result.monte_carlo.standard_uncertainty == pytest.approx(35.79, abs=0.005 + slack)
    # Each end wanders by its quantile's error; the length of the shortest interval by at most both of them.
    density = 0.00038  # per nm at the ends, counted in 4e6 trials
    slack = 2.0 * 4.0 * float(np.sqrt(0.005 * 0.995)) / density * both
    assert np.diff(result.monte_carlo.shortest)[0] == pytest.approx(931.2 - 744.0, abs=0.1 + slack)
