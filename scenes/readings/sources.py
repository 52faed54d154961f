"""The table that a file holds, whether it is text or a spreadsheet."""

from __future__ import annotations

from ..hints import listed
from .header_rows import Expected, headers_in
from .journal import Journal
from .table import CELLS, Table
from .table_finding import table_from_text, table_of_rows
from .text_file import decoded
from .workbook import Sheet, is_workbook, sheets_of

__all__ = ["table_of"]


def table_of(data: bytes, expected: Expected, journal: Journal, sheet: str = "") -> tuple[Table | None, Journal]:
    """Table in ``data`` and the journal of its place; None where the journal says why there is none.

    Parameters
    ----------
    sheet : str
        Sheet of a spreadsheet; empty: the only one with known headers.
    """
    if not is_workbook(data):
        text = decoded(data, journal)
        return (None if text is None else table_from_text(text, expected, journal)), journal
    before = len(journal.problems)
    sheets = sheets_of(data, journal, sheet)
    if len(journal.problems) > before or not sheets:
        return None, journal
    chosen = sheets[0] if sheet else _only(sheets, expected, journal)
    if chosen is None:
        return None, journal
    own = journal.on(journal.file, chosen.name)
    if not chosen.rows:
        own.problem(0, 0, "the sheet is empty")
        return None, own
    return table_of_rows(chosen.rows, CELLS, expected), own


def _only(sheets: list[Sheet], expected: Expected, journal: Journal) -> Sheet | None:
    """The only sheet that holds something, or the only one with known headers."""
    full = [sheet for sheet in sheets if sheet.rows]
    if len(full) == 1:
        return full[0]
    if not full:
        journal.problem(0, 0, "the spreadsheet is empty", "it needs a row of headers and at least one record")
        return None
    known = [sheet for sheet in full if _has_headers(sheet, expected)]
    if len(known) == 1:
        return known[0]
    names = listed([repr(sheet.name) for sheet in known or full])
    message = f"{len(known)} sheets have headers of readings" if known else "no sheet has headers of readings"
    journal.problem(
        0, 0, f"{message}: {names}", f"state it in the layout, readings: {{sheet: {(known or full)[0].name}}}"
    )
    return None


def _has_headers(sheet: Sheet, expected: Expected) -> bool:
    rows = [cells for _, cells in sheet.rows]
    found = headers_in(rows, expected)
    return found is not None and (expected.row_names is None or any(map(expected.row_names, found.cells)))
