"""A session: one layout and its readings, with every result that the viewer can show, computed when first asked for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from scenes.checks.check import CheckResult, check_layout
from scenes.corrections.proposal import ShimProposal
from scenes.errors import GeometryError
from scenes.layout.read import read_layout
from scenes.model.layout import Layout
from scenes.model.survey import Rule, Task
from scenes.readings.read import read_readings
from scenes.reductions.quantities.compared import judged_by
from scenes.reductions.quantities.evaluate import measured
from scenes.reductions.quantities.measured import Measured
from scenes.reductions.quantities.references import known_references, with_reference
from scenes.reductions.reference import Reference
from scenes.reductions.survey import SEED, TRIALS, SurveyResult, reduce_survey
from scenes.visits.change import change
from scenes.visits.changed import Change
from viewer.logic.proposals import proposals_of

__all__ = ["DIFFERENCE", "Session", "open_session"]

DIFFERENCE = "difference"
"""Shown in place of a visit: the last visit less the first."""

Key = tuple[str, str, str]
"""Task, visit, reference."""


@dataclass(slots=True, eq=False)
class Session:
    """Layout, plan, readings and results. Results for other references are computed when first asked for.

    Attributes
    ----------
    rule : Rule, optional
        Rule of every verdict that is told; None: the one that the layout asks for.
    """

    layout: Layout
    check: CheckResult
    survey: SurveyResult | None
    proposals: dict[tuple[str, str], ShimProposal]
    remarks: tuple[str, ...]
    rule: Rule | None = None
    _measured: dict[Key, Measured | GeometryError] = field(default_factory=dict)
    _changes: dict[tuple[str, Rule | None], Change | None] = field(default_factory=dict)

    def task(self, name: str) -> Task:
        """The task of that name, with the rule in use."""
        task = self.layout.tasks[name]
        return task if self.rule is None else replace(task, rule=self.rule)

    def tasks(self) -> tuple[str, ...]:
        """Names of the tasks that have results; without readings, of all tasks."""
        if self.survey is None:
            return tuple(self.layout.tasks)
        found = {each.evidence.task.name for each in self.survey.measured}
        return tuple(name for name in self.layout.tasks if name in found)

    def visits(self, task: str) -> tuple[str, ...]:
        """Visits with a result for ``task``, in order."""
        every = () if self.survey is None else self.survey.measured
        return tuple(each.evidence.visit for each in every if each.evidence.task.name == task)

    def own(self, task: str, visit: str) -> Measured:
        """Result of ``task`` on ``visit`` against the reference that the layout asks for; ``KeyError`` if none."""
        return self._judged(self._as_asked(task, visit))

    def _as_asked(self, task: str, visit: str) -> Measured:
        """The result by the rule that the layout asks for."""
        found = None if self.survey is None else self.survey.of(task, visit)
        if found is None:
            raise KeyError((task, visit))
        return found

    def _judged(self, found: Measured) -> Measured:
        return found if self.rule is None else judged_by(found, self.rule)

    def references(self, task: str) -> tuple[Reference, ...]:
        """References that deviations of ``task`` may count from, the one asked for first; empty for one fixed datum."""
        known = known_references(self.layout.tasks[task])
        asked = self.layout.tasks[task].reference
        return tuple(sorted(known, key=lambda each: each != asked))

    def measured(self, task: str, visit: str, reference: str = "") -> Measured:
        """Result of ``task`` on ``visit``, against its own reference or another one; the network is not solved again.

        Raises
        ------
        KeyError
            Where there is no such visit, or the task does not know that reference.
        GeometryError
            Where readings or layout do not give this reference.
        """
        own = self._as_asked(task, visit)
        if reference in ("", own.evidence.task.reference):
            return self._judged(own)
        if reference not in self.references(task):
            raise KeyError((task, visit, reference))
        key = (task, visit, reference)
        if key not in self._measured:
            self._measured[key] = _against(own, Reference(reference))
        found = self._measured[key]
        if isinstance(found, GeometryError):
            raise found
        return self._judged(found)

    def is_ready(self, task: str, visit: str, reference: str) -> bool:
        """Whether ``measured`` answers at once; else it works for a moment."""
        if visit not in self.visits(task) or reference not in self.references(task):
            return True
        return reference == self.layout.tasks[task].reference or (task, visit, reference) in self._measured

    def compare(self, task: str, visit: str) -> None:
        """Work out the result under every reference, so that all can be told at once."""
        for reference in self.references(task):
            try:
                self.measured(task, visit, reference)
            except GeometryError:
                continue

    def change(self, task: str) -> Change | None:
        """Change from the first to the last visit, or None where there is none to tell."""
        key = (task, self.rule)
        if key not in self._changes:
            self._changes[key] = self._change(task)
        return self._changes[key]

    def _change(self, task: str) -> Change | None:
        visits = self.visits(task)
        if len(visits) < 2:
            return None
        try:
            found = change(self.own(task, visits[0]), self.own(task, visits[-1]))
        except GeometryError:
            return None
        return found if found.deviations else None


def _against(own: Measured, reference: Reference) -> Measured | GeometryError:
    """``own`` against another reference, or why there is none."""
    asked = with_reference(own.evidence.task, reference)
    try:
        return measured(replace(own.evidence, task=asked), np.random.default_rng(SEED), TRIALS)
    except GeometryError as error:
        return error


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
    return Session(plan, check, survey, proposals, (*failed, *table.remarks, *remarks))
