"""Monte Carlo of a formula with nine inputs against the same draws written out by hand, all trials at once.

Run with ``pytest tests/bench/bench_formulas.py -s``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from form_timing import growth, seconds

from scenes.uncertainty.distributions import ARCSINE, RECTANGULAR, inexact_limits
from scenes.uncertainty.formula import Input, evaluate_formula

TRIALS = (100_000, 300_000, 1_000_000)
LIMITS = inexact_limits(0.5)
INPUTS = [
    Input("a", 5e7, 25.0, 18.0), Input("b", 215.0, 6.0, 24.0), Input("c", 0.0, 4.0, 5.0), Input("d", 0.0, 7.0, 8.0),
    Input("e", 1.15e-5, 1.2e-6, distribution=RECTANGULAR), Input("f", -0.1, 0.2),
    Input("g", 0.0, 0.35, distribution=ARCSINE), Input("h", 0.0, 5.8e-7, distribution=LIMITS),
    Input("i", 0.0, 0.03, distribution=LIMITS),
]  # fmt: skip


def formula(x: np.ndarray) -> np.ndarray:
    a, b, c, d, e, f, g, h, i = x.T
    return a + b + c + d - a * (h * (f + g) + e * i)


def by_hand(trials: int) -> tuple[float, float, np.ndarray]:
    rng = np.random.default_rng(1)
    columns = [
        one.value + one.u * (rng.standard_t(one.dof, trials) if np.isfinite(one.dof) else rng.standard_normal(trials))
        for one in INPUTS[:4]
    ]
    columns += [one.value + one.u * rng.uniform(-1.7, 1.7, trials) for one in INPUTS[4:]]
    values = formula(np.column_stack(columns))
    return float(values.mean()), float(values.std()), np.quantile(values, [0.025, 0.975])


def test_formula() -> None:
    spent = [
        seconds(lambda t=trials: evaluate_formula(formula, INPUTS, np.random.default_rng(1), trials=t), 3)
        for trials in TRIALS
    ]
    hand = seconds(lambda: by_hand(TRIALS[-1]), 3)
    print(
        f"\n{TRIALS[-1]} trials of nine inputs in {spent[-1] * 1e3:.0f} ms, power {growth(TRIALS, spent):.2f}; "
        f"by hand {hand * 1e3:.0f} ms: {hand / spent[-1]:.2f}x"
    )
    adaptive = seconds(lambda: evaluate_formula(formula, INPUTS, np.random.default_rng(1)), 2)
    done = evaluate_formula(formula, INPUTS, np.random.default_rng(1)).monte_carlo
    print(f"as many as it takes for two digits: {done.trials} trials in {adaptive * 1e3:.0f} ms")
