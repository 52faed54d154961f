"""Diagnosis over many simulated surveys: false alarms of every example, and what is named for each hidden fault.

Run: SURVEYS=200 FAULTY=20 python -m pytest tests/bench/bench_diagnosis.py -o python_files='bench_*.py' -s
"""

from __future__ import annotations

import os
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from scenes.diagnosis.diagnose import diagnose
from scenes.diagnosis.diagnosis import LEVEL
from scenes.errors import InputError
from scenes.layout.read import read_layout
from scenes.reductions.quantities.evaluate import network_of_visit, setups_for
from scenes.uncertainty.fault_kinds import FAULTS
from scenes.uncertainty.faults import Fault
from scenes.uncertainty.simulate import simulated

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("press_bed", "press_slide", "transfer_rails", "coating_rolls", "extruder_barrel", "lathe", "gantry_mill")
SURVEYS, FAULTY = int(os.environ.get("SURVEYS", "200")), int(os.environ.get("FAULTY", "20"))


def named(layout, seed, faults=()):
    """Kind of the first suspect; with a plus where others explain it as well, a dash where nothing stands out."""
    setups = max((setups_for(layout, task) for task in layout.tasks.values()), key=len)
    readings = simulated(layout, np.random.default_rng(seed), faults=faults).readings
    network, records = network_of_visit(layout, setups, readings, "as found")
    found = diagnose(layout, network, "as found", (), records).suspects
    return found[0].kind + "+" * bool(found[0].others) if found else "-"


@pytest.mark.parametrize("name", NAMES)
def test_diagnosis(name, capsys):
    layout = read_layout(EXAMPLES / name / "layout.yaml")
    sound = Counter(named(layout, [1, seed]) for seed in range(SURVEYS))
    alarms = SURVEYS - sound["-"]
    with capsys.disabled():
        print(f"\n{name}: a suspect in {alarms} of {SURVEYS} sound surveys (stated: at most {100 * LEVEL:g} %)")
        for kind in FAULTS:
            try:
                told = Counter(named(layout, [2, seed], (Fault(kind),)) for seed in range(FAULTY))
            except InputError:
                continue
            print(f"  {kind} of usual size: " + ", ".join(f"{word} {count}" for word, count in told.most_common()))
    assert alarms <= binom.ppf(1.0 - 1e-4, SURVEYS, LEVEL)
