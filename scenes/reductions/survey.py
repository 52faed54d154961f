"""A whole survey reduced: every task on every visit, with corrections left to ``scenes.corrections``."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError, Problem, ReadingsError
from ..model.layout import Layout
from ..model.readings import Readings
from ..model.survey import Task
from .estimate import estimate_heights, visits_of
from .flatness_task import TRIALS, FlatnessResult, evaluate_flatness
from .form import Reference
from .network import Network
from .planned_tasks import swept_by_bases
from .quantities.evaluate import measured, network_of_visit, setups_for
from .quantities.evidence import evidence_of
from .quantities.measured import Measured
from .quantities.references import with_reference

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

    Attributes
    ----------
    results : tuple of FlatnessResult
        Flatness of surfaces that rotary bases alone have read.
    failures : tuple of Failure
        Those that could not be determined; at least one could.
    measured : tuple of Measured
        All other quantities, through the network.
    """

    layout: Layout
    readings: Readings
    visits: tuple[str, ...]
    results: tuple[FlatnessResult, ...]
    failures: tuple[Failure, ...] = ()
    measured: tuple[Measured, ...] = ()

    def of(self, task: str, visit: str) -> FlatnessResult | None:
        """Flatness of one task on one visit, or None."""
        return next(
            (each for each in self.results if each.estimate.task.name == task and each.estimate.visit == visit), None
        )

    def measured_of(self, task: str, visit: str) -> Measured | None:
        """Any other quantity of one task on one visit, or None."""
        return next(
            (each for each in self.measured if each.evidence.task.name == task and each.evidence.visit == visit), None
        )


def reduce_survey(
    layout: Layout,
    readings: Readings,
    *,
    reference: Reference | None = None,
    trials: int = TRIALS,
    seed: int = SEED,
) -> SurveyResult:
    """Every task on every visit of ``readings``.

    Parameters
    ----------
    reference : Reference, optional
        Takes the place of the one that each task names, where its quantity knows it.

    Raises
    ------
    ReadingsError
        Where no record belongs to any task.
    GeometryError
        Where the records determine no task on any visit.
    """
    visits = visits_of(readings)
    read = set(zip(readings.visit, readings.station, strict=True))
    solved = _Solved(layout, readings, {})
    found: list[FlatnessResult] = []
    others: list[Measured] = []
    failures: list[Failure] = []
    for name, asked in layout.tasks.items():
        task = with_reference(asked, reference)
        for visit in visits:
            if not any((visit, station) in read for station in task.stations):
                continue
            rng = np.random.default_rng(seed)
            try:
                if swept_by_bases(layout, task):
                    estimate = estimate_heights(layout, task, readings, visit)
                    found.append(evaluate_flatness(estimate, rng, Reference(task.reference), trials=trials))
                else:
                    others.append(solved.measured(task, visit, rng, trials))
            except GeometryError as error:
                failures.append(Failure(name, visit, str(error)))
    if found or others:
        return SurveyResult(layout, readings, visits, tuple(found), tuple(failures), tuple(others))
    if failures:
        raise GeometryError("\n".join(failure.message for failure in failures))
    file = readings.file[0] if len(readings) else "readings"
    listed = ", ".join(layout.tasks) or "none"
    raise ReadingsError([Problem(file, 0, 0, f"no record belongs to a task of the layout (tasks: {listed})")])


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """Networks of the visits solved so far: tasks that rest on the same set-ups share one."""

    layout: Layout
    readings: Readings
    networks: dict[tuple[str, tuple[str, ...]], tuple[Network, tuple[str, ...]]]

    def measured(self, task: Task, visit: str, rng: np.random.Generator, trials: int) -> Measured:
        """A task on a visit."""
        key = (visit, setups_for(self.layout, task))
        if key not in self.networks:
            try:
                self.networks[key] = network_of_visit(self.layout, key[1], self.readings, visit)
            except GeometryError as error:
                raise GeometryError(f"task {task.name}, {visit}: {error}", error.code) from None
        network, records = self.networks[key]
        return measured(evidence_of(self.layout, task, visit, network), rng, trials, records)
