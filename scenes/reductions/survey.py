"""A whole survey reduced: every task on every visit, with corrections left to ``scenes.corrections``."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError, Problem, ReadingsError
from ..model.layout import Layout
from ..model.readings import Readings
from ..model.survey import Task
from .form import Reference
from .network import Network
from .quantities.evaluate import fitted_for, measured, network_of_visit, setups_for
from .quantities.evidence import evidence_of
from .quantities.measured import Measured
from .quantities.references import with_reference

__all__ = ["SEED", "TRIALS", "Failure", "SurveyResult", "reduce_survey", "visits_of"]

TRIALS = 20_000
"""Monte Carlo trials: the ends of a 95 % interval are then good to about 2 % of the standard uncertainty."""

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
    visits : tuple of str
        In the order of their first record.
    measured : tuple of Measured
    failures : tuple of Failure
        Those that could not be determined; at least one could.
    """

    layout: Layout
    readings: Readings
    visits: tuple[str, ...]
    measured: tuple[Measured, ...]
    failures: tuple[Failure, ...] = ()

    def of(self, task: str, visit: str) -> Measured | None:
        """One task on one visit, or None."""
        return next(
            (each for each in self.measured if each.evidence.task.name == task and each.evidence.visit == visit), None
        )


def visits_of(readings: Readings) -> tuple[str, ...]:
    """Names of the visits in ``readings``, in order of their first record."""
    return tuple(dict.fromkeys(readings.visit))


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
    found: list[Measured] = []
    failures: list[Failure] = []
    for name, asked in layout.tasks.items():
        task = with_reference(asked, reference)
        for visit in visits:
            if not any((visit, station) in read for station in task.stations):
                continue
            rng = np.random.default_rng(seed)
            try:
                found.append(solved.measured(task, visit, rng, trials))
            except GeometryError as error:
                failures.append(Failure(name, visit, str(error)))
    if found:
        return SurveyResult(layout, readings, visits, tuple(found), tuple(failures))
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
    networks: dict[tuple[str, tuple[str, ...], tuple[str, ...]], tuple[Network, tuple[str, ...]]]

    def measured(self, task: Task, visit: str, rng: np.random.Generator, trials: int) -> Measured:
        """A task on a visit."""
        key = (visit, setups_for(self.layout, task), fitted_for(task))
        if key not in self.networks:
            try:
                self.networks[key] = network_of_visit(self.layout, key[1], self.readings, visit, key[2])
            except GeometryError as error:
                raise GeometryError(f"task {task.name}, {visit}: {error}", error.code) from None
        network, records = self.networks[key]
        return measured(evidence_of(self.layout, task, visit, network), rng, trials, records)
