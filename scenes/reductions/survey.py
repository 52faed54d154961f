"""A whole survey reduced: every task on every visit, with corrections left to ``scenes.corrections``."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError, Problem, ReadingsError
from ..model.layout import Layout
from ..model.readings import Readings
from .estimate import estimate_heights, visits_of
from .flatness_task import TRIALS, FlatnessResult, evaluate_flatness
from .form import Reference

__all__ = ["SEED", "Failure", "SurveyResult", "reduce_survey"]

SEED = 20_000
"""Seed of the Monte Carlo trials where none is asked for: the same readings then always give the same figures."""


@dataclass(frozen=True, slots=True)
class Failure:
    """A task that the records of a visit do not determine, and why."""

    task: str
    visit: str
    message: str


@dataclass(frozen=True, slots=True, eq=False)
class SurveyResult:
    """Results of a survey: one per task and visit, in the order of the layout and of the readings.

    ``failures`` names those that could not be determined; at least one could.
    """

    layout: Layout
    readings: Readings
    visits: tuple[str, ...]
    results: tuple[FlatnessResult, ...]
    failures: tuple[Failure, ...] = ()

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
        Where the records determine no task on any visit.
    """
    visits = visits_of(readings)
    read = set(zip(readings.visit, readings.station, strict=True))
    found: list[FlatnessResult] = []
    failures: list[Failure] = []
    for task in layout.tasks.values():
        for visit in visits:
            if not any((visit, name) in read for name in task.stations):
                continue
            try:
                estimate = estimate_heights(layout, task, readings, visit)
                found.append(evaluate_flatness(estimate, np.random.default_rng(seed), reference, trials=trials))
            except GeometryError as error:
                failures.append(Failure(task.name, visit, str(error)))
    if found:
        return SurveyResult(layout, readings, visits, tuple(found), tuple(failures))
    if failures:
        raise GeometryError("\n".join(failure.message for failure in failures))
    file = readings.file[0] if len(readings) else "readings"
    asked = ", ".join(layout.tasks) or "none"
    raise ReadingsError([Problem(file, 0, 0, f"no record belongs to a task of the layout (tasks: {asked})")])
