"""Lines of a growing table to tables of one record each: headers first, quoted fields over several lines."""

from __future__ import annotations

import codecs
import csv
import io
from dataclasses import replace

from ..errors import Problem
from ..model.layout import Layout
from ..readings.header_rows import headers_in
from ..readings.journal import Journal
from ..readings.records import expected_table, records_from_table
from ..readings.table import Table
from ..readings.table_finding import delimiter_of
from ..readings.text_file import NO_TEXT
from ..readings.text_rows import records_of
from .lines import LineCutter, WholeLine

__all__ = ["TableLines"]

MOST_LINES = 20
"""Lines over which a quoted text may run."""

_HINT = "sep="


class TableLines:
    """Makes a table of every record that a growing table brings."""

    def __init__(self, layout: Layout, source: str) -> None:
        self._layout = layout
        self._expected = expected_table(layout)
        self._source = source
        self._cutter = LineCutter()
        self._held: list[tuple[int, str]] = []
        self._header: tuple[str, ...] = ()
        self._header_line = 0
        self._delimiter = ","
        self._begun_anew = False
        self._no_text = ""
        self._above: list[str] = []

    @property
    def waiting(self) -> bytes:
        """Bytes of the line that has not ended yet."""
        return self._cutter.waiting

    def tables(self, data: bytes) -> list[Table | Problem]:
        """A table for every record that ends in ``data``, and what is wrong with lines that are none."""
        return [part for line in self._cutter.lines(data) for part in self._of_line(line)]

    def last_tables(self) -> list[Table | Problem]:
        """The same for the line that has no end."""
        found = [part for line in self._cutter.last() for part in self._of_line(line)]
        return found + self._let_go()

    def restart(self) -> list[Table | Problem]:
        """Begin with a first line again; what waits is told."""
        found = self._let_go()
        if self._cutter.is_cut:
            found.append(self._problem(0, "the source was cut off in the middle of its last line, which is left out"))
        self._cutter = LineCutter()
        self._begun_anew = True
        return found

    def _problem(self, line: int, message: str, advice: str = "") -> Problem:
        return Problem(self._source, line, 0, message, advice)

    def _of_line(self, line: WholeLine) -> list[Table | Problem]:
        if line.number == 1:
            self._no_text = _why_no_text(line.data or b"")
            if self._no_text:
                return [self._problem(1, self._no_text, "only tables as text can be followed: save it as CSV, UTF-8")]
        if self._no_text:
            return []
        if line.data is None:
            return [*self._let_go(), self._problem(line.number, "the line is too long for a record and is left out")]
        text, problem = self._decoded(line.number, line.data)
        if problem:
            return [*self._let_go(), problem]
        return self._of_text(line.number, text)

    def _decoded(self, number: int, data: bytes) -> tuple[str, Problem | None]:
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            text = data.decode("cp1252", errors="replace")
        odd = NO_TEXT.search(text)
        if odd:
            message = f"the line holds the control byte {ord(odd.group()):#04x} and is left out"
            return "", self._problem(number, message, "a line that was still being written, or no text")
        return text, None

    def _of_text(self, number: int, text: str) -> list[Table | Problem]:
        if not self._held and (not text.strip() or text.lstrip(" ").startswith("#") or text.startswith(_HINT)):
            return []
        again, self._begun_anew = self._begun_anew, False
        if not self._header or (again and self._names_columns(text)):
            return self._of_header(number, text)
        if self._held and self._stands_alone(text):
            return [*self._let_go(), *self._of_text(number, text)]
        self._held.append((number, text))
        cells = self._cells()
        if cells is None:
            return [] if len(self._held) < MOST_LINES else self._let_go()
        start = self._held[0][0]
        self._held.clear()
        if isinstance(cells, Problem):
            return [replace(cells, line=start)]
        if not any(cells) or tuple(cells) == self._header:
            return []
        return [self._table(start, cells)]

    def _cells(self) -> list[str] | Problem | None:
        """Cells of the held lines, or why they cannot be taken apart; None where a quoted text is still open."""
        text = "\n".join(line for _, line in self._held)
        if _is_open(text, self._delimiter):
            return None
        journal = Journal(self._source)
        cells = next(records_of(text, self._delimiter, journal), (0, []))[1]
        return journal.problems[0] if journal.problems else cells

    def _stands_alone(self, text: str) -> bool:
        """Whether a line is a record by itself, although a quoted text before it is still open."""
        if _is_open(text, self._delimiter):
            return False
        cells = next(records_of(text, self._delimiter, None), (0, []))[1]
        return len(cells) == len(self._header) and any(cell in self._layout.stations for cell in cells)

    def _let_go(self) -> list[Table | Problem]:
        """Give up the first of the held lines, whose quoted text never ends, and read the others anew."""
        if not self._held:
            return []
        (number, _), *others = self._held
        self._held.clear()
        message = "a quotation mark opens a field here and is never closed; the record is left out"
        found: list[Table | Problem] = [self._problem(number, message, 'write a quotation mark in a text as ""')]
        for at, text in others:
            found += self._of_text(at, text)
        return found

    def _names_columns(self, text: str) -> bool:
        """Whether the first line of a table begun anew is one of headers; the old ones hold where it is not."""
        cells = next(records_of(text, delimiter_of(text, self._expected), None), (0, []))[1]
        if self._expected.row_names is not None:
            return any(map(self._expected.row_names, cells))
        return headers_in([cells], self._expected) is not None

    def _of_header(self, number: int, text: str) -> list[Table | Problem]:
        delimiter = delimiter_of(text, self._expected)
        cells = next(records_of(text, delimiter, None), (0, []))[1]
        both = headers_in([self._above, cells], self._expected) if self._above else None
        found = both if both is not None and both.rows == 2 else headers_in([cells], self._expected)
        self._above = cells
        if found is not None:
            cells, at = list(found.cells), number
        elif not any(map(self._expected.is_known, cells)):
            if not self._expected.headers:
                message = "no row of headers has come yet, so this line cannot be read"
                advice = "the first line names the columns, for example station, v [um]"
                return [self._problem(number, message, advice)]
            cells, at = list(self._expected.headers), 0
        else:
            at = number
        journal = Journal(self._source)
        records_from_table(Table(delimiter, tuple(cells), at, (), (), ()), self._layout, "", journal)
        if journal.problems:
            return list(journal.problems)
        self._header, self._header_line, self._delimiter = tuple(cells), at, delimiter
        return [] if at else self._of_text(number, text)

    def _table(self, number: int, cells: list[str]) -> Table:
        width = len(self._header)
        while len(cells) > width and not cells[-1]:
            cells.pop()
        row = (*cells[:width], *[""] * (width - len(cells)))
        return Table(self._delimiter, self._header, self._header_line, (row,), (number,), (len(cells),))


def _why_no_text(data: bytes) -> str:
    """Why a file that begins so is no text; empty where it may be one."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "the text is in the encoding UTF-16"
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        return "this is a spreadsheet or another packed file, not text"
    return ""


def _is_open(text: str, delimiter: str) -> bool:
    """Whether a quoted field of ``text`` is not closed."""
    if not delimiter.strip() and delimiter != "\t":
        return False  # runs of spaces: nothing is quoted
    try:
        lines = io.StringIO(text, newline="")
        list(csv.reader(lines, delimiter=delimiter, skipinitialspace=delimiter != "\t", strict=True))
    except csv.Error as error:
        return "unexpected end" in str(error)
    return False
