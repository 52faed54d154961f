"""Columns of numbers: decimal point or decimal comma, missing values, and thousands separators that are refused.

``1,234`` may be one and a bit or one thousand and a bit, a factor of 1000 on a result. So the whole file is asked:
other numbers may show that it writes a decimal comma (``0,5``) or a decimal point (``12.5``). Where nothing shows it,
only a file separated by semicolons is believed, because programs that write a decimal comma separate by semicolons.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..units import parse_number
from ..vectors import Floats
from .headers import Column
from .journal import Journal
from .table import CALCULATE, NO_VALUE, Formula, Table, Typed

__all__ = ["MISSING", "DecimalMarks", "number_columns"]

MISSING = frozenset({"", "-", "–", "—", "n/a", "na", "n.a.", "nan"})
"""Cells, in lower case, that say that nothing was read."""

_POINT = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[+-]?(?:\d+,\d*|,\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_EITHER = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)
_THOUSANDS = re.compile(
    r"[+-]?\d{1,3}(?P<mark>[.,'’_ \u00a0\u2009\u202f])\d{3}(?:(?P=mark)\d{3})*(?:[.,]\d+)?", re.ASCII
)
_WITH_UNIT = re.compile(r"[+-]?[\d.,]+\s*[A-Za-zµμ\"″°%/]+", re.ASCII)

_LARGEST = 1e15  # in any unit; beyond it sums and conversions could overflow

_Place = tuple[int, int, str]  # line, column from 1, text


@dataclass(slots=True)
class DecimalMarks:
    """Which decimal mark a file writes, as far as it is known.

    Attributes
    ----------
    stated : str
        ``point`` or ``comma`` where the layout says so, else empty.
    point, comma : (line, column, text), optional
        The first number of the file that shows such a mark.
    """

    stated: str = ""
    point: _Place | None = None
    comma: _Place | None = None


def number_columns(
    table: Table, columns: Mapping[str, Column], journal: Journal, marks: DecimalMarks | None = None
) -> dict[str, Floats]:
    """Own name -> values in SI units, one per row; nan where missing or where the journal has a problem.

    Parameters
    ----------
    marks : DecimalMarks, optional
        What is known of the decimal mark from the layout and from earlier records of the file; what this table shows
        is added.
    """
    seen: dict[str, list[_Place]] = {"point": [], "comma": [], "either": []}
    values = {}
    for name, column in columns.items():
        cells = table.column(column.field)
        numbers = np.full(len(cells), np.nan)
        for k, cell in enumerate(cells):
            if cell.lower() in MISSING:
                continue
            place = (*table.place(k, column.field), cell)
            titled = replace(column, header=table.title(k, column.field)) if table.titles else column
            if isinstance(cell, Formula):
                journal.problem(*place[:2], f"{titled.header}: {NO_VALUE}", CALCULATE)
                continue
            place = (*place[:2], cell.replace("−", "-"))
            kind = "" if isinstance(cell, Typed) else _mark(place[2])
            if kind is None:
                _no_number(place, titled, journal)
                continue
            if kind:
                seen[kind].append(place)
            numbers[k] = _value(place, titled, journal)
        values[name] = numbers * column.factor
    _check_decimal_mark(seen, marks or DecimalMarks(), table.delimiter, journal)
    return values


def _mark(cell: str) -> str | None:
    """Which mark a number shows: ``point``, ``comma``, ``either``, or none (empty); None where it is no number."""
    if _POINT.fullmatch(cell):
        return "point" if "." in cell else ""
    if _COMMA.fullmatch(cell):
        return "either" if _EITHER.fullmatch(cell) else "comma"
    return None


def _value(place: _Place, column: Column, journal: Journal) -> float:
    line, field, cell = place
    try:
        value = parse_number(cell)
        if abs(value) > _LARGEST:
            raise ValueError(f"{cell!r} is too large")
    except ValueError as error:
        journal.problem(line, field, f"{column.header}: {error}")
        return float("nan")
    return value


def _no_number(place: _Place, column: Column, journal: Journal) -> None:
    line, field, cell = place
    shown = cell if len(cell) <= 40 else f"{cell[:40]}..."
    if _THOUSANDS.fullmatch(cell):
        message, advice = f"{shown!r} has a thousands separator", "write the number without it"
    elif _WITH_UNIT.fullmatch(cell):
        message, advice = f"{shown!r} is not a plain number", "the unit stands in the header, not in the cells"
    elif column.kind == "time" and ":" in cell:
        message = f"{shown!r} is not a number of {column.unit}"
        advice = "for times of day write the header without a unit"
    else:
        message, advice = f"{shown!r} is not a number", "leave the cell empty, or write -, where nothing was read"
    journal.problem(line, field, f"{column.header}: {message}", advice)


def _check_decimal_mark(
    seen: Mapping[str, list[_Place]], marks: DecimalMarks, delimiter: str, journal: Journal
) -> None:
    points, commas, either = seen["point"], seen["comma"], seen["either"]
    if marks.stated:
        wrong = points if marks.stated == "comma" else [*commas, *either]
        other = {"comma": "point", "point": "comma"}[marks.stated]
        for line, field, cell in wrong:
            message = f"{cell!r} has a decimal {other}; the layout says that readings have a decimal {marks.stated}"
            journal.problem(line, field, message, "correct the number, or decimal under readings in the layout")
        return
    point, comma = marks.point or next(iter(points), None), marks.comma or next(iter(commas), None)
    if point and comma:
        (line, field, cell), (other_line, _, other) = (comma, point) if not marks.comma else (point, comma)
        odd, usual = ("comma", "point") if not marks.comma else ("point", "comma")
        message = f"{cell!r} has a decimal {odd}, {other!r} in {journal.at(other_line)} a decimal {usual}"
        journal.problem(line, field, message, "write all numbers of a file in one way")
    elif point:
        for line, field, cell in either:
            message = f"{cell!r} has a thousands separator ({journal.at(point[0])} has a decimal point)"
            journal.problem(line, field, message, "write the number without it")
    elif not comma and delimiter != ";":
        for line, field, cell in either:
            whole = cell.replace(",", "")
            message = f"{cell!r} has a comma that may be a decimal comma or a thousands separator"
            advice = f"write {cell.replace(',', '.')} or {whole}"
            journal.problem(line, field, message, advice)
    marks.point, marks.comma = marks.point or point, marks.comma or comma
