"""Sheets of a spreadsheet file (XLSX) as rows of cells.

What counts are the values that the spreadsheet program calculated last. Numbers stay numbers: neither a decimal mark
nor the format in which they are shown has a say. A file that unpacks to more than readings ever need is refused unread.
"""

from __future__ import annotations

import io
import itertools
import re
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

from .journal import Journal
from .table import Formula, Typed

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

__all__ = ["Sheet", "is_workbook", "sheets_of"]

LARGEST_PART = 100_000_000
"""Bytes of one unpacked part of the file; 100 000 rows of ten cells have some 40 million."""
LARGEST_WHOLE = 200_000_000
MOST_ROWS = 100_000
MOST_COLUMNS = 500

OTHER_KINDS = {
    "content.xml": "a spreadsheet or text in the OpenDocument format",
    "xl/workbook.bin": "a binary spreadsheet",
    "word/document.xml": "a text document",
}
"""A part of a packed file -> what the file is."""

_BROKEN = "open it in a spreadsheet program and save it anew as XLSX"


@dataclass(frozen=True, slots=True)
class Sheet:
    """Rows of one sheet that are not blank: number of the row, counted from 1, and its cells from column A on."""

    name: str
    rows: tuple[tuple[int, list[str]], ...]


def is_workbook(data: bytes) -> bool:
    """Tell whether ``data`` begins like a packed file, as every XLSX file does."""
    return data.startswith(b"PK\x03\x04")


def sheets_of(data: bytes, journal: Journal, only: str = "") -> list[Sheet]:
    """Sheets of a spreadsheet file; none where the journal says why.

    Parameters
    ----------
    only : str
        Read this sheet alone; its name counts without regard to case.
    """
    if not _is_sound(data, journal):
        return []
    try:
        with ExitStack() as opened:
            values = opened.enter_context(_opened(data, True))
            formulas = opened.enter_context(_opened(data, False)) if _has_formulas(data) else None
            names = [sheet.title for sheet in values.worksheets]
            wanted = [name for name in names if not only or name.strip().casefold() == only.strip().casefold()]
            if not wanted:
                listed = ", ".join(repr(name) for name in names) or "none"
                journal.problem(0, 0, f"there is no sheet {only!r}", f"sheets here: {listed}")
            return [
                _sheet(name, values[name], formulas[name] if formulas else None, journal.on(journal.file, name))
                for name in wanted
            ]
    except Exception as error:  # a library that reads what anybody wrote raises anything
        reason = " ".join(str(error).split())[:120] or type(error).__name__
        journal.problem(0, 0, f"the spreadsheet cannot be read: {reason}", _BROKEN)
        return []


def _is_sound(data: bytes, journal: Journal) -> bool:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            sizes = [part.file_size for part in packed.infolist()]
            names = packed.namelist()
    except (zipfile.BadZipFile, ValueError, OSError, EOFError) as error:
        journal.problem(0, 0, f"the spreadsheet is damaged: {error}", _BROKEN)
        return False
    if max(sizes, default=0) > LARGEST_PART or sum(sizes) > LARGEST_WHOLE:
        message = f"the spreadsheet unpacks to {sum(sizes) / 1e6:.0f} MB, more than readings need"
        journal.problem(0, 0, message, f"at most {LARGEST_PART / 1e6:.0f} MB a sheet: keep the sheet of readings alone")
        return False
    other = next((words for part, words in OTHER_KINDS.items() if part in names), "")
    if other:
        journal.problem(0, 0, f"this is {other}, which is not read", "save it as XLSX or CSV")
        return False
    if not any(name.startswith("xl/") for name in names):
        journal.problem(0, 0, "this is a packed file, but no spreadsheet", "save the table as XLSX or CSV")
        return False
    return True


def _has_formulas(data: bytes) -> bool:
    """Whether any sheet may hold a formula; sheets without one need no second pass."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        sheets = [name for name in packed.namelist() if name.startswith("xl/worksheets/") and name.endswith(".xml")]
        return any(_FORMULA.search(packed.read(name)) for name in sheets)


_FORMULA = re.compile(rb"<(?:\w+:)?f[ />]")


@contextmanager
def _opened(data: bytes, values: bool) -> Iterator[Workbook]:
    from openpyxl import load_workbook  # a third of a second that other commands do not pay

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of styles and extensions that play no part here
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=values, keep_links=False)
    try:
        yield book
    finally:
        book.close()


def _sheet(name: str, values: Any, formulas: Any, journal: Journal) -> Sheet:
    values.reset_dimensions()  # what the file says of its size may be wrong
    if formulas is not None:
        formulas.reset_dimensions()
    rows = []
    bounds = {"max_row": MOST_ROWS + 1, "values_only": True}
    texts = itertools.repeat(()) if formulas is None else formulas.iter_rows(**bounds)
    both = zip(values.iter_rows(**bounds), texts, strict=False)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a date beyond the calendar is told as the text that it becomes
        for number, (row, written) in enumerate(both, start=1):
            if number > MOST_ROWS:
                journal.problem(number, 0, f"the sheet has more than {MOST_ROWS} rows", "split it")
                break
            cells = [_cell(value, text) for value, text in itertools.zip_longest(row, written)]
            if any(cells[MOST_COLUMNS:]):
                journal.problem(number, MOST_COLUMNS + 1, f"the sheet has more than {MOST_COLUMNS} columns", "split it")
                break
            if any(cells):
                rows.append((number, cells))
    return Sheet(name, tuple(rows))


def _cell(value: object, written: object) -> str:
    """Text of a cell; numbers, times and formulas without a value are marked as such."""
    if value is None:
        return "" if written is None else Formula(written if isinstance(written, str) else "=")
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, int | float):
        return Typed(int(value) if float(value).is_integer() and abs(value) < 1e15 else repr(value))
    if isinstance(value, timedelta):
        return f"{value.total_seconds():.6f} s"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    return " ".join(str(value).split()) if "\n" not in str(value) else str(value).strip()
