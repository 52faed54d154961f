"""Least flatness for each choice of the feet that may be touched, many choices side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import qr

from ..vectors import Floats
from .lift_problem import LiftProblem

__all__ = ["ChoiceBounds", "FlattestLifts", "bounds_of_choices", "choices_of", "few_feet", "flattest_lifts"]

NUDGE = 1e-8  # relative shift of the rows: no ties on regular grids, so the exchange cannot cycle
BROKEN = 1e-9  # a limit counts as broken beyond this share of the largest deviation
LEAST_PIVOT = 1e-9
MOST_EXCHANGES = 200
RIDGE = 1e-12  # weight of the lifts beside the squares of the deviations
THRIFT = 1e-8  # cost of a lift beside the half-width, so that of equally flat lifts small ones are found
ROUNDING = 1e-12
MISSED = 1e-9  # metres between the bound and what is reached, at most
CROWDED = 0.75  # share of open programmes above which closed ones are carried along instead of being taken out


@dataclass(frozen=True, slots=True, eq=False)
class ChoiceBounds:
    """What ``b`` choices of feet can reach with any thickness.

    Flatness stands for the value of the goal, which may be the root mean square as well.

    Attributes
    ----------
    least : (b,) float
        No lifts of the chosen feet are flatter than this, metres; infinite where they were left early.
    lifts : (b, m) float
        Lifts that reach it within some nanometres, metres.
    """

    least: Floats
    lifts: Floats


def bounds_of_choices(
    problem: LiftProblem, chosen: NDArray[np.bool_], enough: float, held: NDArray[np.intp] | None = None
) -> ChoiceBounds:
    """Least flatness within all limits when only the feet in each row of ``chosen`` ``(b, m)`` may be touched.

    The choices are linear programmes that differ in the limits of the lifts alone, so one start suits them all: the
    limits ``held`` that hold the answer when every foot may be touched, where they are known. The limit that is broken
    most enters the set of those that hold the answer, until none is broken. What a choice has come to on the way is a
    bound already; it is left as soon as that is above ``enough`` [m].

    Source: C. E. Lemke (1954), the dual simplex method, with the inverse updated by rank one.
    """
    if problem.goal == "least squares":
        return _bounds_of_squares(problem, chosen)
    m, scale = problem.matrix.shape[1], problem.scale
    rows, limits = _rows_and_limits(problem, chosen)
    cost = _cost(problem)
    if held is None:
        held, inverse = _start(problem, rows, limits[0], cost)
    else:
        inverse = np.asarray(np.linalg.inv(rows[held]), dtype=np.float64)
    spent = THRIFT * np.where(chosen, problem.highest, 0.0).sum(axis=1) / scale + BROKEN
    members, inverses, left = _exchange(rows, limits, cost, held, inverse, enough / 2.0 / scale + spent)
    right = np.take_along_axis(limits, members, axis=1)
    answer = np.matmul(inverses, right[:, :, None])[:, :, 0]
    lifts = np.clip(answer[:, :m] * scale, problem.lowest, problem.highest)
    least = np.where(left, np.inf, 2.0 * scale * (answer @ cost - spent))
    return ChoiceBounds(least, np.where(chosen, lifts, 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class FlattestLifts:
    """Lifts of any thickness that only go up, with the proof that none are flatter.

    Attributes
    ----------
    lifts : (m,) float
        Of small total size among those of least flatness, metres.
    bound : float
        No lifts are flatter than this, metres; the lifts reach it within a nanometre.
    held : (m + p + 1,) int
        Limits that hold the answer, as `bounds_of_choices` takes them.
    """

    lifts: Floats
    bound: float
    held: NDArray[np.intp]


def flattest_lifts(problem: LiftProblem) -> FlattestLifts | None:
    """Lifts of least flatness when every foot may be touched; None where it is not proven or lifts may go down.

    The flatness is proven by the contacts alone, free of nudges.
    """
    if problem.goal != "minimax" or (problem.lowest < 0.0).any():
        return None
    m, scale = problem.matrix.shape[1], problem.scale
    every, cost = np.ones((1, m), dtype=np.bool_), _cost(problem)
    rows, limits = _rows_and_limits(problem, every)
    held = _exchange(rows, limits, cost, *_start(problem, rows, limits[0], cost), np.array([np.inf]))[0][0]
    rows, limits = _rows_and_limits(problem, every, nudge=0.0)
    right = limits[0, held]
    if np.linalg.cond(rows[held]) > 1.0 / ROUNDING:
        return None
    answer = np.linalg.solve(rows[held], right)
    lifts = np.clip(answer[:m] * scale, problem.lowest, problem.highest)
    lifts[lifts < BROKEN * scale] = 0.0
    bound = _proven(rows[held], right, cost, problem.highest.sum() / scale) * 2.0 * scale
    n = len(problem.deviations)
    reached = np.ptp(limits[0, :n] + problem.matrix @ lifts / scale - rows[:n, m:-1] @ answer[m:-1]) * scale
    good = reached <= bound + MISSED and not (problem.missing_loads(lifts[None]) > 0.0).any()
    return FlattestLifts(lifts, max(bound, 0.0), held) if good else None


def _proven(rows: Floats, limits: Floats, cost: Floats, total: float) -> float:
    """Half-width that no lifts of at most ``total`` can be below, by the weights of the rows held.

    Minus infinity where the weights prove nothing. What the thrift costs at most is taken off, unless the same rows
    hold the answer without it.
    """
    thrifty, plain = np.linalg.solve(rows.T, np.column_stack([cost, np.append(np.zeros(len(cost) - 1), 1.0)])).T
    if plain.min() >= -ROUNDING:
        return float(plain @ limits)
    return float(thrifty @ limits) - THRIFT * total if thrifty.min() >= -ROUNDING else -np.inf


def _bounds_of_squares(problem: LiftProblem, chosen: NDArray[np.bool_]) -> ChoiceBounds:
    """The same for the root mean square: solved without limits, which can only be too good."""
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
    return ChoiceBounds(least - BROKEN * problem.scale, inside)


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


def _rows_and_limits(problem: LiftProblem, chosen: NDArray[np.bool_], nudge: float = NUDGE) -> tuple[Floats, Floats]:
    """Rows ``(r, m + p + 1)`` and limits ``(b, r)``: ``rows @ unknowns >= limits``.

    First the stations below the top of the zone and above its foot, then the lowest and highest lifts, then the loads.
    """
    n, m = problem.matrix.shape
    scale = problem.scale
    q, _ = np.linalg.qr(problem.basis)
    stations = np.hstack([-problem.matrix, q * np.sqrt(n), np.zeros((n, 1))])
    stations[:, :-1] += nudge * np.random.default_rng(0).uniform(-1.0, 1.0, (n, stations.shape[1] - 1))
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
        if going.sum() <= CROWDED * len(going):
            done = ~going
            ended = still[done]
            final_members[ended], final_inverses[ended], left[ended] = members[done], inverses[done], dear[done]
            if not going.any():
                break
            still, members, inverses, limits, enough, share, enter, leave = (
                part[going] for part in (still, members, inverses, limits, enough, share, enter, leave)
            )
            k, going = k[: len(still)], going[going]
        change = share.copy()
        change[k, leave] -= 1.0
        change[~going] = 0.0
        inverses -= (inverses[k, :, leave] / np.where(going, share[k, leave], 1.0)[:, None])[:, :, None] * (
            change[:, None, :]
        )
        members[k[going], leave[going]] = enter[going]
    else:
        final_members[still], final_inverses[still] = members, inverses
    return final_members, final_inverses, left
