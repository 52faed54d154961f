"""Best lifts of the feet when any thickness may be used: least largest deviation, or least squares."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog, nnls

from ..errors import GeometryError
from ..vectors import Floats
from .lift_problem import LiftProblem
from .touched_feet import few_feet

__all__ = ["least_squares_lifts", "minimax_lifts"]

TIE = 1e-6  # share of the best value given away to find the smallest lifts among equally good ones
PROGRAMMES = 8  # choices of equally few feet whose least total lift is compared
RIDGE = 1e-5  # weight of the lifts beside the deviations: settles what planes leave open, costs 1e-10 of the value


def minimax_lifts(problem: LiftProblem, slack: float = 0.0) -> tuple[Floats, float]:
    """Lifts ``(m,)`` of least total size among those of least flatness, and that flatness, metres.

    Two linear programmes, one after the other. With ``slack`` [m] the flatness may be that much worse, and the lifts
    are those that touch the fewest feet, then of least total size.

    Source: the linear programme for the best fit in the sense of the largest residual, as in any text on linear
    programming; solved by HiGHS.
    """
    everywhere = np.ones(problem.matrix.shape[1], dtype=np.bool_)
    fit = _programme(problem, None, everywhere)
    if fit is None:
        raise GeometryError("No lifts keep the limits; check the travel and the least load on the feet.")
    best = max(fit[1], 0.0)
    allowed = best * (1.0 + TIE) + 1e-9 * problem.scale + slack
    thrifty = _programme(problem, allowed, everywhere)
    if thrifty is None:
        return fit[0], best
    if slack <= 0.0:
        return thrifty[0], best
    choices = few_feet(problem, allowed, int((thrifty[0] != 0.0).sum()))
    fewest = [_programme(problem, allowed, chosen) for chosen in choices[:PROGRAMMES]]
    answers = [each[0] for each in fewest if each is not None] or [thrifty[0]]
    return min(answers, key=lambda lifts: float(np.abs(lifts).sum())), best


def _programme(problem: LiftProblem, allowed: float | None, chosen: NDArray[np.bool_]) -> tuple[Floats, float] | None:
    """Least flatness, or (with ``allowed`` flatness) least total lift of the feet chosen; None: nothing is feasible.

    Variables: parts of the lifts above and below zero, coefficients of the free functions, half-width; in ``scale``.
    """
    scale = problem.scale
    n, m = problem.matrix.shape
    p = problem.basis.shape[1]
    centred = (problem.deviations - problem.deviations.mean()) / scale
    ones = np.ones((n, 1))
    down = bool((problem.lowest < 0.0).any())
    moves = np.hstack([problem.matrix, -problem.matrix]) if down else problem.matrix
    load, limit = problem.load_rows()
    load = np.hstack([load, -load]) if down else load
    rows = np.vstack(
        [
            np.hstack([moves, -problem.basis, -ones]),
            np.hstack([-moves, problem.basis, -ones]),
            np.hstack([-load * scale, np.zeros((len(load), p + 1))]),
        ]
    )
    right = np.concatenate([-centred, centred, -limit])
    tops = np.concatenate([problem.highest * chosen, -problem.lowest * chosen if down else []]) / scale
    bounds: list[tuple[float | None, float | None]] = [(0.0, float(top)) for top in tops] + [(None, None)] * p
    bounds.append((0.0, None) if allowed is None else (0.0, allowed / 2.0 / scale))
    cost = np.concatenate([np.full(len(tops), 0.0 if allowed is None else 1.0), np.zeros(p), [allowed is None]])
    answer = linprog(cost, A_ub=rows, b_ub=right, bounds=bounds, method="highs")
    if answer.x is None:
        return None
    parts = answer.x[: len(tops)] * scale
    lifts = np.clip(parts[:m] - (parts[m:] if down else 0.0), problem.lowest, problem.highest)
    lifts[np.abs(lifts) < 1e-9 * scale] = 0.0
    return lifts, 2.0 * float(answer.x[-1]) * scale


def least_squares_lifts(problem: LiftProblem) -> tuple[Floats, float]:
    """Lifts ``(m,)`` of least root mean square deviation within the limits, and that value, metres.

    Source: C. L. Lawson and R. J. Hanson, Solving Least Squares Problems (1974), chapter 23: least squares with
    inequalities as a least distance problem, solved by non-negative least squares.
    """
    scale = problem.scale
    m = problem.matrix.shape[1]
    q, _ = np.linalg.qr(problem.basis)
    moves = problem.matrix - q @ (q.T @ problem.matrix)
    found = (problem.deviations - q @ (q.T @ problem.deviations)) / scale
    ridge = RIDGE * max(float(np.linalg.norm(problem.matrix, 2)), 1e-12)
    ortho, upper = np.linalg.qr(np.vstack([moves, ridge * np.eye(m)]))
    target = ortho.T @ np.concatenate([-found, np.zeros(m)])
    load, limit = problem.load_rows()
    rows = np.vstack([np.eye(m), -np.eye(m), load * scale])
    right = np.concatenate([problem.lowest / scale, -problem.highest / scale, limit])
    distance = np.linalg.solve(upper.T, rows.T).T
    size = np.maximum(np.linalg.norm(distance, axis=1), 1e-300)
    distance, gap = distance / size[:, None], (right - rows @ np.linalg.solve(upper, target)) / size
    weights, _ = nnls(np.vstack([distance.T, gap]), np.append(np.zeros(m), 1.0))
    rest = np.append(distance.T @ weights, gap @ weights - 1.0)
    if abs(rest[-1]) < 1e-12:
        raise GeometryError("No lifts keep the limits; check the travel and the least load on the feet.")
    lifts = np.linalg.solve(upper, target - rest[:m] / rest[-1]) * scale
    lifts = _lowered(problem, np.clip(lifts, problem.lowest, problem.highest))
    return lifts, float(problem.values(lifts[None])[0])


def _lowered(problem: LiftProblem, lifts: Floats) -> Floats:
    """The same lifts plus the free motion of the whole bed that makes their total size least."""
    m, p = problem.free_lifts.shape
    scale = problem.scale
    free = np.hstack([problem.free_lifts, np.zeros((m, m))])
    size = np.hstack([problem.free_lifts, -np.eye(m)])
    opposite = np.hstack([-problem.free_lifts, -np.eye(m)])
    rows = np.vstack([free, -free, size, opposite])
    right = np.concatenate([problem.highest - lifts, lifts - problem.lowest, -lifts, lifts]) / scale
    cost = np.concatenate([np.zeros(p), np.ones(m)])
    bounds = [(None, None)] * p + [(0.0, None)] * m
    answer = linprog(cost, A_ub=rows, b_ub=np.where(np.abs(right) < 1e-12, 0.0, right), bounds=bounds, method="highs")
    if answer.x is None:
        return lifts
    lower = np.clip(lifts + problem.free_lifts @ answer.x[:p] * scale, problem.lowest, problem.highest)
    lower[np.abs(lower) < 1e-9 * scale] = 0.0
    return np.asarray(lower)
