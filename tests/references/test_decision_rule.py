"""Verdicts against figures computed outside the project.

Source: a normal distribution evaluated with a general-purpose statistics library for the default rule of
ISO 14253-1:2017 (95 % at one limit) and the normal model of JCGM 106:2012. The rule itself is quoted from memory; the
standards were not seen. Lengths in millimetres.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from scenes.reductions.verdict import GUARD_FACTOR, Word, decide, probability_of_conformity

PRINTED = 0.5e-6  # the figures are printed to six decimals
CASES = [  # upper limit, u, measured, verdict, probability
    (0.1, 0.006, 0.090, Word.CONFORMS, 0.952210),
    (0.1, 0.006, 0.092, Word.NOT_PROVEN, 0.908789),
    (0.1, 0.006, 0.108, Word.NOT_PROVEN, 0.091211),
    (0.1, 0.006, 0.111, Word.DOES_NOT_CONFORM, 0.033377),
]


@pytest.mark.parametrize(("limit", "u", "measured", "word", "probability"), CASES)
def test_one_limit(limit, u, measured, word, probability):
    verdict = decide(measured, u, limit)
    assert verdict.word is word
    assert verdict.probability == pytest.approx(probability, abs=PRINTED)


def test_the_guard_band_is_one_point_six_four_five_standard_uncertainties():
    assert pytest.approx(1.644854, abs=PRINTED) == GUARD_FACTOR
    verdict = decide(0.09, 0.006, 0.1)
    assert 0.1 - verdict.guard == pytest.approx(0.0901, abs=0.5e-4)  # printed to four decimals
    assert 0.1 + verdict.guard == pytest.approx(0.1099, abs=0.5e-4)


def test_two_limits():
    assert probability_of_conformity(0.03, 0.01, 0.05, -0.05) == pytest.approx(0.97725, abs=0.5e-5)


WORDS = {
    "conforms": Word.CONFORMS, "neither proved": Word.NOT_PROVEN, "does not conform": Word.DOES_NOT_CONFORM,
}  # fmt: skip


def test_every_figure_of_the_collection():
    """The same from the file itself, whichever cases it holds."""
    path = Path(__file__).parents[3] / "shared" / "reference" / "decision-rule-checks.json"
    if not path.exists():
        pytest.skip(f"no {path.name} beside the repository: outside figures are not part of it")
    figure = json.loads(path.read_text(encoding="utf-8"))
    assert figure["expected"]["one_sided_k95"] == pytest.approx(GUARD_FACTOR, abs=PRINTED)
    judged = 0
    for case in figure["points"]:
        limits = [case["upper_limit"], *([case["lower_limit"]] if "lower_limit" in case else [])]
        found = probability_of_conformity(case["measured"], case["u"], *limits)
        assert found == pytest.approx(case["p_conform"], abs=PRINTED)
        if "verdict" in case:
            judged += 1
            assert decide(case["measured"], case["u"], *limits).word is WORDS[case["verdict"]]
    assert judged == len(CASES)
