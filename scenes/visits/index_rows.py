"""From the files of one machine to the rows of the index."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from ..model.layout import Layout
from ..reductions.quantities.measured import Component, Measured, bounds_of
from ..reductions.quantities.shown import scale_of
from ..reductions.survey import SEED, TRIALS
from .changed import Change, ChangedValue
from .fingerprints import digest, layout_fingerprint
from .machine import Machine, MachineVisit
from .machine_results import MachineResults, VisitProblem, changes_of, results_of, trends_of
from .rows import ChangeRow, MachineRows, ProblemRow, ResultRow, TrendRow, VisitRow
from .trended import Outlook, Reach, Trend

__all__ = ["fingerprints_of", "rows_of"]

FEW_TRIALS = 100
"""Trials of visits whose own results are kept: only their networks are needed, for changes and trends."""


def fingerprints_of(machine: Machine, name: str, version: str) -> tuple[VisitRow, ...]:
    """Visits of a machine that is called ``name``, with their fingerprints; ``version`` is that of the program."""
    layouts = {visit.layout for visit in machine.visits}
    known = {layout: layout_fingerprint(machine.folder, {layout}) for layout in layouts}
    return tuple(_visit_row(name, version, known[visit.layout], i, visit) for i, visit in enumerate(machine.visits))


def _visit_row(name: str, version: str, layout: str, position: int, visit: MachineVisit) -> VisitRow:
    readings = digest(visit.readings.read_bytes())
    notes = b"" if visit.notes_file is None else visit.notes_file.read_bytes()
    inputs = digest(layout.encode(), readings.encode(), notes, version.encode(), f"{TRIALS} {SEED}".encode())
    day = None if visit.date is None else visit.date.isoformat()
    return VisitRow(
        name, visit.name, position, day, int(visit.adjusted), visit.notes.note, layout, readings, inputs
    )  # fmt: skip


def rows_of(
    machine: Machine,
    visits: tuple[VisitRow, ...],
    known: MachineRows | None,
    done: Callable[[int], object] = lambda _: None,
) -> MachineRows:
    """All rows of a machine; results of visits whose inputs are those of ``known`` are taken from there.

    Parameters
    ----------
    done : callable
        Is told 1 after every visit.
    """
    kept = {} if known is None else {row.visit: row.inputs_hash for row in known.visits}
    same = {row.visit for row in visits if kept.get(row.visit) == row.inputs_hash}
    results = results_of(machine, lambda visit: FEW_TRIALS if visit.name in same else TRIALS, done=done)
    name = visits[0].machine if visits else machine.folder.name
    told: list[ResultRow] = []
    for visit in machine.visits:
        if visit.name in same and known is not None:
            told += [row for row in known.results if row.visit == visit.name]
            continue
        for task in results.tasks():
            if (visit.name, task) in results.measured:
                told += _results(name, visit.name, results.measured[visit.name, task])
    changes = [row for each in changes_of(results) for row in _changes(name, each, results)]
    trends = [_trend(name, each, results) for each in trends_of(results)]
    problems = tuple(_problem(name, machine.folder, each) for each in results.problems)
    return MachineRows(visits, tuple(told), tuple(changes), tuple(trends), problems)


def _problem(name: str, folder: Path, each: VisitProblem) -> ProblemRow:
    return ProblemRow(name, each.visit, each.task, each.message.replace(f"{folder}{os.sep}", ""))


def _scale(layout: Layout, measured: Measured, component: str, kind: str) -> tuple[str, float]:
    limit = next((each.limit for each in measured.definition.values if each.name == component), None)
    scale = scale_of(kind, limit, layout.units)
    return f"{scale.unit}{scale.behind}", scale.number(1.0)


def _results(name: str, visit: str, measured: Measured) -> list[ResultRow]:
    evidence = measured.evidence
    rows = [_result(name, visit, measured, each) for each in measured.components]
    rows += [
        ResultRow(name, visit, evidence.task.name, each.component, evidence.task.quantity,
                  measured.definition.reference, "", None, None, None, None, None, "not proven", None, "", 1.0)
        for each in measured.unreached
    ]  # fmt: skip
    return rows


def _result(name: str, visit: str, measured: Measured, each: Component) -> ResultRow:
    evidence, upper, lower = measured.evidence, None, None
    if each.limit is not None:
        upper, lower = bounds_of(each.limit, each.lower is not None)
    return ResultRow(
        name, visit, evidence.task.name, each.name, evidence.task.quantity, measured.definition.reference,
        str(each.kind), each.value, each.standard_uncertainty, each.expanded_uncertainty, lower, upper,
        None if each.verdict is None else str(each.verdict.word),
        None if each.verdict is None else each.verdict.probability,
        *_scale(evidence.layout, measured, each.name, each.kind),
    )  # fmt: skip


def _changes(name: str, each: Change, results: MachineResults) -> list[ChangeRow]:
    return [
        ChangeRow(
            name, each.task, value.name, each.one, each.two, value.change, value.standard_uncertainty,
            value.expanded_uncertainty, int(value.proven), int(_is_worse(each, value)), each.sentence,
            *_scale(results.layouts[each.two], each.after, value.name, value.kind),
        )
        for value in each.values
    ]  # fmt: skip


def _is_worse(each: Change, value: ChangedValue) -> bool:
    """Whether less of the limit is left, proven; of a value without a limit, whether it is proven to be larger."""
    component = next(part for part in each.after.components if part.name == value.name)
    if not value.proven:
        return False
    if component.limit is None:
        return abs(value.after) > abs(value.before)
    upper, lower = bounds_of(component.limit, component.lower is not None)

    def left(number: float) -> float:
        return upper - number if lower is None else min(upper - number, number - lower)

    return left(value.after) < left(value.before)


def _trend(name: str, each: Trend, results: MachineResults) -> TrendRow:
    measured = results.of_task(each.task)[-1][1]
    reach = each.reach[0] if each.reach else Reach(Outlook.NO_TREND, 0.0)
    when, earliest, latest = (
        None if day is None else day.isoformat() for day in (reach.when, reach.earliest, reach.latest)
    )
    unit, factor = _scale(measured.evidence.layout, measured, each.of if not each.station else "", each.kind)
    return TrendRow(
        name, each.task, each.of, each.station, each.component, each.dates[0].isoformat(), each.dates[-1].isoformat(),
        len(each.dates), each.slope, each.slope_u, each.expanded_uncertainty, each.scatter, int(each.proven),
        str(reach.outlook) if each.reach else None, reach.limit if each.reach else None, when, earliest, latest,
        unit, factor,
    )  # fmt: skip
