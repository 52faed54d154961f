"""The records of one readings file: names resolved against the layout, values in SI units and in the model's signs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..model.layout import Layout
from ..vectors import Floats
from .columns import reading_words, visit_name
from .header_rows import Expected
from .headers import Column, Vocabulary, matched_columns, split_header
from .journal import Journal
from .numbers import MISSING, DecimalMarks, number_columns
from .row_names import setups_of_rows, stations_of_rows, targets_of_rows, texts
from .row_values import angles_of_rows, check_offsets, clocks_of_rows, places_of_rows, sides_of_rows
from .sources import table_of
from .table import CALCULATE, NO_VALUE, SPACES, Formula, Table, check_lengths
from .times import TIME_ADVICE, Moment, moment_from_count, moment_from_text
from .wide import ordinary_table
from .wide_patterns import WidePatterns

__all__ = ["Records", "expected_table", "ordinary_form", "records_from_bytes", "records_from_table"]

VALUES = ("h", "v", "pitch", "yaw")
"""Columns of which a record needs at least one."""


@dataclass(frozen=True, slots=True, eq=False)
class Records:
    """Columns of one file, with only the rows in which something was read.

    ``line`` and ``column`` are the places of their times, or of the rows where no time is recorded.
    """

    visit: list[str]
    setup: list[str]
    station: list[str]
    note: list[str]
    h: Floats
    v: Floats
    pitch: Floats
    yaw: Floats
    clock: Floats
    side: NDArray[np.int64]
    mount_offset: Floats
    moment: list[Moment | None]
    line: list[int]
    column: list[int]
    journal: Journal


def expected_table(layout: Layout) -> Expected:
    """What the layout says of tables of readings."""
    words, stated = reading_words(layout), layout.readings
    delimiter = DELIMITER_WORDS.get(stated.delimiter, "")
    if stated.wide is None:
        return Expected(words.is_known, stated.headers, delimiter)
    own = words.own_names()
    patterns = WidePatterns(stated.wide, words)

    def is_value(header: str) -> bool:
        return patterns.said(header) is not None

    def names_rows(header: str) -> bool:
        return own.get(split_header(header)[0]) == "station"

    return Expected(patterns.is_known, stated.headers, delimiter, names_rows, is_value)


DELIMITER_WORDS = {"comma": ",", "semicolon": ";", "tab": "\t", "spaces": SPACES}
"""Word of the layout -> delimiter."""


def records_from_bytes(data: bytes, layout: Layout, visit: str, journal: Journal) -> Records | None:
    """Records in ``data``, or None where the header alone shows that there are none; the journal says what is wrong.

    Parameters
    ----------
    data : bytes
        A text or a spreadsheet.
    visit : str
        Visit of the rows that do not state one.
    """
    before = len(journal.problems)
    table, own = table_of(data, expected_table(layout), journal, layout.readings.sheet)
    if table is None:
        return None
    if not table.rows and len(journal.problems) == before:
        own.problem(table.header_line, 0, "there are no records below the headers")
    return records_from_table(table, layout, visit, own)


def records_from_table(
    table: Table,
    layout: Layout,
    visit: str,
    journal: Journal,
    marks: DecimalMarks | None = None,
    words: Vocabulary | None = None,
) -> Records | None:
    """Records in ``table``, or None where its header shows that there are none; the journal says what is wrong.

    Parameters
    ----------
    visit : str
        Visit of the rows that do not state one.
    marks : DecimalMarks, optional
        What earlier records of the file have shown of its decimal mark.
    words : Vocabulary, optional
        Of the headers; with the mapping that the layout states where left out.
    """
    before = len(journal.problems)
    if words is None:
        form = ordinary_form(table, layout, journal)
        if form is None:
            return None
        table, words = form
    columns = matched_columns(table, words, journal)
    if len(journal.problems) == before:
        _check_needed(table, columns, journal)
    needed = [
        column.field for name, column in columns.items() if name == "station" or column.kind in ("length", "angle")
    ]
    check_lengths(table, needed, journal)
    if _tell_formulas(table, columns, journal):
        return None
    if len(journal.problems) > before and not _headers_hold(table, before, journal):
        _check_cells(table, columns, layout, journal)
        return None
    return _records(table, columns, layout, visit, journal, marks or DecimalMarks(layout.readings.decimal))


def ordinary_form(table: Table, layout: Layout, journal: Journal) -> tuple[Table, Vocabulary] | None:
    """Table with one record per row, and the vocabulary of its headers; None where the journal says why not."""
    words = reading_words(layout)
    if layout.readings.wide is None:
        return table, words
    patterns = WidePatterns(layout.readings.wide, words)
    if patterns.is_ordinary(table.header, VALUES):
        return table, words
    unfolded = ordinary_table(table, patterns, journal)
    return None if unfolded is None else (unfolded, replace(words, mapping=_units_alone(words)))


def _units_alone(words: Vocabulary) -> dict[str, str]:
    """Mapping of own names to themselves, with the units that the layout states."""
    units = {name: words.unit_in_mapping(name) for name in VALUES}
    return dict(words.mapping) | {name: f"{name} [{unit}]" for name, unit in units.items() if unit}


def _tell_formulas(table: Table, columns: dict[str, Column], journal: Journal) -> bool:
    """Note formulas without a value in columns of texts and times; tell whether there are any."""
    found = False
    for column in columns.values():
        if column.kind not in ("text", "time"):
            continue
        for k, cell in enumerate(table.column(column.field)):
            if isinstance(cell, Formula):
                journal.problem(*table.place(k, column.field), f"{column.header}: {NO_VALUE}", CALCULATE)
                found = True
    return found


def _headers_hold(table: Table, before: int, journal: Journal) -> bool:
    """Tell whether the problems since ``before`` leave the row of headers in order."""
    return all(problem.line > table.header_line for problem in journal.problems[before:])


def _check_cells(table: Table, columns: dict[str, Column], layout: Layout, journal: Journal) -> None:
    """Note what is wrong below headers that are wrong themselves, as far as that does not follow from the headers."""
    number_columns(table, _numeric(columns), journal, DecimalMarks(layout.readings.decimal))
    if "station" in columns:
        stations_of_rows(table, columns, layout, journal)


def _numeric(columns: dict[str, Column]) -> dict[str, Column]:
    return {name: column for name, column in columns.items() if column.kind in ("length", "angle") or column.unit}


def _check_needed(table: Table, columns: dict[str, Column], journal: Journal) -> None:
    found = ", ".join(repr(cell) for cell in table.header if cell)
    advice = f"found here: {found}; other names can be mapped in the layout, readings, columns"
    if not columns:
        advice = f"found here: {found}; state the headers of a table that has none by --columns 'station, v [um]'"
    if "station" not in columns:
        journal.problem(table.header_line, 0, "there is no column station", advice)
    if not any(name in columns for name in VALUES):
        message = "there is no column of values, h [um], v [um], pitch [arcsec] or yaw [arcsec]"
        journal.problem(table.header_line, 0, message, advice)


def _records(
    table: Table, columns: dict[str, Column], layout: Layout, visit: str, journal: Journal, marks: DecimalMarks
) -> Records:
    n = len(table.rows)
    values = number_columns(table, _numeric(columns), journal, marks)
    station = stations_of_rows(table, columns, layout, journal)
    setup = setups_of_rows(table, columns, layout, station, journal)
    targets = targets_of_rows(table, columns, layout, station, setup, journal)
    signs = {"h": layout.readings.h_right, "v": layout.readings.v_up}
    read = {axis: places_of_rows(axis, columns, values, targets, signs[axis], table, journal) for axis in signs}
    for axis in ("pitch", "yaw"):
        read[axis] = angles_of_rows(axis, columns, values, targets, table, journal)
    clock = clocks_of_rows(columns, values, layout, station, setup, table, journal)
    side = sides_of_rows(columns, layout, setup, table, journal)
    offset = np.nan_to_num(values.get("mount offset", np.zeros(n)), nan=0.0)
    check_offsets(offset, columns, table, journal)
    moment = _moments(table, columns, values, journal)
    visits = [visit_name(cell) or visit for cell in texts(table, columns, "visit")]
    notes = [note.replace("\r\n", "\n").replace("\r", "\n") for note in texts(table, columns, "note")]
    _check_notes(table, columns, journal)
    keep = _read_rows(table, station, read, journal)
    return Records(
        visit=[visits[k] for k in keep],
        setup=[setup[k] for k in keep],
        station=[station[k] for k in keep],
        note=[notes[k] for k in keep],
        h=read["h"][keep],
        v=read["v"][keep],
        pitch=read["pitch"][keep],
        yaw=read["yaw"][keep],
        clock=clock[keep],
        side=side[keep],
        mount_offset=offset[keep],
        moment=[moment[k] for k in keep],
        line=[table.lines[k] for k in keep],
        column=[table.place(k, columns["time"].field)[1] if "time" in columns else 0 for k in keep],
        journal=journal,
    )


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
            journal.problem(*table.place(k, column.field), f"{column.header}: {error}", advice)
    return moments


def _check_notes(table: Table, columns: dict[str, Column], journal: Journal) -> None:
    """Remark on notes that look like the digits behind an unquoted decimal comma."""
    if table.delimiter != ",":
        return
    for line, note in zip(table.lines, texts(table, columns, "note"), strict=True):
        if note.isdecimal():
            journal.remark(line, f"the note is the bare number {note}; a decimal comma here must be quoted")


def _read_rows(table: Table, station: list[str], read: dict[str, Floats], journal: Journal) -> list[int]:
    """Rows in which something was read; the others are remarked on."""
    nothing = np.all([np.isnan(values) for values in read.values()], axis=0)
    for k in np.flatnonzero(nothing).tolist():
        journal.remark(table.lines[k], f"station {station[k]} was not read")
    kept: list[int] = np.flatnonzero(~nothing).tolist()
    return kept
