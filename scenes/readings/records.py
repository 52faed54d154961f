"""The records of one readings file: names resolved against the layout, values in SI units and in the model's signs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..hints import did_you_mean
from ..model.devices import Target
from ..model.layout import Layout
from ..units import from_si
from ..vectors import Floats
from .columns import planned_setups, reading_words, visit_name
from .headers import Column, matched_columns
from .journal import Journal
from .numbers import MISSING, number_columns
from .table import Table, check_lengths, table_from_text
from .times import TIME_ADVICE, Moment, moment_from_count, moment_from_text

__all__ = ["Records", "records_from_text"]

WINDOW_EDGE = 1e-3
"""Share of the window by which a reading may stand beyond its edge: a display rounds."""
LARGEST_MOUNT_OFFSET = 1.0
"""Metres; blocks under a post are thinner than that by far, so more is a wrong unit."""


@dataclass(frozen=True, slots=True, eq=False)
class Records:
    """Columns of one file, with only the rows in which something was read."""

    visit: list[str]
    setup: list[str]
    station: list[str]
    note: list[str]
    h: Floats
    v: Floats
    mount_offset: Floats
    moment: list[Moment | None]
    time_column: int
    line: list[int]


def records_from_text(text: str, layout: Layout, visit: str, journal: Journal) -> Records | None:
    """Records in ``text``, or None where the header alone shows that there are none; the journal says what is wrong.

    Parameters
    ----------
    visit : str
        Visit of the rows that do not state one.
    """
    words = reading_words(layout)
    before = len(journal.problems)
    table = table_from_text(text, words.is_known, journal)
    if table is None:
        return None
    if not table.rows and len(journal.problems) == before:
        journal.problem(table.header_line, 0, "there are no records below the headers")
    before = len(journal.problems)
    columns = matched_columns(table, words, journal)
    if len(journal.problems) == before:
        _check_needed(table, columns, journal)
    needed = [column.field for name, column in columns.items() if name == "station" or column.kind == "length"]
    check_lengths(table, needed, journal)
    if len(journal.problems) > before and not _headers_hold(table, before, journal):
        _check_cells(table, columns, layout, journal)
        return None
    return _records(table, columns, layout, visit, journal)


def _headers_hold(table: Table, before: int, journal: Journal) -> bool:
    """Tell whether the problems since ``before`` leave the row of headers in order."""
    return all(problem.line > table.header_line for problem in journal.problems[before:])


def _check_cells(table: Table, columns: dict[str, Column], layout: Layout, journal: Journal) -> None:
    """Note what is wrong below headers that are wrong themselves, as far as that does not follow from the headers."""
    number_columns(table, _numeric(columns), journal)
    if "station" in columns:
        _stations(table, columns, layout, journal)


def _numeric(columns: dict[str, Column]) -> dict[str, Column]:
    return {name: column for name, column in columns.items() if column.kind == "length" or column.unit}


def _check_needed(table: Table, columns: dict[str, Column], journal: Journal) -> None:
    found = ", ".join(repr(cell) for cell in table.header if cell)
    advice = f"found here: {found}; other names can be mapped in the layout, readings, columns"
    if "station" not in columns:
        journal.problem(table.header_line, 0, "there is no column station", advice)
    if "h" not in columns and "v" not in columns:
        journal.problem(table.header_line, 0, "there is no column of values, h [um] or v [um]", advice)


def _records(table: Table, columns: dict[str, Column], layout: Layout, visit: str, journal: Journal) -> Records:
    n = len(table.rows)
    values = number_columns(table, _numeric(columns), journal)
    station = _stations(table, columns, layout, journal)
    setup = _setups(table, columns, layout, station, journal)
    _check_targets(table, columns, layout, station, journal)
    targets = [layout.targets[layout.stations[name].target] if name in layout.stations else None for name in station]
    h = _places("h", columns, values, targets, layout.readings.h_right, table, journal)
    v = _places("v", columns, values, targets, layout.readings.v_up, table, journal)
    offset = np.nan_to_num(values.get("mount offset", np.zeros(n)), nan=0.0)
    _check_offsets(offset, columns, table, journal)
    moment = _moments(table, columns, values, journal)
    visits = [visit_name(cell) or visit for cell in _texts(table, columns, "visit")]
    notes = [note.replace("\r\n", "\n").replace("\r", "\n") for note in _texts(table, columns, "note")]
    _check_notes(table, columns, journal)
    keep = _read_rows(table, station, h, v, journal)
    return Records(
        visit=[visits[k] for k in keep],
        setup=[setup[k] for k in keep],
        station=[station[k] for k in keep],
        note=[notes[k] for k in keep],
        h=h[keep],
        v=v[keep],
        mount_offset=offset[keep],
        moment=[moment[k] for k in keep],
        time_column=columns["time"].field + 1 if "time" in columns else 0,
        line=[table.lines[k] for k in keep],
    )


def _texts(table: Table, columns: dict[str, Column], name: str) -> list[str]:
    return table.column(columns[name].field) if name in columns else [""] * len(table.rows)


def _stations(table: Table, columns: dict[str, Column], layout: Layout, journal: Journal) -> list[str]:
    names = _texts(table, columns, "station")
    place = columns["station"].field + 1
    for line, length, name in zip(table.lines, table.lengths, names, strict=True):
        if length < place:
            continue  # a row that ends too early is a problem already
        if not name:
            journal.problem(line, place, "the row names no station")
        elif name not in layout.stations:
            journal.problem(line, place, f"station {name!r} is not in the layout", did_you_mean(name, layout.stations))
    return names


def _setups(
    table: Table, columns: dict[str, Column], layout: Layout, station: list[str], journal: Journal
) -> list[str]:
    """Set-up of each row: as stated, else the only one of the layout, else the only one that reads the station."""
    planned = planned_setups(layout)
    place = columns["setup"].field + 1 if "setup" in columns else 0
    only = next(iter(layout.setups), "") if len(layout.setups) == 1 else ""
    setups, unplanned = [], {}
    for line, name, stated in zip(table.lines, station, _texts(table, columns, "setup"), strict=True):
        plans = planned.get(name, [])
        setup = stated or only or (plans[0] if len(plans) == 1 else "")
        setups.append(setup)
        if stated and stated not in layout.setups:
            message, advice = f"set-up {stated!r} is not in the layout", did_you_mean(stated, layout.setups)
            journal.problem(line, place, message, advice)
        elif not setup and name in layout.stations:
            choice = ", ".join(plans or layout.setups)
            message = f"station {name!r} is read from {len(plans) or 'no'} set-ups and the row names none"
            journal.problem(line, place, message, f"state it in a column setup: {choice}")
        elif setup and name in layout.stations and setup not in plans:
            unplanned[name, setup] = line
    for (name, setup), line in unplanned.items():
        journal.remark(line, f"station {name} is not planned from set-up {setup}")
    return setups


def _check_targets(
    table: Table, columns: dict[str, Column], layout: Layout, station: list[str], journal: Journal
) -> None:
    for line, name, stated in zip(table.lines, station, _texts(table, columns, "target"), strict=True):
        if not stated or name not in layout.stations:
            continue
        planned, place = layout.stations[name].target, columns["target"].field + 1
        if stated not in layout.targets:
            journal.problem(
                line, place, f"target {stated!r} is not in the layout", did_you_mean(stated, layout.targets)
            )
        elif stated != planned:
            message = f"the row says target {stated!r}, the layout reads station {name!r} with {planned!r}"
            journal.problem(line, place, message, "zero and window of the target count: correct the row or the layout")


def _places(
    axis: str,
    columns: dict[str, Column],
    values: dict[str, Floats],
    targets: Sequence[Target | None],
    model_sign: bool,
    table: Table,
    journal: Journal,
) -> Floats:
    """Place of the spot along one axis of the detector ``(n,)``, metres, both zeros taken off; nan where not read."""
    if axis not in columns:
        return np.full(len(table.rows), np.nan)
    nan = float("nan")
    zero = np.array([getattr(target, f"zero_{axis}") if target else nan for target in targets])
    window = np.array([getattr(target, f"window_{axis}") if target else nan for target in targets])
    stated_zero = np.nan_to_num(values.get(f"{axis} zero", np.zeros(len(targets))), nan=0.0)
    place: Floats = values[axis] - stated_zero - zero
    outside: NDArray[np.bool_] = np.abs(place) > window * (0.5 + WINDOW_EDGE)
    column = columns[axis]
    for k in np.flatnonzero(outside).tolist():
        target = targets[k]
        edge = from_si(float(window[k]) / 2.0, column.unit, "length")
        message = (
            f"{column.header}: {table.rows[k][column.field]} is outside the window of target "
            f"{target.name if target else ''} (from -{edge:g} to {edge:g} {column.unit} about its zero)"
        )
        journal.problem(
            table.lines[k], column.field + 1, message, "no spot can be read there: check unit, digits and zero"
        )
    return place if model_sign else 0.0 - place


def _check_offsets(offset: Floats, columns: dict[str, Column], table: Table, journal: Journal) -> None:
    for k in np.flatnonzero(np.abs(offset) > LARGEST_MOUNT_OFFSET).tolist():
        column = columns["mount offset"]
        message = f"{column.header}: {table.rows[k][column.field]} is more than {LARGEST_MOUNT_OFFSET:g} m"
        journal.problem(table.lines[k], column.field + 1, message, "check the unit in the header")


def _moments(
    table: Table, columns: dict[str, Column], values: dict[str, Floats], journal: Journal
) -> list[Moment | None]:
    moments: list[Moment | None] = [None] * len(table.rows)
    if "time" not in columns:
        return moments
    column = columns["time"]
    for k, cell in enumerate(table.column(column.field)):
        if cell.lower() in MISSING or (column.unit and np.isnan(values["time"][k])):
            continue
        try:
            moments[k] = moment_from_count(float(values["time"][k]), cell) if column.unit else moment_from_text(cell)
        except ValueError as error:
            advice = TIME_ADVICE if not column.unit else "check the unit in the header"
            journal.problem(table.lines[k], column.field + 1, f"{column.header}: {error}", advice)
    return moments


def _check_notes(table: Table, columns: dict[str, Column], journal: Journal) -> None:
    """Remark on notes that look like the digits behind an unquoted decimal comma."""
    if table.delimiter != ",":
        return
    for line, note in zip(table.lines, _texts(table, columns, "note"), strict=True):
        if note.isdecimal():
            journal.remark(line, f"the note is the bare number {note}; a decimal comma here must be quoted")


def _read_rows(table: Table, station: list[str], h: Floats, v: Floats, journal: Journal) -> list[int]:
    """Rows in which something was read; the others are remarked on."""
    keep = []
    for k, line in enumerate(table.lines):
        if np.isnan(h[k]) and np.isnan(v[k]):
            journal.remark(line, f"station {station[k]} was not read")
        else:
            keep.append(k)
    return keep
