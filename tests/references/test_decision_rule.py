"""Verdicts against figures computed outside the project.

Source: a normal distribution evaluated with a general-purpose statistics library for the default rule of
ISO 14253-1:2017 (95 % at one limit) and the normal model of JCGM 106:2012. The rule itself is quoted from memory; the
standards were not seen. Lengths in millimetres.
"""

from __future__ import annotations

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
