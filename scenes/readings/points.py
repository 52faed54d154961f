"""Points of a profile or a surface from a CSV file: measured elsewhere, to be judged for form."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..errors import ReadingsError
from ..vectors import Floats, frozen
from .header_rows import Expected
from .headers import Column, Vocabulary, matched_columns
from .journal import Journal
from .numbers import number_columns
from .sources import table_of
from .table import Table, check_lengths
from .text_file import bytes_of, source_name

__all__ = ["PointsTable", "read_points", "read_points_text"]

_WORDS = Vocabulary(
    kinds={"point": "text", "x": "length", "y": "length", "z": "length"},
    other_names={"name": "point", "label": "point", "station": "point"},
    unused=frozenset({"note"}),
    mapping={},
)


@dataclass(frozen=True, slots=True, eq=False)
class PointsTable:
    """Points of one file, in its order.

    Attributes
    ----------
    file : str
    name : tuple of str, one per point
        As the file says, else the count of the record.
    x, z : (n,) float
        Place along the profile (or across the surface) and height, metres.
    y : (n,) float or None
        Second place, metres; None where the file has no such column, which makes the points a profile.
    row : (n,) int
        Line of the file, counted from 1, on which the record begins.
    remarks : tuple of str
        Columns not used, points not read.
    """

    file: str
    name: tuple[str, ...]
    x: Floats
    y: Floats | None
    z: Floats
    row: NDArray[np.int64]
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Copy, check and freeze the arrays."""
        n = len(self.name)
        object.__setattr__(self, "x", frozen(self.x, (n,)))
        object.__setattr__(self, "z", frozen(self.z, (n,)))
        if self.y is not None:
            object.__setattr__(self, "y", frozen(self.y, (n,)))
        rows = np.array(self.row, dtype=np.int64)
        rows.setflags(write=False)
        object.__setattr__(self, "row", rows)

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.name)


def read_points(path: str | Path) -> PointsTable:
    """Points of the file ``path`` (``-``: standard input) in metres.

    The columns are ``x [mm], z [um]`` for a profile or ``x [mm], y [mm], z [um]`` for a surface, in any order and any
    unit of length, with an optional ``point`` for names.

    Raises
    ------
    ReadingsError
        With every problem of the file.
    """
    journal = Journal(source_name(path))
    return _points(bytes_of(path, journal), journal)


def read_points_text(text: str | bytes, file: str = "standard input") -> PointsTable:
    """Points in ``text``, as ``read_points`` returns them; ``file`` is what messages call the text."""
    journal = Journal(file)
    data = text.encode("utf-8", errors="replace") if isinstance(text, str) else text
    return _points(data, journal)


def _points(data: bytes | None, journal: Journal) -> PointsTable:
    table = None
    if data is not None:
        table, journal = table_of(data, Expected(_WORDS.is_known), journal)
    columns = {} if table is None else matched_columns(table, _WORDS, journal)
    if table is not None and not journal.problems:
        _check_needed(table, columns, journal)
    if table is None or journal.problems:
        raise ReadingsError(journal.sorted_problems())
    axes: dict[str, Column] = {name: columns[name] for name in ("x", "y", "z") if name in columns}
    check_lengths(table, [column.field for column in axes.values()], journal)
    values = number_columns(table, axes, journal)
    keep = _read_rows(table, axes, values, journal)
    if journal.problems:
        raise ReadingsError(journal.sorted_problems())
    names = table.column(columns["point"].field) if "point" in columns else [""] * len(table.rows)
    names = [names[k] or str(k + 1) for k in keep]
    for name, count in Counter(names).items():
        if count > 1:
            journal.remark(0, f"the point {name} stands {count} times; each counts as a point of its own")
    return PointsTable(
        file=journal.file,
        name=tuple(names),
        x=values["x"][keep],
        y=values["y"][keep] if "y" in values else None,
        z=values["z"][keep],
        row=np.array([table.lines[k] for k in keep], dtype=np.int64),
        remarks=tuple(journal.remarks),
    )


def _check_needed(table: Table, columns: dict[str, Column], journal: Journal) -> None:
    found = ", ".join(repr(cell) for cell in table.header if cell)
    for name, example in (("x", "x [mm]"), ("z", "z [um]")):
        if name not in columns:
            message = f"there is no column {name}, such as {example}"
            journal.problem(table.header_line, 0, message, f"found here: {found}")
    if not table.rows and not journal.problems:
        journal.problem(table.header_line, 0, "there are no points below the headers")


def _read_rows(table: Table, axes: dict[str, Column], values: dict[str, Floats], journal: Journal) -> list[int]:
    """Rows with a height; those without are remarked on, a height without its place is a problem."""
    keep = []
    # A short row, or a cell that is no number, is a problem already; one slip needs one message.
    told = {problem.line for problem in journal.problems}
    for k, line in enumerate(table.lines):
        if np.isnan(values["z"][k]):
            journal.remark(line, "the point has no z and is left out")
            continue
        keep.append(k)
        for name in ("x", "y"):
            if name in values and np.isnan(values[name][k]) and line not in told:
                journal.problem(line, axes[name].field + 1, f"{axes[name].header}: the point has no {name}")
    if not keep and not journal.problems:
        journal.problem(table.header_line, 0, "no point of the file has a z")
    return keep
