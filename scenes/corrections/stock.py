"""Lifts made of the shims at hand: which heights can be stacked, and the best choice of one for each foot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..vectors import Floats
from .lift_problem import LiftProblem

__all__ = ["Stacks", "stacks_of", "stock_lifts"]

DITHERS = 1500  # planes tried before rounding
STARTS = 4  # of those, taken on to the exchange
ROUNDS = 60
NANOMETRE = 1e-9
MOST_HEIGHTS = 4000


@dataclass(frozen=True, slots=True, eq=False)
class Stacks:
    """Heights that can be stacked, ascending, and the shims of each (fewest pieces; negative: taken out)."""

    heights: Floats
    shims: tuple[tuple[float, ...], ...]


def stacks_of(stock: tuple[float, ...], most_pieces: int, highest: float, *, add_only: bool) -> Stacks:
    """Heights up to ``highest`` [m] from at most ``most_pieces`` of the thicknesses in ``stock`` [m].

    Examples
    --------
    >>> stacks_of((0.00005, 0.0002), 2, 1.0, add_only=True).heights.tolist()
    [0.0, 5e-05, 0.0001, 0.0002, 0.00025, 0.0004]
    """
    sizes = sorted({round(thickness / NANOMETRE) for thickness in stock}, reverse=True)
    limit = round(highest / NANOMETRE)
    found: dict[int, tuple[int, ...]] = {0: ()}
    last = dict(found)
    for _ in range(most_pieces):
        grown: dict[int, tuple[int, ...]] = {}
        for height, pieces in last.items():
            for size in sizes:
                if height + size <= limit and height + size not in found and height + size not in grown:
                    grown[height + size] = (*pieces, size)
        found |= grown
        last = grown
        if len(found) > MOST_HEIGHTS:
            break
    signed = {**found, **({} if add_only else {-h: tuple(-s for s in p) for h, p in found.items()})}
    order = sorted(signed)
    return Stacks(
        np.array([h * NANOMETRE for h in order]).round(12),
        tuple(tuple(round(s * NANOMETRE, 12) for s in sorted(signed[h], reverse=True)) for h in order),
    )


def stock_lifts(
    problem: LiftProblem, stacks: Stacks, start: Floats, generator: np.random.Generator, slack: float = 0.0
) -> NDArray[np.intp]:
    """Index into ``stacks.heights`` for each foot, ``(m,)``: the best lifts that were found.

    The best lifts of any thickness, ``start`` ``(m,)``, are shifted by many planes, which cost nothing, and rounded;
    the best of the rounded ones then change one foot or two feet at a time until nothing gains. Among lifts whose
    value is within ``slack`` of the best found, the one that touches the fewest feet is taken.
    """
    bottom = np.searchsorted(stacks.heights, problem.lowest - NANOMETRE)
    top = np.searchsorted(stacks.heights, problem.highest + NANOMETRE) - 1
    rounded = _dithered(problem, stacks, start, generator, bottom, top)
    moves = _exchange_moves(len(start))
    pool, missing, value = _ranked(problem, stacks, rounded[_screened(problem, stacks, rounded)])
    current = pool[:STARTS]
    for _ in range(ROUNDS):
        near = (current[:, None, :] + moves).reshape(-1, len(start))
        near = np.unique(near[((near >= bottom) & (near <= top)).all(axis=1)], axis=0)
        if not len(near):
            break
        found, short, reached = _ranked(problem, stacks, near)
        gained = (short[0], reached[0]) < (missing[0], value[0] - NANOMETRE * 1e-3)
        pool, missing, value = _best_of(pool, missing, value, found, short, reached)
        if not gained:
            break
        current = pool[:STARTS]
    return _fewest_touched(stacks, pool, missing, value, slack)


def _exchange_moves(m: int) -> NDArray[np.intp]:
    """Steps of one foot by one or two heights and of two feet by one, ``(k, m)``."""
    one = np.eye(m, dtype=np.intp)
    first, second = np.triu_indices(m, 1)
    pairs = [a * one[first] + b * one[second] for a in (-1, 1) for b in (-1, 1)]
    everything = np.ones((1, m), dtype=np.intp)
    return np.concatenate([one, -one, 2 * one, -2 * one, everything, -everything, *pairs])


def _dithered(
    problem: LiftProblem,
    stacks: Stacks,
    start: Floats,
    generator: np.random.Generator,
    bottom: NDArray[np.intp],
    top: NDArray[np.intp],
) -> NDArray[np.intp]:
    """Rounded lifts after shifts by random planes, small and large, and no lifts at all, ``(k, m)``."""
    heights = stacks.heights
    zero = int(np.searchsorted(heights, -NANOMETRE))
    gap = max(float(np.diff(heights).max(initial=0.0)), NANOMETRE)
    span = float(np.ptp(heights))
    p = problem.free_lifts.shape[1]
    unit = problem.free_lifts / np.maximum(np.abs(problem.free_lifts).max(axis=0), 1e-12)
    amplitude = np.geomspace(gap, max(span, gap), DITHERS)[:, None]
    shifted = start + (generator.uniform(-1.0, 1.0, (DITHERS, p)) * amplitude) @ unit.T
    under = np.minimum(shifted - problem.lowest, 0.0).min(axis=1)
    over = np.maximum(shifted - problem.highest, 0.0).max(axis=1)
    shifted -= (under + over)[:, None]
    nearest = np.searchsorted((heights[1:] + heights[:-1]) / 2.0, shifted)
    none = np.full((1, len(start)), zero)
    return np.unique(np.concatenate([np.clip(nearest, bottom, top), none]), axis=0)


def _screened(problem: LiftProblem, stacks: Stacks, picked: NDArray[np.intp]) -> NDArray[np.intp]:
    """Positions of the sets worth an exact value: least missing load, then least spread about a fitted plane."""
    lifts = stacks.heights[picked]
    q, _ = np.linalg.qr(problem.basis)
    moves = problem.matrix - q @ (q.T @ problem.matrix)
    rest = (problem.deviations - q @ (q.T @ problem.deviations)) + lifts @ moves.T
    spread = np.ptp(rest, axis=1) if problem.goal == "minimax" else np.square(rest).sum(axis=1)
    return np.lexsort([spread, problem.missing_loads(lifts)])[: 24 * STARTS]


Ranked = tuple[NDArray[np.intp], Floats, Floats]


def _ranked(problem: LiftProblem, stacks: Stacks, picked: NDArray[np.intp]) -> Ranked:
    """The sets ``(k, m)`` with their missing loads and values, best first; only those that miss least."""
    lifts = stacks.heights[picked]
    missing = problem.missing_loads(lifts)
    kept = np.flatnonzero(missing <= np.sort(missing)[min(len(missing), 2 * STARTS) - 1])
    value = problem.values(lifts[kept])
    order = np.lexsort([value, missing[kept]])
    return picked[kept][order], missing[kept][order], value[order]


def _best_of(
    pool: NDArray[np.intp],
    missing: Floats,
    value: Floats,
    found: NDArray[np.intp],
    short: Floats,
    reached: Floats,
) -> Ranked:
    """Both collections together, without doubles, best first."""
    sets, first = np.unique(np.concatenate([pool, found]), axis=0, return_index=True)
    misses, values = np.concatenate([missing, short])[first], np.concatenate([value, reached])[first]
    order = np.lexsort([values, misses])[:4096]
    return sets[order], misses[order], values[order]


def _fewest_touched(
    stacks: Stacks, pool: NDArray[np.intp], missing: Floats, value: Floats, slack: float
) -> NDArray[np.intp]:
    """Among the sets as good as the best, the one with the fewest feet touched, then the least total lift."""
    good = np.flatnonzero((missing <= missing[0]) & (value <= value[0] + slack + NANOMETRE))
    lifts = np.abs(stacks.heights[pool[good]])
    order = np.lexsort([value[good], lifts.sum(axis=1), (lifts > 0.0).sum(axis=1)])
    return np.asarray(pool[good[order[0]]])
