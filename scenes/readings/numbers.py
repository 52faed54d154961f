"""Columns of numbers: decimal point or decimal comma, missing values, and thousands separators that are refused.

``1,234`` may be one and a bit or one thousand and a bit, a factor of 1000 on a result. So the whole file is asked:
other numbers may show that it writes a decimal comma (``0,5``) or a decimal point (``12.5``). Where nothing shows it,
only a file separated by semicolons is believed, because programs that write a decimal comma separate by semicolons.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from ..units import parse_number
from ..vectors import Floats
from .headers import Column
from .journal import Journal
from .table import Table

__all__ = ["MISSING", "number_columns"]

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


def number_columns(table: Table, columns: Mapping[str, Column], journal: Journal) -> dict[str, Floats]:
    """Own name -> values in SI units, one per row; nan where missing or where the journal has a problem."""
    points: list[_Place] = []
    commas: list[_Place] = []
    either: list[_Place] = []
    values = {}
    for name, column in columns.items():
        cells = [cell.replace("−", "-") for cell in table.column(column.field)]
        numbers = np.full(len(cells), np.nan)
        for k, cell in enumerate(cells):
            if cell.lower() in MISSING:
                continue
            place = (table.lines[k], column.field + 1, cell)
            if _POINT.fullmatch(cell):
                if "." in cell:
                    points.append(place)
            elif _COMMA.fullmatch(cell):
                (either if _EITHER.fullmatch(cell) else commas).append(place)
            else:
                _no_number(place, column, journal)
                continue
            numbers[k] = _value(place, column, journal)
        values[name] = numbers * column.factor
    _check_decimal_sign(points, commas, either, table.delimiter, journal)
    return values


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


def _check_decimal_sign(
    points: list[_Place], commas: list[_Place], either: list[_Place], delimiter: str, journal: Journal
) -> None:
    if points and commas:
        line, field, cell = commas[0]
        other_line, _, other = points[0]
        message = f"{cell!r} has a decimal comma, {other!r} in line {other_line} a decimal point"
        journal.problem(line, field, message, "write all numbers of a file in one way")
    elif points:
        for line, field, cell in either:
            message = f"{cell!r} has a thousands separator (line {points[0][0]} has a decimal point)"
            journal.problem(line, field, message, "write the number without it")
    elif not commas and delimiter != ";":
        for line, field, cell in either:
            whole = cell.replace(",", "")
            message = f"{cell!r} has a comma that may be a decimal comma or a thousands separator"
            journal.problem(line, field, message, f"write {cell.replace(',', '.')} or {whole}")
