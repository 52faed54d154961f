"""Coverage of the predicted as-left over several hundred surveys of each example, and what moves cost.

Run with ``pytest tests/bench/bench_moves.py -s``.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

sys.path.insert(0, str(Path(__file__).parents[1] / "laws"))
from test_moves_simulation import CASES, RARE, STATED, WORDS, Case, survey

from scenes.corrections.planned_moves import moves_of

SURVEYS = 300


@pytest.mark.parametrize("name", CASES)
def test_coverage_of_the_predicted_as_left(name: str) -> None:
    case, counts = Case(name), np.zeros((3, 2))
    for seed in range(SURVEYS):
        counts += survey(case, np.random.default_rng([3, seed]), seed < SURVEYS // 10)
    for word, (inside, total) in zip(WORDS, counts, strict=True):
        print(f"\n{name}: {word}: {100 * inside / total:.1f} % of {total:.0f} surveys")
        assert inside >= binom.ppf(RARE, round(total), STATED)


@pytest.mark.parametrize("name", CASES)
def test_time_of_moves_and_of_one_evaluation(name: str) -> None:
    case = Case(name)
    moves = moves_of(case.layout, case.ideal)
    spent = []
    for work in (lambda: moves_of(case.layout, case.ideal), lambda: moves.evaluate(moves.lifts)):
        begun = time.process_time()
        for _ in range(5):
            work()
        spent.append((time.process_time() - begun) / 5)
    print(f"\n{name}: moves {1e3 * spent[0]:.0f} ms, one evaluation {1e3 * spent[1]:.1f} ms")
    assert spent[1] < 0.02
