"""Smallest cylinder about a bore against the same cone programme by cutting planes, each solved by scipy's HiGHS.

scipy has no solver for cones. The cone of every point is stood in for by tangents, and those at the points farthest
from the present axis join until the radius is proved to 1e-7: an exact method that any user of scipy can write.

Run with ``pytest tests/bench/bench_cylinder.py -s``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog

sys.path.insert(0, str(Path(__file__).parent))
from form_timing import growth, seconds

from scenes.reductions.quantities.cylinder import smallest_cylinders

SIZES = (100, 1_000, 10_000)
PROVED = 1e-7
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


def test_smallest_cylinder() -> None:
    spent = []
    print("\npoints, ours, cone programme by tangents (HiGHS), ratio")
    for n in SIZES:
        s, off = bore(n)
        ours = seconds(lambda s=s, off=off: smallest_cylinders(s, off[None]), 5)
        other = seconds(lambda s=s, off=off: radius_by_programme(s, off), 1)
        radius = float(smallest_cylinders(s, off[None]).radius[0])
        assert radius == pytest.approx(radius_by_programme(s, off), rel=2.0 * PROVED)
        print(f"{n:9d}  {ours * 1e3:8.3f} ms  {other * 1e3:9.1f} ms  {other / ours:6.1f}x")
        spent.append(ours)
    print(f"cost grows with the number of points to the power {growth(SIZES, spent):.2f}")
