"""Smallest cylinder about a bore against a cone programme, one cone for each point, and against cutting planes.

The cone programme is solved by clarabel, a general interior point solver (``pip install -e '.[bench]'``; left out where
it is not there). Cutting planes need scipy's HiGHS alone: tangents stand in for the cone of every point, and those at
the points farthest from the present axis join until the radius is proved to 1e-7.

Run with ``pytest tests/bench/bench_cylinder.py -s``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy import sparse
from scipy.optimize import linprog

try:
    import clarabel
except ImportError:
    clarabel = None

sys.path.insert(0, str(Path(__file__).parent))
from form_timing import growth, seconds

from scenes.reductions.quantities.cylinder import smallest_cylinders

SIZES = (100, 1_000, 10_000)
PROVED = 1e-7
BY_CONES = 1e-6
"""Share of the radius that a general solver leaves open."""
FEW = 50


def bore(n: int) -> tuple[np.ndarray, np.ndarray]:
    """Positions along a bore, from -1 to 1, and its centres beside a line: bowed and rough, in units of the bow."""
    s = np.linspace(-1.0, 1.0, n)
    rough = np.random.default_rng(n).normal(0.0, 0.2, (n, 2))
    return s, np.column_stack((np.cos(np.pi * s / 2.0), 0.5 * np.sin(np.pi * s))) + rough


def radius_by_programme(s: np.ndarray, off: np.ndarray) -> float:
    """Radius of the smallest cylinder by linear programmes over tangents of the cones."""
    turn = np.arange(8) * np.pi / 4.0
    few = np.linspace(0, len(s) - 1, FEW).astype(int)
    tangents = np.repeat(np.column_stack((np.cos(turn), np.sin(turn))), FEW, axis=0)
    at = np.tile(few, len(turn))
    while True:
        rows = np.column_stack((tangents, tangents * s[at, None], np.ones(len(at))))
        reach = np.sum(tangents * off[at], axis=1)
        solved = linprog([0, 0, 0, 0, 1], A_ub=-rows, b_ub=-reach, bounds=[(None, None)] * 5, method="highs")
        out = off - solved.x[:2] - solved.x[2:4] * s[:, None]
        length = np.linalg.norm(out, axis=1)
        if length.max() <= solved.x[4] * (1.0 + PROVED):
            return float(length.max())
        beyond = np.argsort(length)[-FEW:]
        tangents = np.vstack((tangents, out[beyond] / length[beyond, None]))
        at = np.append(at, beyond)


def radius_by_cones(s: np.ndarray, off: np.ndarray) -> float:
    """Radius of the smallest cylinder by one cone ``|off - a - b s| <= r`` for each point."""
    n = len(s)
    one, row = np.ones(n), 3 * np.arange(n)
    columns = [(4, row, -one), (0, row + 1, one), (2, row + 1, s), (1, row + 2, one), (3, row + 2, s)]
    values, rows, at = (np.concatenate(part) for part in zip(
        *((value, index, np.full(n, column)) for column, index, value in columns), strict=True
    ))  # fmt: skip
    matrix = sparse.csc_matrix((values, (rows, at)), shape=(3 * n, 5))
    right = np.column_stack([np.zeros(n), off]).ravel()
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    cones = [clarabel.SecondOrderConeT(3)] * n
    found = clarabel.DefaultSolver(
        sparse.csc_matrix((5, 5)), np.array([0.0, 0.0, 0.0, 0.0, 1.0]), matrix, right, cones, settings
    ).solve()
    return float(found.x[4])


def test_smallest_cylinder() -> None:
    spent = []
    print("\npoints, ours, cutting planes (HiGHS), ratio, cone programme (clarabel), ratio")
    for n in SIZES:
        s, off = bore(n)
        ours = seconds(lambda s=s, off=off: smallest_cylinders(s, off[None]), 5)
        other = seconds(lambda s=s, off=off: radius_by_programme(s, off), 1)
        radius = float(smallest_cylinders(s, off[None]).radius[0])
        assert radius == pytest.approx(radius_by_programme(s, off), rel=2.0 * PROVED)
        line = f"{n:9d}  {ours * 1e3:8.3f} ms  {other * 1e3:9.1f} ms  {other / ours:6.1f}x"
        if clarabel is not None:
            cones = seconds(lambda s=s, off=off: radius_by_cones(s, off), 2)
            assert radius == pytest.approx(radius_by_cones(s, off), rel=BY_CONES)
            line += f"  {cones * 1e3:9.1f} ms  {cones / ours:6.1f}x"
        print(line)
        spent.append(ours)
    print(f"cost grows with the number of points to the power {growth(SIZES, spent):.2f}")
