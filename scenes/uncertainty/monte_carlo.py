"""Monte Carlo evaluation of one quantity: mean, standard uncertainty and coverage intervals of its trials.

Source: JCGM 101:2008, clause 7, from memory. One departure: the adaptive procedure runs at least ``LEAST_SEQUENCES``
sequences, since the scatter of two or three says little about when to stop.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..vectors import Floats
from .degrees import coverage_factor

__all__ = ["MonteCarlo", "adaptive_trials", "coverage_intervals", "fixed_trials", "numerical_tolerance"]

TRIALS_AT_ONCE = 20_000
LEAST_SEQUENCES = 10
MOST_TRIALS = 10_000_000

Draw = Callable[[np.random.Generator, int], Floats]
"""Values ``(trials,)`` of the quantity, from a generator and a number of trials."""


@dataclass(frozen=True, slots=True)
class MonteCarlo:
    """What the trials of a quantity say about it; in its unit.

    Attributes
    ----------
    mean, standard_uncertainty : float
        Mean and standard deviation of the trials; nan and infinite where the distribution has no standard deviation.
    probability : float
        Of the coverage intervals.
    symmetric, shortest : (float, float)
        Ends of the probabilistically symmetric and of the shortest coverage interval.
    trials : int
    tolerance : float
        Half a unit in the last significant digit of the standard uncertainty.
    settled : bool
        Mean, standard uncertainty and the ends of the symmetric interval are known to the tolerance (at two standard
        deviations). The ends of the shortest interval may wander more, since its length hardly changes with its place.
    """

    mean: float
    standard_uncertainty: float
    probability: float
    symmetric: tuple[float, float]
    shortest: tuple[float, float]
    trials: int
    tolerance: float
    settled: bool


def coverage_intervals(values: Floats, probability: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Probabilistically symmetric and shortest interval that hold ``probability`` of the values ``(trials,)``.

    Source: JCGM 101:2008, 7.7.
    """
    count = len(values)
    inside = int(probability * count + 0.5)
    if not 0 < inside < count:
        raise ValueError(f"{count} trials are too few for a coverage probability of {probability}")
    in_order = np.sort(values)
    low, high = in_order[: count - inside], in_order[inside:]
    middle, shortest = (len(low) + 1) // 2 - 1, int(np.argmin(high - low))
    return (float(low[middle]), float(high[middle])), (float(low[shortest]), float(high[shortest]))


def numerical_tolerance(u: float, digits: int = 2) -> float:
    """Half a unit in the last of ``digits`` significant decimal digits of ``u``.

    Source: JCGM 101:2008, 7.9.2.
    """
    if not (u > 0.0 and np.isfinite(u)):
        return 0.0
    mantissa, exponent = f"{u:.{digits - 1}e}".split("e")
    return float(0.5 * 10.0 ** (int(exponent) - len(mantissa.partition(".")[2])))


def fixed_trials(
    draw: Draw, rng: np.random.Generator, probability: float, trials: int, digits: int = 2, moments: bool = True
) -> MonteCarlo:
    """Evaluation from a given number of trials.

    Parameters
    ----------
    draw : callable
        Called for at most ``TRIALS_AT_ONCE`` trials at a time.
    digits : int
        Significant digits of the standard uncertainty that are wanted.
    moments : bool
        False: the distribution has no standard deviation, and none is reported.
    """
    values = _drawn(draw, rng, trials)
    parts = np.array_split(values, LEAST_SEQUENCES)
    enough = len(parts[-1]) * (1.0 - probability) >= 1.0
    figures = np.array([_figures(part, probability, moments) for part in parts]) if enough else np.zeros((0, 4))
    return _evaluated(values, figures, probability, digits, moments)


def adaptive_trials(
    draw: Draw,
    rng: np.random.Generator,
    probability: float,
    digits: int = 2,
    moments: bool = True,
    most: int = MOST_TRIALS,
) -> MonteCarlo:
    """Evaluation from as many trials as it takes to know every figure to ``digits`` digits of the uncertainty.

    Parameters are those of ``fixed_trials``; ``settled`` is false where ``most`` trials did not suffice.

    Source: JCGM 101:2008, 7.9.
    """
    size = max(int(np.ceil(100.0 / (1.0 - probability))), 10_000)
    sequences = max(1, most // size)
    values, figures = np.empty(sequences * size), np.empty((sequences, 4))
    done = 0
    while done < sequences:
        block = values[done * size : (done + 1) * size]
        block[:] = _drawn(draw, rng, size)
        figures[done] = _figures(block, probability, moments)
        done += 1
        if _settled(figures[:done], _scale(figures[:done], probability, moments), digits):
            break
    return _evaluated(values[: done * size], figures[:done], probability, digits, moments)


def _drawn(draw: Draw, rng: np.random.Generator, trials: int) -> Floats:
    """Values of all trials, drawn in blocks."""
    values = np.empty(trials)
    for start in range(0, trials, TRIALS_AT_ONCE):
        block = values[start : start + TRIALS_AT_ONCE]
        block[:] = draw(rng, len(block))
    return values


def _figures(values: Floats, probability: float, moments: bool) -> Floats:
    """Mean, standard deviation and ends of the symmetric interval of one sequence."""
    (low, high), _ = coverage_intervals(values, probability)
    return np.array([*((values.mean(), values.std(ddof=1)) if moments else (0.0, 0.0)), low, high])


def _scale(figures: Floats, probability: float, moments: bool) -> float:
    """Standard deviation of all sequences together; without moments, that of a normal interval of the same length."""
    if moments:
        return float(np.sqrt(np.mean(figures[:, 1] ** 2) + np.var(figures[:, 0])))
    return float(np.mean(figures[:, 3] - figures[:, 2]) / (2.0 * coverage_factor(probability)))


def _settled(figures: Floats, u: float, digits: int) -> bool:
    """Whether the averages of the sequences are known to the tolerance, at two standard deviations."""
    count = len(figures)
    if count < LEAST_SEQUENCES:
        return False
    doubt = 2.0 * figures.std(axis=0, ddof=1) / np.sqrt(count)
    return bool(np.all(doubt <= numerical_tolerance(u, digits)))


def _evaluated(values: Floats, figures: Floats, probability: float, digits: int, moments: bool) -> MonteCarlo:
    symmetric, shortest = coverage_intervals(values, probability)
    u = float(values.std(ddof=1)) if moments else float("inf")
    scale = u if moments else (symmetric[1] - symmetric[0]) / (2.0 * float(coverage_factor(probability)))
    return MonteCarlo(
        mean=float(values.mean()) if moments else float("nan"),
        standard_uncertainty=u,
        probability=probability,
        symmetric=symmetric,
        shortest=shortest,
        trials=len(values),
        tolerance=numerical_tolerance(scale, digits),
        settled=_settled(figures, scale, digits),
    )
