"""Soft foot readings from a CSV file: the gap under every foot, or at its four corners."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..errors import ReadingsError
from ..readings.header_rows import Expected
from ..readings.headers import Vocabulary, matched_columns
from ..readings.journal import Journal
from ..readings.numbers import number_columns
from ..readings.sources import table_of
from ..readings.table import check_lengths
from ..readings.text_file import bytes_of, source_name

__all__ = ["read_gaps", "read_gaps_text"]

CORNERS = ("corner 1", "corner 2", "corner 3", "corner 4")
LARGEST = 0.02
"""Metres; a gap above this is a wrong unit."""

_WORDS = Vocabulary(
    kinds={"foot": "text", "gap": "length", **dict.fromkeys(CORNERS, "length")},
    other_names={"name": "foot", "soft foot": "gap"},
    unused=frozenset({"note"}),
    mapping={},
)


def read_gaps(path: str | Path) -> dict[str, tuple[float, ...]]:
    """Gaps by foot, metres, from the file ``path`` (``-``: standard input).

    The columns are ``foot`` and ``gap [um]``, or ``corner 1 [um]`` to ``corner 4 [um]``, in any unit of length. Each
    is read with the bolt of its foot loosened and all others tight. Feet with empty cells have no gap.

    Raises
    ------
    ReadingsError
        With every problem of the file.
    """
    journal = Journal(source_name(path))
    return _gaps(bytes_of(path, journal), journal)


def read_gaps_text(text: str, file: str = "soft foot") -> dict[str, tuple[float, ...]]:
    """The same from text; ``file`` is what messages call it."""
    return _gaps(text.encode("utf-8"), Journal(file))


def _gaps(data: bytes | None, journal: Journal) -> dict[str, tuple[float, ...]]:
    table = None
    if data is not None:
        table, journal = table_of(data, Expected(_WORDS.is_known), journal)
    columns = {} if table is None else matched_columns(table, _WORDS, journal)
    if table is None or journal.problems:
        raise ReadingsError(journal.sorted_problems())
    parts = {name: column for name, column in columns.items() if name != "foot"}
    if "foot" not in columns or not parts:
        missing = "foot" if "foot" not in columns else "gap [um]"
        journal.problem(table.header_line, 0, f"there is no column {missing}")
        raise ReadingsError(journal.sorted_problems())
    check_lengths(table, [columns["foot"].field], journal)
    values = number_columns(table, parts, journal)
    found: dict[str, tuple[float, ...]] = {}
    for k, foot in enumerate(table.column(columns["foot"].field)):
        told = [(name, float(values[name][k])) for name in parts if np.isfinite(values[name][k])]
        for name, value in told:
            if not 0.0 <= value <= LARGEST:
                message = f"{parts[name].header}: a gap lies between 0 and {1e3 * LARGEST:g} mm"
                journal.problem(*table.place(k, parts[name].field), message, "check the sign and the unit")
        if foot in found:
            journal.problem(*table.place(k, columns["foot"].field), f"{foot} stands twice", "keep one of the rows")
        if told:
            found[foot] = tuple(value for _, value in told)
    if journal.problems:
        raise ReadingsError(journal.sorted_problems())
    return found
