"""Text to rows of cells.

The parsing is that of Python's csv module; this module leaves out comments and blank rows, and keeps line numbers right
where a quoted field runs over several lines.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

from .journal import Journal
from .table import BLANKS, DELIMITERS, SPACES

__all__ = ["RUNS", "records_of"]

RUNS = {SPACES: re.compile(r" {2,}"), BLANKS: re.compile(r"[ \t]+")}
"""Delimiter that is a run of letters -> that run."""


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
    if delimiter in RUNS:
        yield from _spaced_records(text, RUNS[delimiter])
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
