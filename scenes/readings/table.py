"""A table of texts: one row of headers, then records, each with its true line in the file.

The parsing is that of Python's csv module; this module finds the delimiter, leaves out comments and blank rows, and
keeps line numbers right where a quoted field runs over several lines.
"""

from __future__ import annotations

import csv
import io
import itertools
import re
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from .journal import Journal

__all__ = [
    "CALCULATE", "CELLS", "DELIMITERS", "NO_VALUE", "Expected", "Formula", "Headers", "Table", "Typed", "check_lengths",
    "delimiter_of", "headers_in", "records_of", "table_from_text", "table_of_rows",
]  # fmt: skip

SPACES = "  "
BLANKS = " "
CELLS = ""
"""In place of a delimiter: the cells of a spreadsheet."""
DELIMITERS = {";": "semicolon", "\t": "tab", ",": "comma", SPACES: "run of spaces"}
_RUNS = {SPACES: re.compile(r" {2,}"), BLANKS: re.compile(r"[ \t]+")}
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
    titles : tuple of str
        Headers of the file, where the header of the table is another.
    """

    delimiter: str
    header: tuple[str, ...]
    header_line: int
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    lengths: tuple[int, ...]
    header_fields: tuple[int, ...] = ()
    fields: tuple[tuple[int, ...], ...] = ()
    titles: tuple[str, ...] = ()

    def place(self, row: int, field: int) -> tuple[int, int]:
        """Line and column in the file, counted from 1, of a cell of the table."""
        return self.lines[row], (self.fields[row][field] if self.fields else field) + 1

    def title(self, row: int, field: int) -> str:
        """Header that stands over a cell in the file."""
        return self.titles[self.fields[row][field]] if self.titles else self.header[field]

    def header_place(self, field: int) -> tuple[int, int]:
        """Line and column in the file, counted from 1, of the header of a column."""
        return self.header_line, (self.header_fields[field] if self.header_fields else field) + 1

    def alone(self, row: int) -> Table:
        """The table with this row only."""
        fields = self.fields[row : row + 1]
        one = slice(row, row + 1)
        return replace(self, rows=self.rows[one], lines=self.lines[one], lengths=self.lengths[one], fields=fields)

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
    if delimiter in _RUNS:
        yield from _spaced_records(text, _RUNS[delimiter])
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


def _spaced_records(text: str, run: re.Pattern[str]) -> Iterator[tuple[int, list[str]]]:
    """Line and cells of every line that is not blank; its cells stand apart by runs of spaces."""
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1):
        if line.strip() and not line.lstrip(" ").startswith("#"):
            yield number, [cell.strip() for cell in run.split(line.strip())]


def _broken(error: str, delimiter: str) -> tuple[str, str]:
    if "unexpected end" in error or "field larger" in error:
        return "a quotation mark opens a field here and is never closed", 'write a quotation mark in a text as ""'
    if "expected after" in error:
        return (
            f"a quoted field is followed by text instead of a {DELIMITERS[delimiter]}",
            'write a quotation mark in a text as ""',
        )
    return f"the row cannot be taken apart: {error}", ""


@dataclass(frozen=True, slots=True)
class Expected:
    """What is known of a table before it is read.

    Attributes
    ----------
    is_known : callable
        Tells whether a text is one of the headers looked for.
    headers : tuple of str
        Headers of a table that has none.
    delimiter : str
        A key of ``DELIMITERS``; empty: the one that brings most headers to light.
    row_names, is_value : callable
        For a wide table, in which many texts may be headers: tell whether a text stands over the names of the rows, and
        whether it stands over values.
    """

    is_known: Callable[[str], bool]
    headers: tuple[str, ...] = ()
    delimiter: str = ""
    row_names: Callable[[str], bool] | None = None
    is_value: Callable[[str], bool] = bool


def table_from_text(text: str, expected: Expected, journal: Journal) -> Table | None:
    """Table in ``text``, or None where the journal says why there is none."""
    before = len(journal.problems)
    delimiter = delimiter_of(text, expected)
    records = list(records_of(text, delimiter, journal))
    if records and _hint(text):
        records = records[1:]  # a spreadsheet's hint for the delimiter stands before the header
    if not records:
        if len(journal.problems) == before:
            journal.problem(0, 0, "the file has no row of headers", "only comments or blank lines were found")
        return None
    return table_of_rows(_with_corner(records, delimiter, expected), delimiter, expected)


def _with_corner(
    rows: Sequence[tuple[int, list[str]]], delimiter: str, expected: Expected
) -> Sequence[tuple[int, list[str]]]:
    """Rows of a wide table; spaces hide that nothing stands in its upper left corner, which is put there again."""
    if delimiter not in _RUNS or expected.row_names is None:
        return rows
    width = max(len(cells) for _, cells in rows)
    full = next(k for k, (_, cells) in enumerate(rows) if len(cells) == width)
    return [
        (line, ["", *cells] if k < full and len(cells) == width - 1 else cells) for k, (line, cells) in enumerate(rows)
    ]


def table_of_rows(rows: Sequence[tuple[int, list[str]]], delimiter: str, expected: Expected) -> Table:
    """Table of rows of cells, at least one, each with its line; titles above the row of headers are left out."""
    found = headers_in([cells for _, cells in rows], expected)
    if found is not None:
        last = found.at + found.rows - 1
        header_line, header, below = rows[last][0], list(found.cells), rows[last + 1 :]
    elif expected.headers:
        header_line, header, below = 0, list(expected.headers), rows
    else:
        (header_line, header), *below = rows
    if delimiter == CELLS:  # blank cells to the right say nothing
        header = header[: max((k + 1 for k, cell in enumerate(header) if cell), default=1)]
    width = len(header)
    padded, lines, lengths = [], [], []
    for line, cells in below:
        row = list(cells)
        while len(row) > width and not row[-1]:
            row.pop()
        lines.append(line)
        lengths.append(max(len(row), width) if delimiter == CELLS else len(row))
        padded.append((*row[:width], *[""] * (width - len(row))))
    return Table(delimiter, tuple(header), header_line, tuple(padded), tuple(lines), tuple(lengths))


HEADER_WITHIN = 30
"""Rows among which the row of headers is looked for; above it may stand titles."""
MOST_OF_WIDTH = 0.7
"""Share of the cells of the fullest row, names of rows left out, from which a row may be that of headers."""


@dataclass(frozen=True, slots=True)
class Headers:
    """Where the headers of a table stand: their first row, how many rows they take, and what they say."""

    at: int
    rows: int
    cells: tuple[str, ...]


def headers_in(rows: Sequence[Sequence[str]], expected: Expected) -> Headers | None:
    """Headers of a table: the first row with two known ones, or in a wide table the first full row.

    In a wide table they may take two rows, of which the upper one holds for the cells below it and to their right,
    as in a spreadsheet whose upper headers are merged cells.
    """
    some = rows[:HEADER_WITHIN]
    if expected.row_names is None:
        at = next((k for k, cells in enumerate(some) if sum(map(expected.is_known, cells)) > 1), None)
        return None if at is None else Headers(at, 1, tuple(some[at]))
    ways = [(1, some), (2, [_joined(upper, lower) for upper, lower in itertools.pairwise(some)])]
    for count, candidates in ways:
        for k, cells in enumerate(candidates):
            if any(map(expected.row_names, cells)) and any(map(expected.is_value, cells)):
                return Headers(k, count, tuple(cells))
    for k, cells in enumerate(some):
        if any(map(expected.row_names, cells)) and sum(map(bool, cells)) > 1:
            return Headers(k, 1, tuple(cells))
    # No header names the rows: their names stand in the first column, over which there may be nothing.
    enough = max(1.0, MOST_OF_WIDTH * max((sum(map(bool, cells[1:])) for cells in some), default=0))
    for count, candidates in ways:
        for k, cells in enumerate(candidates):
            if sum(map(bool, cells[1:])) >= enough and any(map(expected.is_value, cells[1:])):
                return Headers(k, count, tuple(cells))
    return None


def _joined(upper: Sequence[str], lower: Sequence[str]) -> list[str]:
    """Two rows of headers as one: an upper header goes on to the right until the next one."""
    found, last = [], ""
    for above, below in itertools.zip_longest(upper, lower, fillvalue=""):
        last = above or last
        found.append(f"{last} {below}".strip() if below or above else "")
    return found


def _hint(text: str) -> str:
    """Delimiter that a spreadsheet program states in a first line such as ``sep=;``, or empty."""
    found = _HINT.fullmatch(re.split(r"[\r\n]", text[:16], maxsplit=1)[0])
    return found.group(1) if found else ""


def delimiter_of(text: str, expected: Expected) -> str:
    """Delimiter of a text: as hinted at or stated, else the one that brings most headers to light.

    A stated one that brings none to light does not count where another does. Where there are no headers, it is the one
    that gives most rows as many cells as the stated headers count.
    """
    if _hint(text) in DELIMITERS:
        return _hint(text)

    def score(delimiter: str) -> tuple[int, int]:
        some = list(itertools.islice(records_of(text, delimiter, None), HEADER_WITHIN))
        rows = [cells for _, cells in _with_corner(some, delimiter, expected)] if some else []
        found = headers_in(rows, expected)
        if found is None and expected.headers:
            return 0, sum(len(cells) == len(expected.headers) for cells in rows)
        header = found.cells if found is not None else rows[0] if rows else ()
        return sum(map(expected.is_known, header)), len(header)

    best = max((*DELIMITERS, *([BLANKS] if expected.headers else [])), key=score)
    if expected.delimiter and (score(expected.delimiter)[0] > 0 or score(best)[0] < 2):
        return expected.delimiter
    return best


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
            delimiter = DELIMITERS.get(table.delimiter, "run of spaces")
            others = [
                name for mark, name in DELIMITERS.items() if mark not in (table.delimiter, SPACES) and mark in row[0]
            ]
            advice = "leave a field empty where nothing was read, but keep its delimiter"
            if others:
                advice = f"the header has {delimiter}s between its fields, this row {others[0]}s"
            names = ", ".join(table.header[field] for field in sorted(missing))
            fields = "1 field" if length == 1 else f"{length} fields"
            journal.problem(line, length, f"the row ends after {fields}, before {names}", advice)
