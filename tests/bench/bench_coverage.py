"""How often U and the interval cover the truth, over 1000 simulated surveys of each of several surfaces.

Run: python -m pytest tests/bench/bench_coverage.py -o python_files='bench_*.py' -s
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from scenes.layout.read import read_layout
from scenes.reductions.estimate import estimate_heights
from scenes.reductions.flatness_task import evaluate_flatness
from scenes.reductions.form import flatness
from scenes.uncertainty.simulate import simulate_readings

LAYOUT = Path(__file__).parents[2] / "examples" / "press_bed" / "layout.yaml"
SURVEYS = int(os.environ.get("SURVEYS", "1000"))
SURFACES = {
    "perfect": lambda x, _y: 0.0 * x,
    "sag 10 um": lambda x, y: 10e-6 * (x**2 + y**2),
    "twist 40 um": lambda x, y: 20e-6 * x * y / 1.12,
    "one high corner": lambda x, y: 80e-6 * (x > 1.0) * (y > 0.6),
    "ripple": lambda x, y: 30e-6 * np.sin(4.0 * x) * np.cos(5.0 * y),
}


@pytest.mark.parametrize("surface", SURFACES)
def test_coverage(surface):
    layout = read_layout(LAYOUT)
    task = next(iter(layout.tasks.values()))
    rng = np.random.default_rng(5)
    at = np.array([layout.stations[name].at for name in task.stations])
    heights = SURFACES[surface](at[:, 0], at[:, 1])
    truth = dict(zip(task.stations, heights, strict=True))
    true = flatness(np.column_stack([at[:, :2], heights])).value
    u_covers = interval_covers = 0
    values = []
    for _ in range(SURVEYS):
        estimate = estimate_heights(layout, task, simulate_readings(layout, truth, "as found", rng), "as found")
        result = evaluate_flatness(estimate, rng, trials=500)
        values.append((result.form.value, result.expanded_uncertainty))
        u_covers += abs(result.form.value - true) <= result.expanded_uncertainty
        interval_covers += result.interval[0] <= true <= result.interval[1]
    value, expanded = 1e6 * np.mean(values, axis=0)
    print(
        f"\n{surface}: true {1e6 * true:.1f} um, mean value {value:.1f} um, mean U {expanded:.1f} um; "
        f"U covers {100 * u_covers / SURVEYS:.1f} %, interval {100 * interval_covers / SURVEYS:.1f} %"
    )
    assert u_covers / SURVEYS >= 0.954 - 3.0 * np.sqrt(0.954 * 0.046 / SURVEYS)
