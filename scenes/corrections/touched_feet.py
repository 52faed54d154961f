"""Least flatness for each choice of the feet that may be touched, many choices side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import qr

from ..vectors import Floats
from .lift_problem import LiftProblem

__all__ = ["ChoiceBounds", "bounds_of_choices", "choices_of", "few_feet"]

NUDGE = 1e-8  # relative shift of the rows: no ties on regular grids, so the exchange cannot cycle
BROKEN = 1e-9  # a limit counts as broken beyond this share of the largest deviation
LEAST_PIVOT = 1e-9
MOST_EXCHANGES = 200
RIDGE = 1e-12  # weight of the lifts beside the squares of the deviations
THRIFT = 1e-6  # cost of a lift beside the half-width, so that of equally flat lifts small ones are found


@dataclass(frozen=True, slots=True, eq=False)
class ChoiceBounds:
    """What ``b`` choices of feet can reach with any thickness, and what that proves about all lifts.

    Flatness stands for the value of the goal, which may be the root mean square as well.

    Attributes
    ----------
    least : (b,) float
        No lifts of the chosen feet are flatter than this, metres; infinite where they were left early.
    lifts : (b, m) float
        Lifts that reach it within some nanometres, metres.
    floors, slopes : (k,) and (k, m) float
        Whatever the lifts, their flatness is at least ``floors + slopes @ lifts`` in each row; only the rows that say
        most about some of ``lifts`` are kept.
    """

    least: Floats
    lifts: Floats
    floors: Floats
    slopes: Floats

    def floors_of(self, lifts: Floats) -> Floats:
        """What the value of each row of ``lifts`` ``(k, m)`` cannot be below, metres, ``(k,)``."""
        return np.asarray((self.slopes @ lifts.T + self.floors[:, None]).max(axis=0, initial=0.0))


def bounds_of_choices(problem: LiftProblem, chosen: NDArray[np.bool_], enough: float) -> ChoiceBounds:
    """Least flatness within all limits when only the feet in each row of ``chosen`` ``(b, m)`` may be touched.

    The choices are linear programmes that differ in the limits of the lifts alone, so one start suits them all: the
    limit that is broken most enters the set of those that hold the answer, until none is broken. What a choice has
    come to on the way is a bound already; it is left as soon as that is above ``enough`` [m].

    Source: C. E. Lemke (1954), the dual simplex method, with the inverse updated by rank one.
    """
    if problem.goal == "least squares":
        return _bounds_of_squares(problem, chosen)
    m, scale = problem.matrix.shape[1], problem.scale
    rows, limits = _rows_and_limits(problem, chosen)
    cost = _cost(problem)
    spent = THRIFT * np.where(chosen, problem.highest, 0.0).sum(axis=1) / scale + BROKEN
    held, inverse = _start(problem, rows, limits[0], cost)
    held, inverse, left = _exchange(rows, limits, cost, held, inverse, enough / 2.0 / scale + spent)
    right = np.take_along_axis(limits, held, axis=1)
    answer = np.matmul(inverse, right[:, :, None])[:, :, 0]
    lifts = np.clip(answer[:, :m] * scale, problem.lowest, problem.highest)
    weights = np.where(held < 2 * len(problem.deviations), cost @ inverse, 0.0)
    floors, slopes = (
        2.0 * scale * np.sum(weights * right, axis=1),
        -2.0 * np.einsum("bk,bkf->bf", weights, rows[held][:, :, :m]),
    )
    sharp = np.unique((floors[:, None] + slopes @ lifts.T).argmax(axis=0))
    least = np.where(left, np.inf, 2.0 * scale * (answer @ cost - spent))
    return ChoiceBounds(least, np.where(chosen, lifts, 0.0), floors[sharp], slopes[sharp])


def _bounds_of_squares(problem: LiftProblem, chosen: NDArray[np.bool_]) -> ChoiceBounds:
    """The same for the root mean square: solved without limits, which can only be too good; it proves nothing more."""
    m = problem.matrix.shape[1]
    q, _ = np.linalg.qr(problem.basis)
    moves = problem.matrix - q @ (q.T @ problem.matrix)
    rest = problem.deviations - q @ (q.T @ problem.deviations)
    normal = moves.T @ moves
    both = chosen[:, :, None] & chosen[:, None, :]
    ridge = RIDGE * max(float(np.trace(normal)), 1e-12) * np.eye(m)  # small lifts where planes leave them open
    system = np.where(both, normal, 0.0) + ridge + ~chosen[:, :, None] * np.eye(m)
    lifts = np.linalg.solve(system, np.where(chosen, -(moves.T @ rest), 0.0)[:, :, None])[:, :, 0]
    least = np.sqrt(np.mean((rest + lifts @ moves.T) ** 2, axis=1))
    inside = np.where(chosen, np.clip(lifts, problem.lowest, problem.highest), 0.0)
    return ChoiceBounds(least - BROKEN * problem.scale, inside, np.zeros(1), np.zeros((1, m)))


def choices_of(problem: LiftProblem, most: int) -> NDArray[np.bool_]:
    """All choices of at most ``most`` of the feet that can move, ``(b, m)``, fewest feet first."""
    m = len(problem.highest)
    chosen = (np.arange(2**m)[:, None] >> np.arange(m) & 1).astype(np.bool_)
    still = (problem.lowest >= 0.0) & (problem.highest <= 0.0)
    size = chosen.sum(axis=1)
    kept = np.flatnonzero((size <= most) & ~(chosen & still).any(axis=1))
    return chosen[kept[np.argsort(size[kept], kind="stable")]]


def few_feet(problem: LiftProblem, allowed: float, most: int) -> NDArray[np.bool_]:
    """Choices of the fewest feet, at most ``most``, that come within ``allowed`` [m] of flatness; least lift first."""
    chosen = choices_of(problem, most)
    bounds = bounds_of_choices(problem, chosen, allowed)
    alive = np.flatnonzero(bounds.least <= allowed)
    size = chosen[alive].sum(axis=1)
    total = np.abs(bounds.lifts[alive]).sum(axis=1)
    order = np.lexsort([total, size])
    fewest = alive[order[size[order] == size.min(initial=most)]]
    return np.asarray(chosen[fewest], dtype=np.bool_)


def _cost(problem: LiftProblem) -> Floats:
    """Cost of each unknown: lifts that can only go up, in ``scale``; free functions; half-width, in ``scale``."""
    thrift = np.where(problem.lowest < 0.0, 0.0, THRIFT)
    return np.concatenate([thrift, np.zeros(problem.basis.shape[1]), [1.0]])


def _rows_and_limits(problem: LiftProblem, chosen: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Rows ``(r, m + p + 1)`` and limits ``(b, r)``: ``rows @ unknowns >= limits``.

    First the stations below the top of the zone and above its foot, then the lowest and highest lifts, then the loads.
    """
    n, m = problem.matrix.shape
    scale = problem.scale
    q, _ = np.linalg.qr(problem.basis)
    stations = np.hstack([-problem.matrix, q * np.sqrt(n), np.zeros((n, 1))])
    stations[:, :-1] += NUDGE * np.random.default_rng(0).uniform(-1.0, 1.0, (n, stations.shape[1] - 1))
    thick = np.zeros(stations.shape[1])
    thick[-1] = 1.0
    feet = np.eye(m, stations.shape[1])
    load, least = problem.load_rows()
    size = np.maximum(np.abs(load).max(axis=1, initial=0.0) * scale, 1e-12)
    loads = np.zeros((len(load), stations.shape[1]))
    loads[:, :m] = load * scale / size[:, None]
    found = (problem.deviations - q @ (q.T @ problem.deviations)) / scale
    each = len(chosen)
    lowest, highest = (np.where(chosen, end, 0.0) / scale for end in (problem.lowest, problem.highest))
    limits = [np.tile(found, (each, 1)), np.tile(-found, (each, 1)), lowest, -highest, np.tile(least / size, (each, 1))]
    return np.vstack([thick + stations, thick - stations, feet, -feet, loads]), np.hstack(limits)


