"""The best value that lifts made of the shims at hand can reach, whatever they touch."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats
from .lift_problem import LiftProblem
from .stacks import NANOMETRE, Picked, Stacks
from .touched_feet import ChoiceBounds

__all__ = ["flattest_stacks", "rounded_lifts"]

DITHERS = 1500  # planes tried before rounding
STARTS = 4  # of those, taken on to the exchange
SCREENED = 24 * STARTS
ROUNDS = 60


def rounded_lifts(
    problem: LiftProblem, stacks: Stacks, start: Floats, generator: np.random.Generator
) -> tuple[Picked, Floats]:
    """A few sets of stacks ``(k, m)`` near the best lifts of any thickness, and their values, best first.

    The best lifts, ``start`` ``(m,)``, are shifted by many planes, which cost nothing, and rounded.
    """
    rounded = _dithered(problem, stacks, start, generator)
    return _best_few(problem, stacks, rounded[_screened(problem, stacks, rounded)])


def flattest_stacks(
    problem: LiftProblem, stacks: Stacks, bounds: ChoiceBounds, current: Picked, value: Floats
) -> tuple[Picked, float]:
    """Index into ``stacks.heights`` for each foot, ``(m,)``, and the value, metres: the best that was found.

    The sets ``current`` ``(k, m)`` change one foot or two feet at a time until nothing gains.
    """
    moves = _exchange_moves(current.shape[1])
    for _ in range(ROUNDS):
        near = np.unique(stacks.within((current[:, None, :] + moves).reshape(-1, current.shape[1]), problem), axis=0)
        near = near[bounds.floors_of(stacks.heights[near]) < value[-1]]
        found, reached = _best_few(problem, stacks, np.concatenate([current, near]))
        gained = reached[0] < value[0] - NANOMETRE * 1e-3
        current, value = found, reached
        if not gained:
            break
    return current[0], float(value[0])


def _exchange_moves(m: int) -> Picked:
    """Steps of one foot by one or two heights and of two feet by one, ``(k, m)``."""
    one = np.eye(m, dtype=np.intp)
    first, second = np.triu_indices(m, 1)
    pairs = [a * one[first] + b * one[second] for a in (-1, 1) for b in (-1, 1)]
    everything = np.ones((1, m), dtype=np.intp)
    return np.concatenate([one, -one, 2 * one, -2 * one, everything, -everything, *pairs])


def _dithered(problem: LiftProblem, stacks: Stacks, start: Floats, generator: np.random.Generator) -> Picked:
    """Rounded lifts after shifts by random planes, small and large, and no lifts at all, ``(k, m)``."""
    heights = stacks.heights
    gap = max(float(np.diff(heights).max(initial=0.0)), NANOMETRE)
    span = float(np.ptp(heights))
    p = problem.free_lifts.shape[1]
    unit = problem.free_lifts / np.maximum(np.abs(problem.free_lifts).max(axis=0), 1e-12)
    amplitude = np.geomspace(gap, max(span, gap), DITHERS)[:, None]
    shifted = start + (generator.uniform(-1.0, 1.0, (DITHERS, p)) * amplitude) @ unit.T
    under = np.minimum(shifted - problem.lowest, 0.0).min(axis=1)
    over = np.maximum(shifted - problem.highest, 0.0).max(axis=1)
    shifted -= (under + over)[:, None]
    nearest = np.clip(np.searchsorted((heights[1:] + heights[:-1]) / 2.0, shifted), *stacks.ends(problem))
    none = np.full((1, len(start)), stacks.zero)
    sets = np.unique(np.concatenate([nearest, none]), axis=0)
    return sets[problem.missing_loads(heights[sets]) <= 0.0]


def _screened(problem: LiftProblem, stacks: Stacks, picked: Picked) -> Picked:
    """Positions of the sets worth an exact value: least spread about a fitted plane."""
    q, _ = np.linalg.qr(problem.basis)
    moves = problem.matrix - q @ (q.T @ problem.matrix)
    rest = (problem.deviations - q @ (q.T @ problem.deviations)) + stacks.heights[picked] @ moves.T
    spread = np.ptp(rest, axis=1) if problem.goal == "minimax" else np.square(rest).sum(axis=1)
    return np.argsort(spread)[:SCREENED]


def _best_few(problem: LiftProblem, stacks: Stacks, picked: Picked) -> tuple[Picked, Floats]:
    """The best sets that keep the loads, and their values, best first."""
    lifts = stacks.heights[picked]
    kept = problem.missing_loads(lifts) <= 0.0
    value = problem.values(lifts[kept])
    first = np.argsort(value, kind="stable")
    apart = first[np.append(True, (np.diff(picked[kept][first], axis=0) != 0).any(axis=1))][:STARTS]
    return picked[kept][apart], value[apart]
