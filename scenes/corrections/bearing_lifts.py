"""Lifts of few movers that bring rows of numbers near nought: which parts to touch, how far, with which shims."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, lsq_linear, milp

from ..errors import GeometryError
from ..vectors import Flags, Floats
from .movers import Movers
from .stacks import stacks_of

__all__ = ["Rows", "chosen_parts", "lifts_of_rows"]

NEAREST = 60
"""Stacks tried under one bearing, the nearest to the best move."""

TIE = 1e-7
RIDGE = 1e-6
WEIGHT = 1e3
"""Cost of touching one more part beside that of moving it by its size."""


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Numbers to be brought to nought; r rows, m movers.

    Attributes
    ----------
    found : (r,) float
        Metres.
    moves : (r, m) float
        Change per unit move.
    answer : (r,) int
        Which component each belongs to.
    common : (r,) float
        Change with a common direction that costs nothing, 0: none.
    movable : (m,) bool, optional
        Movers that may be touched; None: all.
    """

    found: Floats
    moves: Floats
    answer: NDArray[np.int64]
    common: Floats
    movable: Flags | None = None


def chosen_parts(rows: Rows, movers: Movers, allowed: Floats, most: int | None, free: bool) -> Rows:
    """The same rows with the parts that are to be touched, and counted from the common direction.

    Parts whose components all keep what is ``allowed`` (by component, metres) are left alone. Otherwise the fewest
    parts are taken with which everything does, or comes as near as it can.
    """
    parts = list(dict.fromkeys(movers.parts))
    member = np.array([parts.index(part) for part in movers.parts])
    room = allowed[rows.answer]
    if not free and most is None:
        off = np.abs(rows.found) > room
        touched = (np.abs(rows.moves[off]) > 1e-9).any(axis=0)
        return replace(rows, movable=np.isin(member, member[touched]))
    best = _programme(rows, movers, member, np.zeros(len(rows.found)), most, free, None)
    least = np.maximum(room, 0.0)
    worst = best[0]
    excess = _programme(rows, movers, member, np.where(np.isfinite(least), least, 1.0), most, free, None)[0]
    limit = np.where(np.isfinite(least), least, 1.0) if excess <= TIE else np.zeros(len(rows.found))
    slack = 0.0 if excess <= TIE else worst * (1.0 + 1e-6)
    _, used, common = _programme(rows, movers, member, limit + slack + 1e-9, most, free, 1.0)
    return replace(rows, found=rows.found - rows.common * common, movable=used[member])


def _programme(
    rows: Rows, movers: Movers, member: NDArray[np.int64], room: Floats, most: int | None, free: bool,
    thrift: float | None,
) -> tuple[float, Flags, float]:  # fmt: skip
    """Least excess over ``room``, or (``thrift``) the fewest parts and least moves within it; parts, common direction.

    Variables: moves up and down in units of the largest travel, the common direction, the excess, one flag per part.
    """
    r, m = rows.moves.shape
    count = int(member.max()) + 1
    size = max(float(np.abs(rows.found).max()), 1e-9)
    turn = float(np.abs(rows.common).max()) or 1.0
    step = np.hstack([rows.moves, -rows.moves, (-rows.common / turn)[:, None]])
    one, none = np.ones((r, 1)), np.zeros((r, count))
    up = np.hstack([step, -one, none])
    down = np.hstack([-step, -one, none])
    gate = np.zeros((2 * m, 2 * m + 2 + count))
    gate[:, : 2 * m] = np.eye(2 * m)
    tops = np.concatenate([movers.highest, -movers.lowest]) / size
    gate[np.arange(2 * m), 2 * m + 2 + np.tile(member, 2)] = -tops
    total = np.zeros((1, gate.shape[1]))
    total[0, 2 * m + 2 :] = 1.0
    matrix = np.vstack([up, down, gate, total])
    ends = np.concatenate([(room - rows.found) / size, (room + rows.found) / size, np.zeros(2 * m),
                           [count if most is None else most]])  # fmt: skip
    cost = np.zeros(matrix.shape[1])
    high = np.concatenate([tops, [1e3 if free else 0.0, 0.0 if thrift else np.inf], np.ones(count)])
    low = np.concatenate([np.zeros(2 * m), [-1e3 if free else 0.0, 0.0], np.zeros(count)])
    if thrift is None:
        cost[2 * m + 1] = 1.0
    else:
        cost[: 2 * m], cost[2 * m + 2 :] = 1.0, WEIGHT
    whole = np.concatenate([np.zeros(2 * m + 2), np.ones(count)])
    answer = milp(
        cost, constraints=LinearConstraint(matrix, -np.inf, ends), bounds=Bounds(low, high), integrality=whole
    )
    if answer.x is None:
        raise GeometryError("No moves keep all limits; check the travel of the bearings.")
    return float(answer.x[2 * m + 1]) * size, answer.x[2 * m + 2 :] > 0.5, float(answer.x[2 * m]) * size / turn


