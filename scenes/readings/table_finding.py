"""The table in a text or in rows of cells: its delimiter, its headers, its records."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

from .header_rows import HEADER_WITHIN, Expected, headers_in
from .journal import Journal
from .table import BLANKS, CELLS, DELIMITERS, Table
from .text_rows import RUNS, records_of

__all__ = ["delimiter_of", "table_from_text", "table_of_rows"]

_HINT = re.compile(r'"?sep=(.)"?')


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
    if delimiter not in RUNS or expected.row_names is None:
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
