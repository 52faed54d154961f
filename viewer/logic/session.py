"""A session: one layout and its readings, with every result that the viewer can show, computed when first asked for."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from scenes.checks.check import CheckResult, check_layout
from scenes.corrections.proposal import ShimProposal
from scenes.layout.read import read_layout
from scenes.model.layout import Layout
from scenes.readings.read import read_readings
from scenes.reductions.estimate import Estimate
from scenes.reductions.flatness_task import FlatnessResult, evaluate_flatness
from scenes.reductions.form import Reference
from scenes.reductions.quantities.measured import Measured
from scenes.reductions.survey import SEED, SurveyResult, reduce_survey
from scenes.reductions.ties import centred_design
from scenes.vectors import Floats
from viewer.logic.proposals import proposals_of

__all__ = ["DIFFERENCE", "Change", "Session", "open_session"]

DIFFERENCE = "difference"
"""Shown in place of a visit: the last visit less the first."""


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """Change of a surface between two visits; n stations that both read.

    Attributes
    ----------
    first, last : str
        Visits.
    stations : tuple of str
    points : (n, 3) float
        Places in the frame of the surface, metres; z is the change.
    deviation, standard_uncertainty : (n,) float
        Change of the height, about its own least-squares plane, metres. The uncertainties of the two visits are added
        in quadrature; errors that both share cancel in truth, so this is on the safe side.
    """

    first: str
    last: str
    stations: tuple[str, ...]
    points: Floats
    deviation: Floats
    standard_uncertainty: Floats


@dataclass(slots=True, eq=False)
class Session:
    """Layout, plan, readings and results. Results for other references are computed when first asked for."""

    layout: Layout
    check: CheckResult
    survey: SurveyResult | None
    proposals: dict[tuple[str, str], ShimProposal]
    remarks: tuple[str, ...]
    _results: dict[tuple[str, str, Reference], FlatnessResult] = field(default_factory=dict)

    def tasks(self) -> tuple[str, ...]:
        """Names of the tasks that have results; without readings, of all tasks."""
        if self.survey is None:
            return tuple(self.layout.tasks)
        found = {each.estimate.task.name for each in self.survey.results}
        found |= {each.evidence.task.name for each in self.survey.measured}
        return tuple(name for name in self.layout.tasks if name in found)

    def surface_tasks(self) -> tuple[str, ...]:
        """Names of the tasks whose result is a surface: flatness read by swept planes."""
        if self.survey is None:
            return ()
        return tuple(dict.fromkeys(each.estimate.task.name for each in self.survey.results))

    def visits(self, task: str) -> tuple[str, ...]:
        """Visits with a result for ``task``, in order."""
        if self.survey is None:
            return ()
        surfaces = [each.estimate.visit for each in self.survey.results if each.estimate.task.name == task]
        others = [each.evidence.visit for each in self.survey.measured if each.evidence.task.name == task]
        return tuple(surfaces or others)

    def measured(self, task: str, visit: str) -> Measured:
        """Any other quantity of ``task`` on ``visit``; raises ``KeyError`` where there is none."""
        found = None if self.survey is None else self.survey.measured_of(task, visit)
        if found is None:
            raise KeyError((task, visit))
        return found

    def estimate(self, task: str, visit: str) -> Estimate:
        """Heights of the surface of ``task`` on ``visit``; raises ``KeyError`` where there are none."""
        found = None if self.survey is None else self.survey.of(task, visit)
        if found is None:
            raise KeyError((task, visit))
        return found.estimate

    def result(self, task: str, visit: str, reference: Reference | None = None) -> FlatnessResult:
        """Result of ``task`` on ``visit``, against its own reference or another one."""
        estimate = self.estimate(task, visit)
        kind = Reference(estimate.task.reference) if reference is None else reference
        key = (task, visit, kind)
        if key not in self._results:
            self._results[key] = evaluate_flatness(estimate, np.random.default_rng(SEED), kind)
        return self._results[key]

    def is_ready(self, task: str, visit: str, reference: Reference | None = None) -> bool:
        """Whether ``result`` answers at once; else it works for a moment."""
        if visit not in self.visits(task) or task not in self.surface_tasks():
            return True
        kind = Reference(self.estimate(task, visit).task.reference) if reference is None else reference
        return (task, visit, kind) in self._results

    def change(self, task: str) -> Change | None:
        """Change from the first to the last visit, or None where there is only one."""
        visits = self.visits(task)
        if len(visits) < 2 or task not in self.surface_tasks():
            return None
        one, two = self.estimate(task, visits[0]), self.estimate(task, visits[-1])
        names = tuple(name for name in one.stations if name in two.stations)
        if len(names) < 4:
            return None
        i = [one.stations.index(name) for name in names]
        j = [two.stations.index(name) for name in names]
        places = one.points[i, :2]
        design = centred_design(places)
        left = np.eye(len(names)) - design @ np.linalg.pinv(design)
        deviation = left @ (two.points[j, 2] - one.points[i, 2])
        pick_one, pick_two = left @ np.eye(len(one.stations))[i], left @ np.eye(len(two.stations))[j]
        variance = (
            one.spread.through(pick_one).standard_uncertainty() ** 2
            + two.spread.through(pick_two).standard_uncertainty() ** 2
        )
        points = np.column_stack([places, deviation])
        return Change(visits[0], visits[-1], names, points, deviation, np.sqrt(variance))


def open_session(layout: str, readings: list[str] | tuple[str, ...] = ()) -> Session:
    """Read a layout and its readings, check the plan and reduce.

    Raises
    ------
    InputError
        Where a file is wrong.
    GeometryError
        Where the readings do not determine what a task asks for.
    """
    plan = read_layout(layout)
    check = check_layout(plan, np.random.default_rng(SEED))
    if not readings:
        return Session(plan, check, None, {}, ())
    table = read_readings(list(readings), plan)
    survey = reduce_survey(plan, table)
    proposals, remarks = proposals_of(survey)
    failed = tuple(f"{each.task}, {each.visit}: no result: {each.message}" for each in survey.failures)
    session = Session(plan, check, survey, proposals, (*failed, *table.remarks, *remarks))
    for each in survey.results:
        key = (each.estimate.task.name, each.estimate.visit, Reference(each.estimate.task.reference))
        session._results[key] = each
    return session
