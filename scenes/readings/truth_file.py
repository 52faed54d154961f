"""Truth from a CSV file: what the machine should be in simulated readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..errors import ReadingsError
from ..hints import did_you_mean
from ..model.layout import Layout
from ..model.truth import Truth
from .header_rows import Expected
from .headers import Column, Vocabulary, matched_columns
from .journal import Journal
from .numbers import number_columns
from .sources import table_of
from .table import Table, check_lengths
from .text_file import bytes_of, source_name

__all__ = ["read_truth", "read_truth_text"]

_WORDS = Vocabulary(
    kinds={"station": "text", "up": "length", "aside": "length", "nod": "angle", "swing": "angle"},
    other_names={"name": "station", "deviation": "up", "height": "up", "side": "aside"},
    unused=frozenset({"note"}),
    mapping={},
)
_LARGEST = {"length": 0.1, "angle": 0.1}
"""Metres and rad; what is more is a wrong unit."""


def read_truth(path: str | Path, layout: Layout) -> Truth:
    """Truth in the file ``path`` (``-``: standard input).

    The columns are ``station`` and one or more of ``up [um]``, ``aside [um]``, ``nod [arcsec]`` and ``swing [arcsec]``,
    in any unit; stations that are not named, and cells left empty, are at 0.

    Raises
    ------
    ReadingsError
        With every problem of the file.
    """
    journal = Journal(source_name(path))
    return _truth(bytes_of(path, journal), layout, journal)


def read_truth_text(text: str | bytes, layout: Layout, file: str = "standard input") -> Truth:
    """Truth in ``text``, as ``read_truth`` returns it; ``file`` is what messages call the text."""
    journal = Journal(file)
    data = text.encode("utf-8", errors="replace") if isinstance(text, str) else text
    return _truth(data, layout, journal)


def _truth(data: bytes | None, layout: Layout, journal: Journal) -> Truth:
    table = None
    if data is not None:
        table, journal = table_of(data, Expected(_WORDS.is_known), journal)
    columns = {} if table is None else matched_columns(table, _WORDS, journal)
    if table is not None and not journal.problems:
        _check_needed(table, columns, journal)
    if table is None or journal.problems:
        raise ReadingsError(journal.sorted_problems())
    parts = {name: column for name, column in columns.items() if name != "station"}
    check_lengths(table, [columns["station"].field], journal)
    values = number_columns(table, parts, journal)
    names = _stations(table, columns["station"], layout, journal)
    for name, column in parts.items():
        for k in np.flatnonzero(np.abs(values[name]) > _LARGEST[column.kind]).tolist():
            message = f"{column.header}: {table.rows[k][column.field]} is more than a machine is ever off"
            journal.problem(table.lines[k], column.field + 1, message, "check the unit in the header")
    if journal.problems:
        raise ReadingsError(journal.sorted_problems())
    return Truth(**{
        part: {name: float(value) for name, value in zip(names, values[part], strict=True) if np.isfinite(value)}
        for part in parts
    })  # fmt: skip


def _check_needed(table: Table, columns: dict[str, Column], journal: Journal) -> None:
    found = ", ".join(repr(cell) for cell in table.header if cell)
    if "station" not in columns:
        journal.problem(table.header_line, 0, "there is no column station", f"found here: {found}")
    if len(columns) == ("station" in columns):
        message = "there is no column of values: up [um], aside [um], nod [arcsec] or swing [arcsec]"
        journal.problem(table.header_line, 0, message, f"found here: {found}")
    if not table.rows and not journal.problems:
        journal.problem(table.header_line, 0, "there are no stations below the headers")


def _stations(table: Table, column: Column, layout: Layout, journal: Journal) -> list[str]:
    names = table.column(column.field)
    first: dict[str, int] = {}
    for name, line in zip(names, table.lines, strict=True):
        if name not in layout.stations:
            advice = did_you_mean(name, layout.stations)
            journal.problem(line, column.field + 1, f"the layout has no station {name!r}", advice)
        elif layout.stations[name].is_datum:
            message = f"{name} marks the base line, which deviations are counted from"
            journal.problem(line, column.field + 1, message, "leave it out: it stands at nought")
        elif name in first:
            message = f"{name} stands here and in line {first[name]}"
            journal.problem(line, column.field + 1, message, "name every station once")
        first.setdefault(name, line)
    return names
