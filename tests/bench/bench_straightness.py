"""Minimum-zone straightness against Qhull and against linear programming.

Run with ``pytest tests/bench/bench_straightness.py -s``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from form_timing import HIGHS, growth, hull_alone, seconds, width_by_hull, width_by_programme

from scenes.reductions.form import straightness

SIZES = (100, 10_000, 1_000_000)


def rail(n: int) -> np.ndarray:
    """A rail of 20 m, bowed by 0.1 mm and rough by 10 um."""
    x = np.linspace(0.0, 20.0, n)
    rough = np.random.default_rng(n).normal(0.0, 1e-5, n)
    return np.column_stack((x, 1e-4 * np.sin(np.pi * x / 20.0) + rough))


def test_straightness() -> None:
    spent = []
    print("\npoints, ours, hull with pairs, hull alone, linear programming; ratios to ours")
    for n in SIZES:
        points = rail(n)
        rounds = 200 if n < 100_000 else 7
        ours = seconds(lambda p=points: straightness(p), rounds)
        pairs = seconds(lambda p=points: width_by_hull(p), max(2, rounds // 4))
        alone = seconds(lambda p=points: hull_alone(p), max(2, rounds // 4))
        value = straightness(points).value
        assert value == pytest.approx(width_by_hull(points), abs=1e-14)  # metres: rounding of coordinates of 20 m
        line = f"{n:9d}  {ours * 1e3:8.3f} ms  {pairs / ours:6.1f}x  {alone / ours:6.1f}x"
        if n <= 10_000:
            programme = seconds(lambda p=points: width_by_programme(p), 2)
            assert value == pytest.approx(width_by_programme(points), rel=HIGHS)
            line += f"  {programme / ours:7.0f}x"
        print(line)
        spent.append(ours)
    print(f"cost grows with the number of points to the power {growth(SIZES, spent):.2f}")