def _blocks(rows: Rows) -> list[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Rows and movers that have to do with one another, block by block."""
    seen = np.abs(rows.moves) > 1e-12
    left, found = list(range(seen.shape[1])), []
    while left:
        mine = {left[0]}
        while True:
            touched = seen[:, sorted(mine)].any(axis=1)
            wider = mine | {int(j) for j in np.flatnonzero(seen[touched].any(axis=0))}
            if wider == mine:
                break
            mine = wider
        left = [j for j in left if j not in mine]
        if touched.any():
            found.append((np.flatnonzero(touched), np.array(sorted(mine), dtype=np.int64)))
    return found


def lifts_of_rows(
    rows: Rows, movers: Movers, goal: str
) -> tuple[Floats, tuple[tuple[float, ...], ...] | None, float, float]:
    """Moves ``(m,)``, shims, the largest number left and the least that any thickness could leave, metres."""
    movable = np.ones(len(movers), dtype=np.bool_) if rows.movable is None else rows.movable
    lowest, highest = (np.where(movable, end, 0.0) for end in (movers.lowest, movers.highest))
    lifts = np.zeros(len(movers))
    shims: list[tuple[float, ...]] = [()] * len(movers)
    rows = replace(rows, moves=np.where(highest > lowest, rows.moves, 0.0))
    for these, mine in _blocks(rows):
        t, moves = rows.found[these], rows.moves[np.ix_(these, mine)]
        best = _best(t, moves, lowest[mine], highest[mine], goal)
        lifts[mine] = best
    bound = float(np.abs(rows.found + rows.moves @ lifts).max())
    for these, mine in _blocks(rows):
        t, moves = rows.found[these], rows.moves[np.ix_(these, mine)]
        chosen, stacks = _stacked(t, moves, lifts[mine], mine, movers, lowest, highest, goal)
        lifts[mine] = chosen
        for j, stack in zip(mine, stacks, strict=True):
            shims[int(j)] = stack
    reached = float(np.abs(rows.found + rows.moves @ lifts).max())
    return lifts, tuple(shims) if any(movers.stock) else None, reached, bound


def _best(t: Floats, moves: Floats, lowest: Floats, highest: Floats, goal: str) -> Floats:
    """Moves of any size: least largest number (or least squares), then least total move."""
    m = moves.shape[1]
    free = highest > lowest
    if not free.any():
        return np.zeros(m)
    size = max(float(np.abs(t).max()), 1e-9)
    lifts = np.zeros(m)
    if goal == "least squares":
        system = np.vstack([moves[:, free], RIDGE * np.eye(int(free.sum()))])
        target = np.concatenate([-t / size, np.zeros(int(free.sum()))])
        lifts[free] = lsq_linear(system, target, (lowest[free] / size, highest[free] / size)).x * size
        return lifts
    one = np.ones((len(t), 1))
    rows = np.vstack([np.hstack([moves, -moves, -one]), np.hstack([-moves, moves, -one])])
    ends = np.concatenate([-t, t]) / size
    tops = np.concatenate([highest, -lowest]) / size
    limits: list[tuple[float, float | None]] = [(0.0, float(top)) for top in tops]
    first = linprog(np.append(np.zeros(2 * m), 1.0), rows, ends, bounds=[*limits, (0.0, None)], method="highs")
    assert first.x is not None  # no move at all keeps every limit
    most = float(first.x[-1]) * (1.0 + TIE) + TIE
    second = linprog(np.append(np.ones(2 * m), 0.0), rows, ends, bounds=[*limits, (0.0, most)], method="highs")
    found = first.x if second.x is None else second.x
    assert found is not None
    parts = found[: 2 * m] * size
    told: Floats = parts[:m] - parts[m:]
    told[np.abs(told) < 1e-9] = 0.0
    return told


def _stacked(
    t: Floats, moves: Floats, lifts: Floats, mine: NDArray[np.int64], movers: Movers, lowest: Floats, highest: Floats,
    goal: str,
) -> tuple[Floats, list[tuple[float, ...]]]:  # fmt: skip
    """The best moves that the shims at hand can make, near the best of any thickness, and the shims."""
    shims: list[tuple[float, ...]] = [()] * len(mine)
    stocked = [k for k, j in enumerate(mine) if movers.stock[j] and highest[j] > lowest[j]]
    if not stocked:
        return lifts, shims
    heaps = []
    for k in stocked:
        j = int(mine[k])
        heap = stacks_of(movers.stock[j], movers.most_pieces[j], float(highest[j]), add_only=bool(lowest[j] >= 0.0))
        near = np.argsort(np.abs(heap.heights - lifts[k]), kind="stable")[:NEAREST]
        heaps.append((heap, np.union1d(near, [heap.zero])))
    grid: NDArray[np.int64] = np.stack(np.meshgrid(*[near for _, near in heaps], indexing="ij"), axis=-1).reshape(
        -1, len(stocked)
    )
    tried = np.tile(lifts, (len(grid), 1))
    for column, (k, (heap, _)) in enumerate(zip(stocked, heaps, strict=True)):
        tried[:, k] = heap.heights[grid[:, column]]
    left = np.abs(t + tried @ moves.T)
    value = left.max(axis=1) if goal == "minimax" else np.sqrt(np.mean(left**2, axis=1))
    best = int(np.lexsort([np.abs(tried).sum(axis=1), np.round(value, 9)])[0])
    for column, (k, (heap, _)) in enumerate(zip(stocked, heaps, strict=True)):
        shims[k] = heap.shims[grid[best, column]]
    return tried[best], shims
