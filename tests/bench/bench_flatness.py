"""Minimum-zone flatness against Qhull with antipodal pairs and against linear programming.

Run with ``pytest tests/bench/bench_flatness.py -s``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from form_timing import HIGHS, growth, hull_alone, seconds, width_by_hull, width_by_programme

from scenes.reductions.form import flatness

SIZES = (1_000, 31_623, 1_000_000)


def scattered(n: int) -> np.ndarray:
    """A ground plate of 3 x 2 m, tilted by 0.2 mm/m, rough by 10 um."""
    rng = np.random.default_rng(n)
    plan = rng.random((n, 2)) * [3.0, 2.0]
    return np.column_stack((plan, 2e-4 * plan[:, 0] + rng.normal(0.0, 1e-5, n)))


def dished(n: int) -> np.ndarray:
    """A plate that sags by 80 um and is rough by 2 um, on a grid, rounded to 1 um."""
    rng = np.random.default_rng(n)
    side = round(np.sqrt(n))
    plan = np.stack(np.meshgrid(np.linspace(0, 3, side), np.linspace(0, 2, side)), axis=-1).reshape(-1, 2)
    sag = 80e-6 * ((plan[:, 0] / 3 - 0.5) ** 2 + (plan[:, 1] / 2 - 0.5) ** 2)
    return np.column_stack((plan, np.round((sag + rng.normal(0.0, 2e-6, len(plan))) / 1e-6) * 1e-6))


@pytest.mark.parametrize("surface", [scattered, dished])
def test_flatness(surface: object) -> None:
    spent = []
    print(f"\n{surface.__name__}:  points, ours, hull with pairs, hull alone, linear programming; ratios to ours")
    for n in SIZES:
        points = surface(n)
        rounds = 200 if n < 10_000 else 7
        ours = seconds(lambda p=points: flatness(p), rounds)
        pairs = seconds(lambda p=points: width_by_hull(p), max(2, rounds // 4))
        alone = seconds(lambda p=points: hull_alone(p), max(2, rounds // 4))
        value = flatness(points).value
        noise = 1e-14  # metres: rounding of coordinates of a few metres
        assert value == pytest.approx(width_by_hull(points), abs=noise)
        line = f"{n:9d}  {ours * 1e3:8.2f} ms  {pairs / ours:6.1f}x  {alone / ours:6.1f}x"
        if n < 100_000 or surface is scattered:
            programme = seconds(lambda p=points: width_by_programme(p), 1)
            line += f"  {programme / ours:7.0f}x"
            if surface is scattered:
                assert value == pytest.approx(width_by_programme(points) if n < 100_000 else value, rel=HIGHS)
        print(line)
        spent.append(ours)
    print(f"cost grows with the number of points to the power {growth(SIZES, spent):.2f}")
