"""A file to which every record is added as it is taken, so that nothing is lost when the power goes."""

from __future__ import annotations

import os
from collections import Counter
from pathlib import Path

import numpy as np

from ..errors import Problem, ReadingsError
from ..model.layout import Layout
from ..readings.headers import plain_name, split_header
from ..readings.read import joined_records
from ..readings.records import Records
from ..readings.times import COUNTED, Moment
from ..readings.write import reading_columns, table_text, written_delimiter
from ..units import factor_to_si

__all__ = ["RecordFile"]

RESOLUTION = 1e-9
"""Coarsest step of the values, metres and rad."""


class RecordFile:
    """An ordinary file of readings that grows by one record at a time; each is on the disk before ``write`` returns.

    A file that is there already is added to. Half a record at its end, from a power cut, is cut off: it was never
    taken. What the file held before can be read again by ``earlier``.

    Parameters
    ----------
    path : str or Path
    layout : Layout
        Columns get the names, units and signs that it states.

    Raises
    ------
    ReadingsError
        Where the file cannot be written, or has other columns.
    """

    def __init__(self, path: str | Path, layout: Layout) -> None:
        self.path = str(path)
        self._delimiter = written_delimiter(layout)
        self._header = table_text(_header(layout), [], self._delimiter)
        self._again: Counter[str] = Counter()
        self.earlier = ""
        try:
            self._stream = Path(path).open("a+b")  # noqa: SIM115 - stays open
            self._begin()
        except OSError as error:
            reason = error.strerror or str(error)
            raise ReadingsError([Problem(self.path, 0, 0, f"the file cannot be written: {reason}")]) from error

    def _begin(self) -> None:
        self._stream.seek(0)
        data = self._stream.read()
        whole = data[: data.rfind(b"\n") + 1]
        if len(whole) < len(data):
            self._stream.truncate(len(whole))
        if not whole.strip():
            self._append(self._header)
            return
        text = whole.decode("utf-8-sig", errors="replace")
        if not text.startswith(self._header):
            self._stream.close()
            message = "the file is there already and has other columns than readings that are written now"
            advice = f"name another file; its first line would be {self._header.strip()}"
            raise ReadingsError([Problem(self.path, 1, 0, message, advice)])
        self.earlier = text

    def expect_again(self, yes: bool = True) -> None:
        """Take records that the file held before for written when they come again, each as often as it stood there."""
        rows = csv_rows(self.earlier.removeprefix(self._header)) if yes else []
        self._again = Counter(rows)

    def write(self, records: Records, layout: Layout) -> Problem | None:
        """Add the records; what is wrong where the disk refuses them."""
        readings = joined_records([records], np.full(len(records.station), np.nan), ())
        times = [_time(moment, layout) for moment in records.moment]
        columns = reading_columns(readings, layout, RESOLUTION, times)
        rows = [table_text(row, [], self._delimiter) for row in zip(*(cells for _, cells in columns), strict=True)]
        new = [row for row in rows if not self._stood(row)]
        try:
            if new:
                self._append("".join(new))
        except OSError as error:
            message = f"the record cannot be written to {self.path}: {error.strerror}; it is not taken"
            return Problem(records.journal.file, records.line[0], 0, message, "make room, and send it again")
        return None

    def _stood(self, row: str) -> bool:
        if self._again[row] <= 0:
            return False
        self._again[row] -= 1
        return True

    def _append(self, text: str) -> None:
        start = self._stream.seek(0, os.SEEK_END)
        try:
            self._stream.write(text.encode("utf-8", errors="replace"))
            self._stream.flush()
            os.fsync(self._stream.fileno())
        except OSError:
            self._stream.truncate(start)  # never half a record
            raise

    def close(self) -> None:
        """Close the file."""
        self._stream.close()


def csv_rows(text: str) -> list[str]:
    """Records of a text with comma-separated fields, each with its line ends; a quoted field may hold some."""
    rows, held = [], ""
    for line in text.splitlines(keepends=True):
        held += line
        if held.count('"') % 2 == 0:
            rows.append(held)
            held = ""
    return rows


def _header(layout: Layout) -> list[str]:
    empty = joined_records([], [], ())
    return [header for header, _ in reading_columns(empty, layout, RESOLUTION, [])]


def _time(moment: Moment | None, layout: Layout) -> str:
    """A time as the column of times is read again: as it was written, counts with their unit."""
    if moment is None:
        return ""
    mapped = {plain_name(own): header for own, header in layout.readings.columns.items()}
    unit = split_header(mapped.get("time", ""))[1]
    seconds = moment.microseconds / 1e6
    if unit:
        text = f"{seconds / factor_to_si(unit, 'time')[0]:.6f}"
        return text.replace(".", ",") if layout.readings.decimal == "comma" else text
    return f"{seconds:.6f} s" if moment.kind == COUNTED else moment.written
