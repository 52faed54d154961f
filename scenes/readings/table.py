"""A table of texts: one row of headers, then records, each cell with its true place in the file."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from .header_rows import Expected
from .journal import Journal

__all__ = [
    "BLANKS",
    "CALCULATE",
    "CELLS",
    "DELIMITERS",
    "NO_VALUE",
    "SPACES",
    "Expected",
    "Formula",
    "Table",
    "Typed",
    "check_lengths",
]

BLANKS = " "
SPACES = "  "
CELLS = ""
"""In place of a delimiter: the cells of a spreadsheet."""
DELIMITERS = {";": "semicolon", "\t": "tab", ",": "comma", SPACES: "run of spaces"}


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
