"""Results of a machine: every task at every visit, what changed from visit to visit, and where it leads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from ..errors import DatumrayError, GeometryError
from ..layout.read import read_layout
from ..model.layout import Layout
from ..reductions.quantities.measured import Measured
from ..reductions.survey import SEED, TRIALS, reduce_survey
from .change import change
from .changed import Change
from .machine import Machine, MachineVisit, readings_of_visit
from .trend import since_adjusted, trends
from .trended import Dated, Trend

__all__ = ["MachineResults", "VisitProblem", "changes_of", "results_of", "trends_of"]


@dataclass(frozen=True, slots=True)
class VisitProblem:
    """What could not be worked out, and why; empty where it is about all visits or tasks."""

    visit: str
    task: str
    message: str


@dataclass(slots=True)
class MachineResults:
    """All that the files of a machine say."""

    machine: Machine
    layouts: dict[str, Layout] = field(default_factory=dict)
    measured: dict[tuple[str, str], Measured] = field(default_factory=dict)
    problems: list[VisitProblem] = field(default_factory=list)

    def tasks(self) -> tuple[str, ...]:
        """Tasks that some visit tells, in the order of the layouts."""
        return tuple(dict.fromkeys(task for layout in self.layouts.values() for task in layout.tasks))

    def of_task(self, task: str) -> list[tuple[MachineVisit, Measured]]:
        """Visits that tell a task, in the order of time."""
        return [
            (visit, self.measured[visit.name, task])
            for visit in self.machine.visits
            if (visit.name, task) in self.measured
        ]


def results_of(
    machine: Machine,
    trials: Callable[[MachineVisit], int] = lambda _: TRIALS,
    seed: int = SEED,
    done: Callable[[int], object] = lambda _: None,
) -> MachineResults:
    """Every task at every visit; what is wrong with one visit is noted and stops no other.

    Parameters
    ----------
    trials : callable
        Monte Carlo trials of a visit.
    done : callable
        Is told 1 after every visit.
    """
    results, layouts = MachineResults(machine), dict[Path, Layout]()
    for visit in machine.visits:
        try:
            if visit.layout not in layouts:
                layouts[visit.layout] = read_layout(visit.layout)
            layout, readings = readings_of_visit(visit, layouts[visit.layout])
            survey = reduce_survey(layout, readings, trials=trials(visit), seed=seed)
        except DatumrayError as error:
            results.problems.append(VisitProblem(visit.name, "", str(error)))
        else:
            results.layouts[visit.name] = layout
            results.measured.update({(visit.name, each.evidence.task.name): each for each in survey.measured})
            results.problems += [VisitProblem(visit.name, each.task, each.message) for each in survey.failures]
        done(1)
    return results


def changes_of(results: MachineResults) -> list[Change]:
    """Changes of every task from each visit to the next that tells it."""
    found = []
    for task in results.tasks():
        told = results.of_task(task)
        order = [visit.name for visit in results.machine.visits]
        for (before, one), (after, two) in pairwise(told):
            between = results.machine.visits[order.index(before.name) + 1 : order.index(after.name) + 1]
            anew = tuple(dict.fromkeys(word for visit in between for word in visit.notes.changed))
            try:
                found.append(change(one, two, anew))
            except GeometryError as error:
                results.problems.append(VisitProblem(after.name, task, f"no change from {before.name}: {error}"))
    return found


def trends_of(results: MachineResults) -> list[Trend]:
    """Trends of every task over its dated visits since the machine was last adjusted."""
    found: list[Trend] = []
    for task in results.tasks():
        names = {visit.name for visit, _ in results.of_task(task)}
        dated, anew, adjusted = [], list[str](), False
        for visit in results.machine.visits:
            anew += visit.notes.changed
            adjusted = adjusted or visit.adjusted
            if visit.date is not None and visit.name in names:
                dated.append(Dated(visit.date, results.measured[visit.name, task], tuple(anew), adjusted))
                anew, adjusted = [], False
        if len({each.date for each in since_adjusted(dated)}) < 2:
            continue
        try:
            found += trends(dated)
        except GeometryError as error:
            results.problems.append(VisitProblem("", task, f"no trend: {error}"))
    return found
