"""The best value that lifts made of the shims at hand can reach, whatever they touch."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats
from .lift_problem import LiftProblem
from .stacks import NANOMETRE, Picked, Stacks
from .zone_cuts import ZoneCuts

__all__ = ["flattest_stacks", "rounded_lifts"]

DITHERS = 1000  # planes tried before rounding
STARTS = 4  # of those, taken on to the exchange
SCREENED = 24  # sets whose values are worked out at once
LOOKS = 20
ROUNDS = 60


def rounded_lifts(
    problem: LiftProblem, stacks: Stacks, start: Floats, generator: np.random.Generator, cuts: ZoneCuts
) -> tuple[Picked, Floats]:
    """A few sets of stacks ``(k, m)`` near the best lifts of any thickness, and their values, best first.

    The best lifts, ``start`` ``(m,)``, are shifted by many planes, which cost nothing, and rounded.
    """
    rounded = _dithered(problem, stacks, start, generator)
    none = np.full((1, len(start)), stacks.zero)  # a foot never loses a load that it does not have
    cuts.values_within(start[None], np.inf)  # for its contacts
    return _best_few(stacks, cuts, none, cuts.values_within(stacks.heights[none], np.inf), rounded)


def flattest_stacks(
    problem: LiftProblem, stacks: Stacks, cuts: ZoneCuts, current: Picked, value: Floats
) -> tuple[Picked, float]:
    """Index into ``stacks.heights`` for each foot, ``(m,)``, and the value, metres: the best that was found.

    The sets ``current`` ``(k, m)`` change one foot or two feet at a time until nothing gains.
    """
    moves = _exchange_moves(current.shape[1])
    for _ in range(ROUNDS):
        near = stacks.within((current[:, None, :] + moves).reshape(-1, current.shape[1]), problem)
        near = near[problem.missing_loads(stacks.heights[near]) <= 0.0]
        found, reached = _best_few(stacks, cuts, current, value, near)
        gained = reached[0] < value[0] - NANOMETRE * 1e-3
        current, value = found, reached
        if not gained:
            break
    return current[0], float(value[0])


def _exchange_moves(m: int) -> Picked:
    """Steps of one foot or two by one or two heights, and of all feet by one, ``(k, m)``."""
    one = np.eye(m, dtype=np.intp)
    first, second = np.triu_indices(m, 1)
    steps = (-2, -1, 1, 2)
    pairs = [a * one[first] + b * one[second] for a in steps for b in steps]
    everything = np.ones((1, m), dtype=np.intp)
    return np.concatenate([one, -one, 2 * one, -2 * one, everything, -everything, *pairs])


def _dithered(problem: LiftProblem, stacks: Stacks, start: Floats, generator: np.random.Generator) -> Picked:
    """Rounded lifts after shifts by random planes, small and large, ``(k, m)``."""
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
    mixed = nearest @ generator.integers(1, 2**40, len(start))  # equal sets have equal sums, and hardly any others
    nearest = nearest[np.unique(mixed, return_index=True)[1]]
    return np.asarray(nearest[problem.missing_loads(heights[nearest]) <= 0.0])


def _best_few(stacks: Stacks, cuts: ZoneCuts, current: Picked, value: Floats, tried: Picked) -> tuple[Picked, Floats]:
    """The best of ``current`` ``(k, m)`` with values ``(k,)`` and of the sets ``tried``, and their values, best first.

    The sets of the lowest bounds are looked at first; their values and contacts spare most of the others.
    """
    for _ in range(LOOKS):
        enough = float(value[-1]) if len(value) == STARTS else np.inf
        floors = cuts.floors_of(stacks.heights[tried])
        kept = np.flatnonzero(floors < enough)
        kept = kept[np.argsort(floors[kept], kind="stable")]
        some, tried = tried[kept[:SCREENED]], tried[kept[SCREENED:]]
        reached = cuts.values_within(stacks.heights[some], enough)
        current, value = _distinct(np.concatenate([current, some]), np.append(value, reached))
        if len(tried) == 0:
            break
    return current, value


def _distinct(picked: Picked, value: Floats) -> tuple[Picked, Floats]:
    """The best few different sets of finite value, best first."""
    first = np.argsort(value, kind="stable")[: np.isfinite(value).sum()]
    picked, value = picked[first], value[first]
    # equal sets have equal values, but others may stand between them
    new = [k for k in range(min(len(value), 4 * STARTS)) if not (picked[:k] == picked[k]).all(axis=1).any()]
    return picked[new[:STARTS]], value[new[:STARTS]]
