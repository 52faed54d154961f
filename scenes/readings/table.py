"""A table of texts: one row of headers, then records, each with its true line in the file.

The parsing is that of Python's csv module; this module finds the delimiter, leaves out comments and blank rows, and
keeps line numbers right where a quoted field runs over several lines.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from .journal import Journal

__all__ = [
    "CALCULATE",
    "DELIMITERS",
    "NO_VALUE",
    "Formula",
    "Table",
    "Typed",
    "check_lengths",
    "delimiter_of",
    "records_of",
    "table_from_text",
]

SPACES = "  "
DELIMITERS = {";": "semicolon", "\t": "tab", ",": "comma", SPACES: "run of spaces"}
_RUN_OF_SPACES = re.compile(r"\t+| {2,}")
_HINT = re.compile(r'"?sep=(.)"?')


@dataclass(frozen=True, slots=True)
class Table:
    """Cells without surrounding blanks; every row is padded to the width of the header.

    Attributes
    ----------
    header, header_line : tuple of str, int
    rows : tuple of rows
    lines : tuple of int
        Line of the file where the row begins, counted from 1.
    lengths : tuple of int
        Fields that the row has in the file, blank ones at its end not counted beyond the header.
    header_fields, fields : tuple of int, and one such tuple per row
        Where the cells stand in the file, counted from 0; empty where that is their place in the table.
    """

    delimiter: str
    header: tuple[str, ...]
    header_line: int
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    lengths: tuple[int, ...]
    header_fields: tuple[int, ...] = ()
    fields: tuple[tuple[int, ...], ...] = ()

    def place(self, row: int, field: int) -> tuple[int, int]:
        """Line and column in the file, counted from 1, of a cell of the table."""
        return self.lines[row], (self.fields[row][field] if self.fields else field) + 1

    def header_place(self, field: int) -> tuple[int, int]:
        """Line and column in the file, counted from 1, of the header of a column."""
        return self.header_line, (self.header_fields[field] if self.header_fields else field) + 1

    def column(self, field: int) -> list[str]:
        """Cells of the column ``field``, counted from 0."""
        return [row[field] for row in self.rows]


class Typed(str):
    """A cell that holds a number and no text, so that its decimal mark says nothing; written with a decimal point."""

    __slots__ = ()


class Formula(str):
    """A cell of a spreadsheet with a formula that was never calculated; it is written as ``=...``."""

    __slots__ = ()


NO_VALUE = "the cell holds a formula without a value"
CALCULATE = "open the file in a spreadsheet program, let it calculate, and save it"


class _Lines:
    """Lines of a text for the csv reader; comment lines are left out where a record may begin, not inside a quote."""

    def __init__(self, text: str) -> None:
        self._stream = io.StringIO(text, newline="")
        self.number = 0
        self.start = 0
        self.fresh = True

    def __iter__(self) -> _Lines:
        return self

    def __next__(self) -> str:
        for line in self._stream:
            self.number += 1
            if self.fresh:
                if line.lstrip(" ").startswith("#"):
                    continue
                self.fresh = False
                self.start = self.number
            return line
        raise StopIteration


def records_of(text: str, delimiter: str, journal: Journal | None) -> Iterator[tuple[int, list[str]]]:
    """Line and cells of every record that is not blank; a broken quote ends them, with a problem."""
    if delimiter == SPACES:
        yield from _spaced_records(text)
        return
    lines = _Lines(text)
    reader = csv.reader(lines, delimiter=delimiter, skipinitialspace=delimiter != "\t", strict=True)
    while True:
        lines.fresh = True
        try:
            cells = [cell.strip() for cell in next(reader)]
        except StopIteration:
            return
        except csv.Error as error:
            if journal is not None:
                journal.problem(lines.start, 0, *_broken(str(error), delimiter))
            return
        if any(cells):
            yield lines.start, cells


def _spaced_records(text: str) -> Iterator[tuple[int, list[str]]]:
    """Line and cells of every line that is not blank; its cells stand apart by several spaces or by tabs."""
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1):
        if line.strip() and not line.lstrip(" ").startswith("#"):
            yield number, [cell.strip() for cell in _RUN_OF_SPACES.split(line.strip())]


def _broken(error: str, delimiter: str) -> tuple[str, str]:
    if "unexpected end" in error or "field larger" in error:
        return "a quotation mark opens a field here and is never closed", 'write a quotation mark in a text as ""'
    if "expected after" in error:
        return (
            f"a quoted field is followed by text instead of a {DELIMITERS[delimiter]}",
            'write a quotation mark in a text as ""',
        )
    return f"the row cannot be taken apart: {error}", ""


def table_from_text(text: str, is_known: Callable[[str], bool], journal: Journal) -> Table | None:
    """Table in ``text``, or None where the journal says why there is none.

    Parameters
    ----------
    is_known : callable
        Tells whether a text is one of the headers looked for; the delimiter that brings most of them to light is taken.
    """
    before = len(journal.problems)
    delimiter = delimiter_of(text, is_known)
    records = records_of(text, delimiter, journal)
    first = next(records, None)
    if first is not None and _hint(text):
        first = next(records, None)  # a spreadsheet's hint for the delimiter stands before the header
    if first is None:
        if len(journal.problems) == before:
            journal.problem(0, 0, "the file has no row of headers", "only comments or blank lines were found")
        return None
    header_line, header = first
    width = len(header)
    rows, lines, lengths = [], [], []
    for line, row in records:
        while len(row) > width and not row[-1]:
            row.pop()
        lines.append(line)
        lengths.append(len(row))
        rows.append((*row[:width], *[""] * (width - len(row))))
    return Table(delimiter, tuple(header), header_line, tuple(rows), tuple(lines), tuple(lengths))


def _hint(text: str) -> str:
    """Delimiter that a spreadsheet program states in a first line such as ``sep=;``, or empty."""
    found = _HINT.fullmatch(re.split(r"[\r\n]", text[:16], maxsplit=1)[0])
    return found.group(1) if found else ""


def delimiter_of(text: str, is_known: Callable[[str], bool]) -> str:
    """Delimiter that brings most known headers to light in the first record of ``text``."""
    if _hint(text) in DELIMITERS:
        return _hint(text)

    def score(delimiter: str) -> tuple[int, int]:
        _, header = next(records_of(text, delimiter, None), (0, []))
        return sum(is_known(cell) for cell in header), len(header)

    return max(DELIMITERS, key=score)


def check_lengths(table: Table, needed: Collection[int], journal: Journal) -> None:
    """Note every row that has more fields than the header, or ends before one of the columns ``needed``."""
    width = len(table.header)
    for row, line, length in zip(table.rows, table.lines, table.lengths, strict=True):
        if length > width:
            advice = "a text with the delimiter in it must be quoted"
            if table.delimiter == ",":
                advice = 'a decimal comma must be quoted ("1,5") or the file separated by semicolons'
            journal.problem(line, width + 1, f"the row has {length} fields, the header {width}", advice)
        elif missing := [field for field in needed if field >= length]:
            others = [
                name for mark, name in DELIMITERS.items() if mark not in (table.delimiter, SPACES) and mark in row[0]
            ]
            advice = "leave a field empty where nothing was read, but keep its delimiter"
            if others:
                advice = f"the header has {DELIMITERS[table.delimiter]}s between its fields, this row {others[0]}s"
            names = ", ".join(table.header[field] for field in sorted(missing))
            fields = "1 field" if length == 1 else f"{length} fields"
            journal.problem(line, length, f"the row ends after {fields}, before {names}", advice)
