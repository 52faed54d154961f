"""Check of the distances between stations: which waves of a surface they can show."""

from __future__ import annotations

import math

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree
from scipy.spatial import Delaunay, QhullError, cKDTree

from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.survey import Task
from ..units import PLACE, show
from ..vectors import Floats
from .allowances import stations_of_features

__all__ = ["check_waviness", "largest_gap"]

THIN = 1e-3
"""Stations stand on a line where their spread across it is below this share of the spread along it."""

NEIGHBOURS = 12
"""Nearest stations to which steps are looked at first."""


def largest_gap(places: Floats) -> float:
    """Distance [m] between neighbours where stations ``(n, 3)`` stand widest apart.

    That is the longest step on the shortest tree through all of them and, in a plane, sqrt(2) times the radius of the
    largest empty circle among them: the distance of neighbours in a square grid with such a circle.
    """
    if len(places) < 2:
        return math.inf
    gap = _longest_step(places)
    off = places - places.mean(axis=0)
    _, spread, axes = np.linalg.svd(off, full_matrices=False)
    if len(places) < 4 or spread[1] < THIN * spread[0]:
        return gap
    return max(gap, math.sqrt(2.0) * _empty_circle(off @ axes[:2].T))


def _longest_step(places: Floats) -> float:
    """Longest step on the shortest tree through all ``places`` (n, 3), metres."""
    n, count = len(places), min(NEIGHBOURS, len(places) - 1)
    tree = cKDTree(places)
    while True:
        distance, other = (np.asarray(part) for part in tree.query(places, count + 1))
        one = np.repeat(np.arange(n), count)
        steps = csr_array((distance[:, 1:].ravel(), (one, other[:, 1:].ravel())), shape=(n, n))
        if count == n - 1 or connected_components(steps, directed=False)[0] == 1:
            return float(minimum_spanning_tree(steps).max())
        count = min(4 * count, n - 1)


def _empty_circle(points: Floats) -> float:
    """Radius of the largest circle without a point in it whose centre lies among the points ``(n, 2)``."""
    try:
        net = Delaunay(points)
    except QhullError:  # all on one line
        return 0.0
    a, b, c = (points[net.simplices[:, corner]] for corner in range(3))
    one, two = b - a, c - a
    area = 2.0 * (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])
    kept = np.abs(area) > 1e-12 * np.maximum(np.sum(one**2, axis=1), np.sum(two**2, axis=1))
    one, two, a, area = one[kept], two[kept], a[kept], area[kept]
    first, second = np.sum(one**2, axis=1), np.sum(two**2, axis=1)
    centre = np.stack([two[:, 1] * first - one[:, 1] * second, one[:, 0] * second - two[:, 0] * first], axis=1)
    centre = centre / area[:, None]
    among = net.find_simplex(a + centre, tol=1e-9) >= 0
    return float(np.hypot(*centre[among].T).max(initial=0.0))


def check_waviness(layout: Layout) -> list[Finding]:
    """Tasks whose stations stand too far apart to show the waves that are asked about."""
    found = []
    for task in layout.tasks.values():
        if task.waviness <= 0.0:
            continue
        names = stations_of_features(layout, task)
        places: dict[tuple[str, str], list[str]] = {}
        for name in names:
            station = layout.stations[name]
            places.setdefault((station.surface, station.position), []).append(name)
        gap, where = max((_gap(layout, each), each) for each in places.values())
        if gap > 0.5 * task.waviness * (1.0 + 1e-9):
            found.append(_finding(layout, task, gap, where))
    return found


def _gap(layout: Layout, names: list[str]) -> float:
    return largest_gap(np.unique(np.array([layout.stations[name].at for name in names]), axis=0))


def _finding(layout: Layout, task: Task, gap: float, names: list[str]) -> Finding:
    unit, half = layout.units.length, 0.5 * task.waviness
    apart = f"stations stand up to {show(gap, unit, to=PLACE)} apart" if math.isfinite(gap) else "there is one station"
    shows = f", which shows waves from {show(2.0 * gap, unit, to=PLACE)} on" if math.isfinite(gap) else ""
    return Finding(
        Severity.WARNING, "waviness-unresolved", "task", task.name,
        f"{apart}{shows}; waves of {show(task.waviness, unit, to=PLACE)} are to be found, and a wave needs two "
        "stations at least", _advice(layout, names, half), line=task.line,
    )  # fmt: skip


def _advice(layout: Layout, names: list[str], half: float) -> str:
    unit = layout.units.length
    every = f"{show(half, unit, to=PLACE)} or nearer"
    group = layout.groups.get(layout.stations[names[0]].group)
    if group is None or group.rows < 2 or group.columns < 2:
        return f"place a station every {every}"
    at = np.array([layout.stations[name].at for name in group.stations])
    columns, rows = (math.ceil(float(np.ptp(at[:, axis])) / half - 1e-9) + 1 for axis in (0, 1))
    return f"place a station every {every}: grid: {max(columns, 2)} x {max(rows, 2)}"