def _start(problem: LiftProblem, rows: Floats, limits: Floats, cost: Floats) -> tuple[NDArray[np.intp], Floats]:
    """First rows that hold the answer, and their inverse: contacts far apart, and each lift at the end that helps."""
    n, m = problem.matrix.shape
    free = rows[:n, m:-1]
    first = qr(free.T, pivoting=True, mode="economic")[2][: free.shape[1] + 1]
    weights = np.linalg.svd(free[first].T)[2][-1]
    weights = weights if limits[first] @ weights >= 0.0 else -weights
    contacts = np.where(weights > 0.0, first, first + n)
    gain = cost[:m] - np.abs(weights) / np.abs(weights).sum() @ rows[contacts, :m]
    held = np.concatenate([2 * n + np.arange(m) + np.where(gain < 0.0, m, 0), contacts])
    return held, np.linalg.inv(rows[held])


def _exchange(
    rows: Floats, limits: Floats, cost: Floats, held: NDArray[np.intp], inverse: Floats, enough: Floats
) -> tuple[NDArray[np.intp], Floats, NDArray[np.bool_]]:
    """Rows that hold the answers ``(b, k)``, the inverses of their systems, and which programmes were left.

    Left are those whose cost is above ``enough`` ``(b,)`` and those whose limits exclude one another.
    """
    members, inverses = np.tile(held, (len(limits), 1)), np.tile(inverse, (len(limits), 1, 1))
    final_members, final_inverses = members.copy(), inverses.copy()
    left = np.zeros(len(limits), dtype=np.bool_)
    still = np.arange(len(limits))
    for _ in range(MOST_EXCHANGES):
        k = np.arange(len(still))
        answer = np.matmul(inverses, limits[k[:, None], members][:, :, None])[:, :, 0]
        short = limits - answer @ rows.T
        enter = short.argmax(axis=1)
        share = np.matmul(rows[enter][:, None, :], inverses)[:, 0]
        fits = share > LEAST_PIVOT
        ratio = np.where(fits, cost @ inverses, np.inf) / np.where(fits, share, 1.0)
        leave = ratio.argmin(axis=1)
        broken = short[k, enter] > BROKEN
        dear = (answer @ cost > enough) | (broken & ~fits.any(axis=1))
        going = broken & ~dear
        left[still] = dear
        final_members[still], final_inverses[still] = members, inverses
        if not going.any():
            break
        still, members, inverses, limits, enough, share, enter, leave = (
            part[going] for part in (still, members, inverses, limits, enough, share, enter, leave)
        )
        k = np.arange(len(still))
        change = share.copy()
        change[k, leave] -= 1.0
        inverses -= (inverses[k, :, leave] / share[k, leave][:, None])[:, :, None] * change[:, None, :]
        members[k, leave] = enter
    return final_members, final_inverses, left
