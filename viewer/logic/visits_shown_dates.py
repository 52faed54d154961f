"""Dates of the visits of a session: from the folder of the machine where the layout lies in one, else from names."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from scenes.errors import InputError
from scenes.readings.columns import visit_of_file
from scenes.visits.machine import AS_LEFT, Machine, is_machine, read_machine
from viewer.logic.session import Session

__all__ = ["VisitDate", "dates_of"]

DATED = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[ _-]+(.*))?", re.ASCII)


@dataclass(frozen=True, slots=True)
class VisitDate:
    """When a visit was, what was changed or certified anew before it, and whether the machine was moved on purpose."""

    date: date
    anew: tuple[str, ...] = ()
    adjusted: bool = False


def dates_of(session: Session) -> dict[str, VisitDate]:
    """Dates of those visits that have one, by the name of the visit."""
    machine = _machine_of(session)
    noted = {} if machine is None else _noted(machine)
    found = {}
    for visit in () if session.survey is None else session.survey.visits:
        told = noted.get(visit) or _from_name(visit)
        if told is not None:
            found[visit] = told
    return found


def _machine_of(session: Session) -> Machine | None:
    """The machine in whose folder the layout lies."""
    folder = Path(session.layout.file).parent if session.layout.file else None
    if folder is None or not is_machine(folder):
        return None
    try:
        return read_machine(folder)
    except InputError:
        return None  # its files tell why in the history; here only dates are missing


def _noted(machine: Machine) -> dict[str, VisitDate]:
    """Dates by every name that a visit of the machine may have here: its own, or that of its file."""
    found: dict[str, VisitDate] = {}
    for visit in machine.visits:
        if visit.date is not None:
            told = VisitDate(visit.date, tuple(visit.notes.changed), visit.adjusted)
            found |= {visit.name: told, visit_of_file(visit.readings.name): told}
    return found


def _from_name(visit: str) -> VisitDate | None:
    match = DATED.fullmatch(visit)
    if match is None:
        return None
    try:
        day = date.fromisoformat(match.group(1))
    except ValueError:
        return None
    return VisitDate(day, (), (match.group(2) or "").replace("_", " ").strip().casefold() == AS_LEFT)
