"""How often U covers the truth, over 1000 simulated surveys of every example, each reduced record by record.

Run: SURVEYS=1000 python -m pytest tests/bench/bench_coverage.py -o python_files='bench_*.py' -s
"""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from scenes.layout.read import read_layout
from scenes.readings.truth_file import read_truth
from scenes.reductions.survey import reduce_survey
from scenes.uncertainty.simulate import simulated

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = (
    "press_bed", "press_slide", "transfer_rails", "coating_rolls", "extruder_barrel", "lathe", "gantry_mill",
    "rotary_table",
)  # fmt: skip
SURVEYS = int(os.environ.get("SURVEYS", "1000"))
TRIALS = 300
STATED, RARE = 0.9545, 1e-4


def values(layout, readings):
    return {
        (measured.evidence.task.name, part.name): (part.value, part.expanded_uncertainty, *part.interval)
        for measured in reduce_survey(layout, readings, trials=TRIALS).measured
        for part in measured.components
    }


def surveyed(job):
    """How often U and the interval hold the truth in some surveys: ``{(task, component): (U, interval)}``."""
    name, seeds = job
    layout = read_layout(EXAMPLES / name / "layout.yaml")
    truth = read_truth(EXAMPLES / name / "truth.csv", layout)
    perfect = simulated(layout, np.random.default_rng(0), truth, perfect=True).readings
    true = {key: value for key, (value, *_) in values(layout, perfect).items()}
    found = {key: np.zeros(2, dtype=np.int64) for key in true}
    for seed in seeds:
        readings = simulated(layout, np.random.default_rng([99, seed]), truth).readings
        for key, (value, expanded, low, high) in values(layout, readings).items():
            found[key] += abs(value - true[key]) <= expanded, low <= true[key] <= high
    return found


@pytest.mark.parametrize("name", NAMES)
def test_coverage(name, capsys):
    jobs = [(name, range(first, min(first + 25, SURVEYS))) for first in range(0, SURVEYS, 25)]
    total: dict = {}
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        for found in pool.map(surveyed, jobs):
            for key, counts in found.items():
                total[key] = total.get(key, 0) + counts
    with capsys.disabled():
        print(f"\n{name}, {SURVEYS} surveys")
        for (task, component), (by_u, by_interval) in total.items():
            share = [f"{100 * count / SURVEYS:.1f} %" for count in (by_u, by_interval)]
            print(f"  {task} {component}: U covers {share[0]}, interval {share[1]}")
    for key, (by_u, _) in total.items():
        assert by_u >= binom.ppf(RARE, SURVEYS, STATED), key
