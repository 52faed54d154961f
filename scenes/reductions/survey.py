"""A whole survey reduced: every task on every visit, with corrections left to ``scenes.corrections``."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import Problem, ReadingsError
from ..model.layout import Layout
from ..model.readings import Readings
from .estimate import estimate_heights, visits_of
from .flatness_task import TRIALS, FlatnessResult, evaluate_flatness
from .form import Reference

__all__ = ["SEED", "SurveyResult", "reduce_survey"]

SEED = 20_000
"""Seed of the Monte Carlo trials where none is asked for: the same readings then always give the same figures."""


@dataclass(frozen=True, slots=True, eq=False)
class SurveyResult:
    """Results of a survey: one per task and visit, in the order of the layout and of the readings."""

    layout: Layout
    readings: Readings
    visits: tuple[str, ...]
    results: tuple[FlatnessResult, ...]

    def of(self, task: str, visit: str) -> FlatnessResult | None:
        """Result of one task on one visit, or None."""
        return next(
            (each for each in self.results if each.estimate.task.name == task and each.estimate.visit == visit), None
        )


def reduce_survey(
    layout: Layout,
    readings: Readings,
    *,
    reference: Reference | None = None,
    trials: int = TRIALS,
    seed: int = SEED,
) -> SurveyResult:
    """Flatness of every task on every visit of ``readings``.

    Parameters
    ----------
    reference : Reference, optional
        Takes the place of the one that each task names.

    Raises
    ------
    ReadingsError
        Where no record belongs to any task.
    GeometryError
        Where the records of a visit do not determine the heights.
    """
    visits = visits_of(readings)
    found = []
    for task in layout.tasks.values():
        for visit in visits:
            wanted = set(task.stations)
            if not any(
                when == visit and name in wanted for when, name in zip(readings.visit, readings.station, strict=True)
            ):
                continue
            estimate = estimate_heights(layout, task, readings, visit)
            found.append(evaluate_flatness(estimate, np.random.default_rng(seed), reference, trials=trials))
    if not found:
        file = readings.file[0] if len(readings) else "readings"
        asked = ", ".join(layout.tasks) or "none"
        raise ReadingsError([Problem(file, 0, 0, f"no record belongs to a task of the layout (tasks: {asked})")])
    return SurveyResult(layout, readings, visits, tuple(found))
