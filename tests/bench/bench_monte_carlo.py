"""Form values of Monte Carlo trials over one layout against one linear programme per trial.

Run with ``pytest tests/bench/bench_monte_carlo.py -s``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from form_timing import (
    HIGHS,
    extents_at_once,
    extents_one_by_one,
    growth,
    peak_megabytes,
    seconds,
    timed,
    width_by_programme,
)

from scenes.reductions.form import Reference, flatness_of_trials, straightness_of_trials

TRIALS = (1_000, 10_000, 100_000)
STATIONS = 50


@pytest.mark.parametrize("layout", ["scattered", "grid"])
@pytest.mark.parametrize("reference", [Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS])
def test_flatness_of_trials(reference: Reference, layout: str) -> None:
    rng = np.random.default_rng(1)
    xy = rng.random((STATIONS, 2)) * [3.0, 2.0]
    if layout == "grid":
        xy = np.stack(np.meshgrid(np.arange(10) * 0.3, np.arange(5) * 0.4), axis=-1).reshape(-1, 2)
    report(reference, layout, np.column_stack((xy,)), rng, flatness_of_trials)


@pytest.mark.parametrize("reference", [Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.END_POINTS])
def test_straightness_of_trials(reference: Reference) -> None:
    rng = np.random.default_rng(2)
    report(reference, "line", np.arange(STATIONS, dtype=float)[:, None] * 0.4, rng, straightness_of_trials)


def report(reference: Reference, layout: str, stations: np.ndarray, rng: np.random.Generator, work: object) -> None:
    spent = []
    for count in TRIALS:
        heights = rng.normal(0.0, 1e-5, (STATIONS, count))
        spent.append(seconds(lambda z=heights: work(stations, z, reference), 5))
    numbers = seconds(lambda: rng.normal(0.0, 1e-5, (STATIONS, TRIALS[-1])), 2)
    line = f"\n{layout}, {reference}: {TRIALS[-1]} trials x {STATIONS} in {spent[-1] * 1e3:.0f} ms"
    line += f" (random numbers alone {numbers * 1e3:.0f} ms), power {growth(TRIALS, spent):.2f}"
    if reference is Reference.MINIMUM_ZONE:
        few = 20
        singles = [np.column_stack((stations, column)) for column in heights[:, :few].T]
        alone = seconds(lambda: [width_by_programme(points) for points in singles], 1) / few * TRIALS[-1]
        values = work(stations, heights[:, :few], reference)
        np.testing.assert_allclose(values, [width_by_programme(points) for points in singles], rtol=HIGHS)
        line += f", one programme per trial would take {alone:.0f} s: {alone / spent[-1]:.0f}x"
    if reference is Reference.LEAST_SQUARES:
        few = 5_000
        loop, looped = timed(lambda: extents_one_by_one(stations, heights[:, :few]), 1)
        once, values = timed(lambda: extents_at_once(stations, heights), 3)
        # Vertical and orthogonal squares differ by (height / length)^2, here 1e-10.
        np.testing.assert_allclose(work(stations, heights, reference), values, rtol=1e-8)
        np.testing.assert_allclose(looped, values[:few], rtol=1e-8)
        loop *= TRIALS[-1] / few
        line += f"; lstsq in a loop would take {loop:.2f} s: {loop / spent[-1]:.0f}x, at once {once * 1e3:.0f} ms: "
        line += f"{once / spent[-1]:.1f}x and {peak_megabytes(lambda: extents_at_once(stations, heights)):.0f} MB"
    line += f"; peak {peak_megabytes(lambda: work(stations, heights, reference)):.1f} MB beside the heights"
    print(line)
