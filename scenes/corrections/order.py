"""The order of moves: of all sequences, the one that keeps every foot loaded and bends the part least on the way."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..vectors import Floats

__all__ = ["CRITERION", "LARGEST_FIRST", "MOST_SEARCHED", "best_order"]

MOST_SEARCHED = 12
"""Moves up to which all sequences are weighed; their number of sets is two to that power."""

CRITERION = (
    "of all sequences, the one in which the feet keep most of the least load asked of them at every step, then that "
    "whose worst step bends the part least, then that which bends it least in sum"
)
LARGEST_FIRST = "the largest move first"


def best_order(
    lifts: Floats, moves: Floats, found: Floats, loads: Floats | None, change: Floats | None, least: Floats | None
) -> tuple[list[int], str]:
    """Movers in the order in which they are moved, and by what it was chosen.

    What has been moved so far decides the state of the part, not in which order; so the best sequence is the best path
    through the sets of moves, found exactly from the empty set up.

    Source: R. Bellman (1962) and M. Held, R. M. Karp (1962): dynamic programming over subsets.

    Parameters
    ----------
    lifts : (m,) float
        Moves, metres; zeros are left out.
    moves : (k, m) float
        Change of the deviations per unit move.
    found : (k,) float
        Deviations as found, metres, from their least-squares reference.
    loads, change, least : float or None
        Loads as found (m,), their change per move (m, m) and the least that is asked for (m,), newton.
    """
    touched = np.flatnonzero(lifts)
    if len(touched) > MOST_SEARCHED or len(touched) == 0:
        return [int(j) for j in touched[np.argsort(-np.abs(lifts[touched]), kind="stable")]], LARGEST_FIRST
    state = (np.arange(2 ** len(touched))[:, None] >> np.arange(len(touched)) & 1).astype(np.float64)
    amount = np.zeros((len(state), len(lifts)))
    amount[:, touched] = state * lifts[touched]
    bend = np.ptp(found + amount @ moves.T, axis=1) if len(found) else np.zeros(len(state))
    short = np.zeros(len(state))
    if loads is not None and change is not None:
        wanted = np.zeros(len(lifts)) if least is None else least
        short = np.maximum(wanted - (loads + amount @ change.T), 0.0).max(axis=1) / max(float(np.abs(loads).sum()), 1.0)
        short[short < 1e-9] = 0.0
    worst_short = _bottleneck(short, len(touched))
    allowed = short <= worst_short * (1.0 + 1e-9)
    worst_bend = _bottleneck(np.where(allowed, bend, np.inf), len(touched))
    allowed &= bend <= worst_bend * (1.0 + 1e-9) + 1e-12
    return [int(touched[j]) for j in _least_sum(np.where(allowed, bend, np.inf), len(touched))], CRITERION


def _bottleneck(cost: Floats, count: int) -> float:
    """Least possible largest cost ``(2^count,)`` of the sets on a path from none to all; the ends count as nought."""
    reach = cost.copy()
    reach[0], reach[-1] = 0.0, 0.0
    for members in _layers(count):
        before = np.min(np.where(*_predecessors(members, reach, count)), axis=1)
        reach[members] = np.maximum(reach[members], before)
    return float(reach[-1])


def _least_sum(cost: Floats, count: int) -> list[int]:
    """Path of least sum of costs from none to all, as the numbers that join one after the other."""
    total = cost.copy()
    total[0], total[-1] = 0.0, 0.0
    last = np.zeros(len(cost), dtype=np.int64)
    for members in _layers(count):
        before = np.where(*_predecessors(members, total, count))
        last[members] = before.argmin(axis=1)
        total[members] += before.min(axis=1)
    path, at = [], len(cost) - 1
    while at:
        path.append(int(last[at]))
        at ^= 1 << int(last[at])
    return path[::-1]


def _layers(count: int) -> list[NDArray[np.int64]]:
    """Sets of one, of two, ... members, as bit patterns."""
    every = np.arange(2**count)
    size = np.array([int(each).bit_count() for each in every])
    return [every[size == k] for k in range(1, count + 1)]


def _predecessors(members: NDArray[np.int64], cost: Floats, count: int) -> tuple[NDArray[np.bool_], Floats, float]:
    """Condition, costs and infinity: the sets from which each of ``members`` is reached by joining number j."""
    bits = 1 << np.arange(count)
    inside = (members[:, None] & bits) > 0
    return inside, cost[members[:, None] ^ bits], np.inf
