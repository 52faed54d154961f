"""The folder of a machine: its layout and one file of readings per visit, all text, made for version control.

::

    press 4/
        layout.yaml
        visits/2026-03-14 as found.csv
        visits/2026-03-14 as found.yaml      notes, where there are any
        visits/2026-03-15 as left.csv

Results are never stored here: they follow from these files at any time. ``readings`` is taken for ``visits`` too.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from ..errors import InputError, Problem, ReadingsError
from ..hints import listed
from ..layout.read import read_layout
from ..model.layout import Layout
from ..model.readings import Readings
from ..readings.columns import visit_of_file
from ..readings.read import read_readings
from .visit_notes import VisitNotes, date_of_text, read_notes

__all__ = ["FOLDERS", "LAYOUT", "Machine", "MachineVisit", "find_machines", "is_machine", "read_machine",
           "readings_of_visit"]  # fmt: skip

LAYOUT = "layout.yaml"
FOLDERS = ("visits", "readings")
TABLES = (".csv", ".txt", ".tsv", ".xlsx")
NOTES = (".yaml", ".yml")
DATED = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[ _-]+(.*))?", re.ASCII)
AS_LEFT = "as left"
"""A visit of this name shows the machine after it was moved."""


@dataclass(frozen=True, slots=True)
class MachineVisit:
    """One visit of a machine.

    Attributes
    ----------
    name : str
        That of its file, date included; no two visits of a machine have the same.
    date : date, optional
        From the name of the file, or from the notes.
    readings : Path
    notes_file : Path, optional
    layout : Path
        The layout that it was read by.
    notes : VisitNotes
    adjusted : bool
        True where the machine was moved on purpose since the visit before.
    """

    name: str
    date: date | None
    readings: Path
    notes_file: Path | None
    layout: Path
    notes: VisitNotes
    adjusted: bool


@dataclass(frozen=True, slots=True)
class Machine:
    """A machine with its visits, in the order of time; visits without a date stand first, by their names."""

    folder: Path
    visits: tuple[MachineVisit, ...]

    @property
    def layout(self) -> Path:
        """The layout of the machine."""
        return self.folder / LAYOUT


def is_machine(folder: Path) -> bool:
    """Whether a folder is that of a machine: a layout, and a folder of visits."""
    return (folder / LAYOUT).is_file() and any((folder / name).is_dir() for name in FOLDERS)


def find_machines(root: Path) -> Iterator[Path]:
    """Folders of machines at and below ``root``, sorted; hidden folders and links are left alone.

    Raises
    ------
    InputError
        Where there is no such folder.
    """
    if not root.is_dir():
        raise InputError([Problem(str(root), 0, 0, "there is no such folder", "name a folder of machines")])
    for place, inner, _ in os.walk(root):
        inner[:] = sorted(name for name in inner if not name.startswith("."))
        if is_machine(Path(place)):
            inner[:] = [name for name in inner if name not in FOLDERS]
            yield Path(place)


def read_machine(folder: Path | str) -> Machine:
    """A machine and its visits; their readings are read by `readings_of_visit`.

    Raises
    ------
    InputError
        With all that is wrong with names and notes.
    """
    folder = Path(folder)
    if not is_machine(folder):
        advice = f"it holds {LAYOUT} and a folder {FOLDERS[0]} with one file of readings per visit"
        raise InputError([Problem(str(folder), 0, 0, "this is no folder of a machine", advice)])
    problems: list[Problem] = []
    visits: list[MachineVisit] = []
    for place in (folder / name for name in FOLDERS):
        files = sorted(place.iterdir()) if place.is_dir() else []
        tables = [file for file in files if file.suffix.lower() in TABLES and not file.name.startswith((".", "~"))]
        problems += _idle_notes(files, tables)
        for table in tables:
            try:
                visits.append(_visit(folder, table))
            except InputError as error:
                problems += error.problems
    problems += _named_twice(visits)
    if problems:
        raise InputError(problems)
    return Machine(folder, tuple(sorted(visits, key=_order)))


def _order(visit: MachineVisit) -> tuple[date, bool, str]:
    """Order of time; on one day, what was found stands before what was left."""
    return visit.date or date.min, visit.adjusted, visit.name


def _idle_notes(files: list[Path], tables: list[Path]) -> list[Problem]:
    """Notes that belong to no readings."""
    stems = {table.stem for table in tables}
    return [
        Problem(str(file), 0, 0, "these notes belong to no visit", f"call them as the readings: {file.stem}.csv")
        for file in files
        if file.suffix.lower() in NOTES and not file.name.startswith(".") and file.stem not in stems
    ]


def _named_twice(visits: list[MachineVisit]) -> list[Problem]:
    seen: dict[str, Path] = {}
    problems = []
    for visit in visits:
        if visit.name in seen:
            problems.append(
                Problem(str(visit.readings), 0, 0, f"the visit {visit.name!r} has two files", str(seen[visit.name]))
            )
        seen.setdefault(visit.name, visit.readings)
    return problems


def _visit(folder: Path, table: Path) -> MachineVisit:
    beside = next((table.with_suffix(suffix) for suffix in NOTES if table.with_suffix(suffix).is_file()), None)
    notes = VisitNotes() if beside is None else read_notes(beside)
    found = DATED.fullmatch(table.stem)
    day, rest = notes.date, visit_of_file(table.name)
    if found:
        try:
            stated = date_of_text(found.group(1))
        except ValueError as error:
            raise InputError(
                [Problem(str(table), 0, 0, str(error), "a visit is called 2026-03-14 as found.csv")]
            ) from None
        if day is not None and day != stated:
            raise InputError([Problem(str(beside), 0, 0, f"the notes say {day}, the name of the file {stated}")])
        day, rest = stated, visit_of_file(found.group(2) or "")
    layout = folder / (notes.layout or LAYOUT)
    if not layout.is_file():
        raise InputError([Problem(str(beside), 0, 0, f"there is no layout {notes.layout}", KEYS_LAYOUT)])
    name = f"{day} {rest}".strip() if found else rest
    adjusted = rest == AS_LEFT if notes.adjusted is None else notes.adjusted
    return MachineVisit(name, day, table, beside, layout, notes, adjusted)


KEYS_LAYOUT = "the path counts from the folder of the machine"


def readings_of_visit(visit: MachineVisit, layout: Layout | None = None) -> tuple[Layout, Readings]:
    """Layout and readings of a visit, all under its name.

    Raises
    ------
    LayoutError, ReadingsError
        With all that is wrong in either file; also where a file holds more than one visit.
    """
    plan = read_layout(visit.layout) if layout is None else layout
    readings = read_readings([visit.readings], plan)
    named = tuple(dict.fromkeys(readings.visit))
    if len(named) > 1:
        message = f"it holds {len(named)} visits: {listed(named)}"
        raise ReadingsError([Problem(str(visit.readings), 0, 0, message, "keep one file per visit")])
    return plan, replace(readings, visit=(visit.name,) * len(readings))
