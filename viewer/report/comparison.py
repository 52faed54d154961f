"""Every measured task of a survey against other references and rules."""

from __future__ import annotations

import numpy as np

from scenes.reductions.quantities.compared import Compared, Ruled, compared, rules_compared
from scenes.reductions.quantities.measured import Measured
from scenes.reductions.survey import SurveyResult

__all__ = ["comparison"]


def comparison(
    survey: SurveyResult, trials: int, seed: int
) -> list[tuple[Measured, tuple[Compared, ...], tuple[Ruled, ...]]]:
    """Each task and visit with what other references and rules say of it."""
    return [
        (each, compared(each, np.random.default_rng(seed), trials), rules_compared(each)) for each in survey.measured
    ]
