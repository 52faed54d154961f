"""Minimum-zone flatness against Qhull with antipodal pairs and against linear programming.

Run with ``pytest tests/bench/bench_flatness.py -s``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from form_timing import HIGHS, growth, hull_alone, timed, width_by_hull, width_by_programme

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
def test_flatness(surface: Callable[[int], np.ndarray]) -> None:
    """Goals: 16 ms at 1e6 points, at least 25 times the hull and 700 times the linear programme; 1 ms at 1e3."""
    spent = []
    print(f"\n{surface.__name__}:  points, ours, hull with pairs, hull alone, linear programme; ratios to ours")
    for n in SIZES:
        points = surface(n)
        ours, value = timed(lambda p=points: flatness(p).value, 200 if n < 10_000 else 7)
        pairs, by_hull = timed(lambda p=points: width_by_hull(p), 50 if n < 10_000 else 2)
        alone, _ = timed(lambda p=points: hull_alone(p), 50 if n < 10_000 else 2)
        programme, by_programme = timed(lambda p=points: width_by_programme(p), 5 if n < 10_000 else 1)
        rounding = 1e-14  # metres, of coordinates of a few metres
        assert value == pytest.approx(by_hull, abs=rounding)
        assert value == pytest.approx(by_programme, abs=HIGHS * float(np.ptp(points[:, 2])))
        print(
            f"{n:9d}  {ours * 1e3:8.2f} ms  {pairs / ours:6.1f}x  {alone / ours:6.1f}x  {programme / ours:7.0f}x; off "
            f"the hull by {abs(value - by_hull):.0e} m, off the programme by {abs(value - by_programme):.0e} m"
        )
        spent.append(ours)
    print(f"cost grows with the number of points to the power {growth(SIZES, spent):.2f}")
