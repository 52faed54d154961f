"""Timing shared by the form benchmarks, and the alternatives that they run beside."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from scenes.reductions.zone_hull import narrowest_direction


def seconds(work: Callable[[], object], rounds: int) -> float:
    """Least processor time of a few rounds: other work on the machine does not count."""
    spent = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        spent.append(time.process_time() - begun)
    return min(spent)


def growth(sizes: tuple[int, ...], spent: list[float]) -> float:
    """Exponent of cost over size, from the least to the largest."""
    return float(np.log(spent[-1] / spent[0]) / np.log(sizes[-1] / sizes[0]))


def width_by_hull(points: np.ndarray) -> float:
    """Return the width by Qhull and antipodal pairs over all points."""
    found = narrowest_direction(points - points.mean(axis=0))
    assert found is not None
    return found[1]


def hull_alone(points: np.ndarray) -> object:
    """Return the hull of all points, without a search for pairs."""
    return ConvexHull(points)


def width_by_programme(points: np.ndarray) -> float:
    """Return the vertical width by linear programming over all points, divided by the root of 1 + slopes squared."""
    rows = points - points.mean(axis=0)
    plan = rows[:, :-1] / np.abs(rows[:, :-1]).max(axis=0)
    size = float(np.ptp(rows[:, -1]))
    heights = rows[:, -1] / size
    n, d = plan.shape
    one, none = np.ones((n, 1)), np.zeros((n, 1))
    solved = linprog(
        np.append(np.zeros(d), [1.0, -1.0]),
        A_ub=np.vstack((np.hstack((-plan, -one, none)), np.hstack((plan, none, one)))),
        b_ub=np.concatenate((-heights, heights)),
        bounds=[(None, None)] * (d + 2),
        method="highs",
    )
    slopes = solved.x[:d] * size / np.abs(rows[:, :-1]).max(axis=0)
    return float(solved.fun) * size / float(np.sqrt(1.0 + slopes @ slopes))


HIGHS = 2e-7
"""Share of the value that HiGHS leaves open: its feasibility tolerance is 1e-7 on either side."""
