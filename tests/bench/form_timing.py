"""Timing shared by the form benchmarks, and the alternatives that they run beside."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable
from typing import TypeVar

import numpy as np
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from scenes.reductions.zone_hull import narrowest_direction

T = TypeVar("T")


def timed(work: Callable[[], T], rounds: int) -> tuple[float, T]:
    """Least processor time of a few rounds, and what the last one returned."""
    spent = []
    for _ in range(rounds):
        begun = time.process_time()
        result = work()
        spent.append(time.process_time() - begun)
    return min(spent), result


def seconds(work: Callable[[], object], rounds: int) -> float:
    """Least processor time of a few rounds."""
    return timed(work, rounds)[0]


def peak_megabytes(work: Callable[[], object]) -> float:
    """Most memory that one round asks for beyond what there is already, as numpy reports it."""
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


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


def extents_one_by_one(stations: np.ndarray, heights: np.ndarray) -> np.ndarray:
    """Return the orthogonal extents over planes or lines of least vertical squares, by one ``lstsq`` per trial."""
    base = np.column_stack((np.ones(len(stations)), stations))
    values = []
    for column in heights.T:
        found = np.linalg.lstsq(base, column, rcond=None)[0]
        values.append(np.ptp(column - base @ found) / np.sqrt(1.0 + found[1:] @ found[1:]))
    return np.array(values)


def extents_at_once(stations: np.ndarray, heights: np.ndarray) -> np.ndarray:
    """Return the same by one ``lstsq`` with all trials as right sides."""
    base = np.column_stack((np.ones(len(stations)), stations))
    found = np.linalg.lstsq(base, heights, rcond=None)[0]
    return np.ptp(heights - base @ found, axis=0) / np.sqrt(1.0 + np.sum(found[1:] ** 2, axis=0))


HIGHS = 2e-7
"""Share of the value that HiGHS leaves open: its feasibility tolerance is 1e-7 on either side."""
