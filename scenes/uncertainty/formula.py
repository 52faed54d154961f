"""Quantities worked out by a formula: its gain, its terms of second order, and its uncertainty both ways.

The formula is any vectorised function of its inputs. Its gain and the effects of the inputs make a ``Spread``, as those
of readings do, so that published examples run through the very code that surveys use.

Source: JCGM 100:2008 (GUM), clause 5 and annex G; JCGM 101:2008, clauses 7 and 8.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from ..errors import GeometryError
from ..vectors import Floats
from .degrees import coverage_factor
from .distributions import NORMAL, Distribution
from .monte_carlo import MonteCarlo, adaptive_trials, fixed_trials, numerical_tolerance
from .propagate import Effect, Spread, budget_of, drawn_errors
from .second_order import SecondOrder, second_order

__all__ = ["FormulaResult", "Input", "effects_of_inputs", "evaluate_formula", "formula_spread"]

Formula = Callable[[Floats], Floats]
"""Results ``(n,)`` or ``(n, p)`` of inputs ``(n, k)``."""


@dataclass(frozen=True, slots=True)
class Input:
    """One input of a formula.

    Attributes
    ----------
    name : str
    value, u : float
        Best estimate and standard uncertainty.
    dof : float
        Degrees of freedom of the standard uncertainty.
    distribution : Distribution
        Of the error; with finite ``dof``, a normal one is drawn from Student t.
    origin : str
        Where the standard uncertainty comes from.
    """

    name: str
    value: float
    u: float
    dof: float = float("inf")
    distribution: Distribution = NORMAL
    origin: str = "stated"


@dataclass(frozen=True, slots=True, eq=False)
class FormulaResult:
    """One quantity with its uncertainty, by linear propagation and by Monte Carlo.

    Attributes
    ----------
    value : float
        The formula at the best estimates.
    spread : Spread
        Its error by source; ``gain`` is (1, k).
    standard_uncertainty : float
    second_order : SecondOrder
        What the curvature of the formula adds to the variance.
    effective_dof, coverage_factor, expanded_uncertainty : float
    probability : float
        Of the expanded uncertainty and of all coverage intervals.
    budget : tuple of (source, contribution)
        The largest first.
    monte_carlo : MonteCarlo
    digits : int
        Significant digits of the standard uncertainty that matter.
    """

    value: float
    spread: Spread
    standard_uncertainty: float
    second_order: SecondOrder
    effective_dof: float
    coverage_factor: float
    expanded_uncertainty: float
    probability: float
    budget: tuple[tuple[str, float], ...]
    monte_carlo: MonteCarlo
    digits: int

    @property
    def interval(self) -> tuple[float, float]:
        """Coverage interval of the linear propagation."""
        return self.value - self.expanded_uncertainty, self.value + self.expanded_uncertainty

    @property
    def second_order_uncertainty(self) -> float:
        """Standard uncertainty with the terms of second order; nan where they would make the variance negative."""
        variance = self.standard_uncertainty**2 + sum(self.second_order.variances.values())
        return float(np.sqrt(variance)) if variance >= 0.0 else float("nan")

    @property
    def linear_suffices(self) -> bool:
        """Whether both ends of the linear interval agree with the trials to the significant digits.

        Source: JCGM 101:2008, 8.1.3.
        """
        tolerance = numerical_tolerance(self.standard_uncertainty, self.digits)
        ends = zip(self.interval, self.monte_carlo.symmetric, strict=True)
        return all(abs(linear - drawn) <= tolerance for linear, drawn in ends)


def evaluate_formula(
    formula: Formula,
    inputs: Sequence[Input],
    rng: np.random.Generator,
    *,
    shared: tuple[Effect, ...] = (),
    probability: float = 0.95,
    trials: int | None = None,
    digits: int = 2,
) -> FormulaResult:
    """Value of a formula and its uncertainty, linear and by Monte Carlo side by side.

    Parameters
    ----------
    formula : callable
        Results ``(n,)`` of inputs ``(n, k)``, in the order of ``inputs``.
    shared : tuple of Effect
        Further effects over the inputs, such as one that moves several of them together.
    probability : float
        Coverage probability.
    trials : int, optional
        Default: as many as settle ``digits`` significant digits of the standard uncertainty.

    Raises
    ------
    GeometryError
        Where the formula has no finite value at the estimates or in some trials.
    """
    values = np.array([one.value for one in inputs], dtype=np.float64)
    effects = (*effects_of_inputs(inputs), *shared)
    results, spread = formula_spread(formula, values, effects)
    if len(results) != 1:
        raise ValueError(f"one result was expected, not {len(results)}; formula_spread serves several")
    nu = spread.effective_dof()
    k, u = float(coverage_factor(probability, nu)[0]), float(spread.standard_uncertainty()[0])
    draw = partial(_drawn_results, formula, values, effects)
    moments = all(np.isfinite(effect.drawn.deviation) for effect in effects if np.any(effect.size))
    if trials is None:
        drawn = adaptive_trials(draw, rng, probability, digits, moments)
    else:
        drawn = fixed_trials(draw, rng, probability, trials, digits, moments)
    return FormulaResult(
        value=float(results[0]),
        spread=spread,
        standard_uncertainty=u,
        second_order=second_order(partial(_results, formula), values, effects),
        effective_dof=float(nu[0]),
        coverage_factor=k,
        expanded_uncertainty=k * u,
        probability=probability,
        budget=budget_of(spread, negligible=0.0),
        monte_carlo=drawn,
        digits=digits,
    )


def effects_of_inputs(inputs: Sequence[Input]) -> tuple[Effect, ...]:
    """One effect for each input, which moves that input alone."""
    k = len(inputs)
    together = np.zeros(k, dtype=np.int64)
    return tuple(
        Effect(one.name, one.u * np.eye(k)[i], together, 1, one.origin, one.dof, one.distribution)
        for i, one in enumerate(inputs)
    )


def formula_spread(formula: Formula, values: Floats, effects: tuple[Effect, ...]) -> tuple[Floats, Spread]:
    """Results ``(p,)`` of a formula at the estimates ``values`` (k,), and their errors by source.

    Raises
    ------
    GeometryError
        Where the formula has no finite value at or near the estimates.
    """
    total = np.sqrt(sum((effect.size**2 for effect in effects), np.zeros(len(values))))
    results = _results(formula, values[None, :])[0]
    return results, Spread(_gain(formula, values, total, len(results)), effects, {})


STEP = 0.125
"""Steps of differences, in standard uncertainties: inside the range where the formula is used, far above rounding."""


def _gain(formula: Formula, values: Floats, u: Floats, p: int) -> Floats:
    """Change ``(p, k)`` of the results with each input, by differences of fourth order; 0 for exact inputs."""
    gain = np.zeros((p, len(values)))
    moved = np.flatnonzero(u)
    # Steps that are powers of two, and not below the spacing of numbers there, are added without rounding.
    step = np.exp2(np.round(np.log2(STEP * u[moved])))
    step = np.maximum(step, 4.0 * np.spacing(np.abs(values[moved])))
    offsets = np.zeros((4, len(moved), len(values)))
    offsets[:, np.arange(len(moved)), moved] = np.outer([-2.0, -1.0, 1.0, 2.0], step)
    seen = _results(formula, (values + offsets).reshape(-1, len(values))).reshape(4, len(moved), p)
    slope = (8.0 * (seen[2] - seen[1]) - (seen[3] - seen[0])) / (12.0 * step[:, None])
    gain[:, moved] = slope.T
    return gain


def _results(formula: Formula, inputs: Floats) -> Floats:
    """Results ``(n, p)`` of inputs ``(n, k)``, checked."""
    seen = np.asarray(formula(inputs), dtype=np.float64)
    if seen.ndim not in (1, 2) or len(seen) != len(inputs):
        raise ValueError(
            f"a formula gives one result, or one row of results, for each row of its inputs; for inputs of shape "
            f"{inputs.shape} this one gave the shape {seen.shape}"
        )
    missed = int(np.count_nonzero(~np.isfinite(seen)))
    if missed:
        raise GeometryError(
            f"the formula has no finite value for {missed} of {seen.size} sets of inputs around the estimates, so its "
            "uncertainty does not exist there: the stated uncertainties reach out of the range where the formula holds"
        )
    return seen[:, None] if seen.ndim == 1 else seen


def _drawn_results(
    formula: Formula, values: Floats, effects: tuple[Effect, ...], rng: np.random.Generator, trials: int
) -> Floats:
    """Results ``(trials,)`` of the formula with drawn errors of its inputs."""
    return _results(formula, values + drawn_errors(effects, len(values), rng, trials))[:, 0]
