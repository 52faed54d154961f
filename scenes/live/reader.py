"""Readings that come one after the other: each goes through the reader of files, and stands or is refused alone."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import replace

from ..errors import Problem
from ..model.layout import Layout
from ..model.readings import Readings
from ..readings.columns import reading_words, visit_name
from ..readings.headers import Vocabulary
from ..readings.journal import Journal
from ..readings.numbers import DecimalMarks
from ..readings.read import UNSTATED_VISIT, joined_records, times_of_records
from ..readings.records import Records, ordinary_form, records_from_table
from ..readings.table import Table
from ..readings.times import Run
from .json_records import IDENTITY, table_of_record
from .record_file import RecordFile
from .table_lines import TableLines
from .taken import Taken

__all__ = ["LiveReadings", "LiveTable"]

Said = tuple[Taken | Problem, ...]


class LiveReadings:
    """Readings of a survey while they are taken; any number of threads may add to it.

    A record that cannot be read is told and left out, and what stands before and after it is taken. Each comes through
    the same reader as a file of readings, so names, units, signs and zeros follow the layout.

    Parameters
    ----------
    layout : Layout
    visit : str
        Visit of the records that state none; ``as found`` where empty.
    source : str
        What messages call the table that ``take`` reads.
    record_file : RecordFile, optional
        Where every record is written before it counts as taken.
    """

    def __init__(
        self, layout: Layout, *, visit: str = "", source: str = "live readings", record_file: RecordFile | None = None
    ) -> None:
        self.layout = layout
        self.visit = visit_name(visit) or UNSTATED_VISIT
        self._record_file = record_file
        self._own_words = reading_words(layout, mapped=False)
        self._lock = threading.RLock()
        self._records: list[Records] = []
        self._count = 0
        self._runs: dict[Hashable, Run] = {}
        self._seconds: list[float] = []
        self._remarks: dict[str, str] = {}
        self._identities: dict[str, int] = {}
        self._readings: Readings | None = None
        self._table = self.table(source)

    def __len__(self) -> int:
        """Return the number of records taken."""
        return self._count

    def take(self, text: str | bytes) -> Said:
        """What the next piece of a table brings: each record taken, each that cannot be; a piece may end anywhere.

        The row of headers comes first, as in a file of readings. A line counts when its end has come.
        """
        return self._table.take(text)

    def take_earlier(self) -> Said:
        """What the file of records held before it was opened brings; none of it is written once more."""
        if self._record_file is None or not self._record_file.earlier:
            return ()
        self._record_file.expect_again()
        said = self.table(self._record_file.path).take(self._record_file.earlier)
        self._record_file.expect_again(False)
        return said

    def finish(self) -> Said:
        """What the last line of that table brings, which has no end."""
        return self._table.finish()

    def table(self, source: str, visit: str = "") -> LiveTable:
        """Reader of a further table that grows, with headers of its own; ``source`` is what messages call it."""
        return LiveTable(self, source, visit_name(visit) or self.visit)

    def take_record(
        self, record: str | bytes | Mapping[str, object], source: str = "a record", line: int = 0
    ) -> Taken | Problem:
        """Record taken, or what is wrong with it.

        Parameters
        ----------
        record : str, bytes or mapping
            JSON object such as ``{"station": "A1", "v": {"value": 12.3, "unit": "um"}}``: columns of a file of
            readings. A record with the ``id`` of one that was taken is that one; it does not count twice.
        source, line : str, int
            Where it comes from, for messages.
        """
        own = Journal(source)
        found = table_of_record(record, line, own)
        if found is None:
            return own.problems[0]
        table, identity = found
        with self._lock:
            if identity and identity in self._identities:
                return self._earlier(self._identities[identity], source, line)
            said = self.admitted(table, self.visit, own, DecimalMarks(), self._own_words)
            if not said:
                return Problem(source, line, 0, "the record holds no value", f"beside {IDENTITY}, station ... v or h")
            if identity and isinstance(said[0], Taken):
                self._identities[identity] = said[0].number
            return said[0]

    def _earlier(self, number: int, source: str, line: int) -> Taken:
        readings = self.readings
        k = number - 1
        return Taken(number, readings.visit[k], readings.setup[k], readings.station[k], source, line)

    def admitted(
        self, table: Table, visit: str, journal: Journal, marks: DecimalMarks, words: Vocabulary | None = None
    ) -> Said:
        """What the one record of ``table`` brings; it stands whole, or not at all.

        Parameters
        ----------
        journal : Journal
            With the name of the source; what it holds already is not said again.
        marks : DecimalMarks
            Decimal mark of the source; changed only by what is taken.
        words : Vocabulary, optional
            Of the headers of ``table``; that of files of readings where left out.
        """
        own = Journal(journal.file)
        seen = replace(marks)
        with self._lock:
            records = records_from_table(table, self.layout, visit, own, seen, words)
            runs = {key: replace(run) for key, run in self._runs.items() if records and key in _runs_of(records)}
            seconds = [] if records is None else times_of_records([records], runs).tolist()
            if records is None or own.problems:
                return tuple(own.sorted_problems())
            if self._record_file is not None and records.station:
                problem = self._record_file.write(records, self.layout)
                if problem is not None:
                    return (problem,)
            marks.point, marks.comma = seen.point, seen.comma
            self._runs.update(runs)
            return self._added(records, seconds, own)

    def _added(self, records: Records, seconds: list[float], journal: Journal) -> Said:
        for remark in journal.remarks:
            self._remarks.setdefault(remark.partition(": ")[2], remark)
        self._readings = None
        if not records.station:
            return ()
        self._records.append(records)
        self._seconds += seconds
        names = zip(records.visit, records.setup, records.station, records.line, strict=True)
        said = tuple(
            Taken(self._count + k + 1, visit, setup, station, journal.file, line)
            for k, (visit, setup, station, line) in enumerate(names)
        )
        self._count += len(said)
        return said

    @property
    def remarks(self) -> tuple[str, ...]:
        """What a person should know of the records so far, each once."""
        with self._lock:
            return tuple(self._remarks.values())

    @property
    def readings(self) -> Readings:
        """All records taken so far, in their order."""
        with self._lock:
            if self._readings is None:
                self._readings = joined_records(self._records, self._seconds, tuple(self._remarks.values()))
            return self._readings


def _runs_of(records: Records) -> set[Hashable]:
    return set(zip(records.visit, records.setup, strict=True))


class LiveTable:
    """One table that grows: lines come in pieces, the row of headers first.

    Where the table is begun anew, as by an editor that saves its file, what it says again counts once.
    """

    def __init__(self, live: LiveReadings, source: str, visit: str) -> None:
        self._live = live
        self._visit = visit
        self.source = source
        self._marks = DecimalMarks(live.layout.readings.decimal)
        self._lines = TableLines(live.layout, source)
        self._rows: list[Row | None] = []
        self._before: Counter[Row] = Counter()
        self._first: Row | None = None
        self._count_before = 0

    def take(self, text: str | bytes) -> Said:
        """What the next piece brings; it may end anywhere."""
        data = text.encode("utf-8", errors="replace") if isinstance(text, str) else text
        return self._said(self._lines.tables(data))

    def finish(self) -> Said:
        """What the last line brings, which has no end."""
        return self._said(self._lines.last_tables())

    def restart(self) -> Said:
        """Begin anew, as where a file was replaced by another; what was taken and comes again counts once."""
        said = self._said(self._lines.restart())
        self._before += Counter(row for row in self._rows if row is not None)
        self._first = self._rows[0] if self._rows else self._first
        self._count_before, self._rows = len(self._rows), []
        return said

    @property
    def waiting(self) -> bytes:
        """Bytes of the line that has not ended yet."""
        return self._lines.waiting

    def _said(self, parts: list[Table | Problem]) -> Said:
        said: list[Taken | Problem] = []
        for part in parts:
            said += (part,) if isinstance(part, Problem) else self._of_record(part)
        return tuple(said)

    def _of_record(self, table: Table) -> Said:
        """What a record brings, unless it was taken before the table was begun anew."""
        row, line, number = (table.header, table.rows[0]), table.lines[0], len(self._rows)
        self._rows.append(row)
        as_before = self._rows[0] == self._first
        if self._before[row] > 0:
            self._before[row] -= 1
            # Another file may happen to say the same, which a person should know.
            same = Problem(self.source, line, 0, SAME, "if it was read again, give it its time")
            return () if as_before else (same,)
        said = self._of_row(table)
        if any(isinstance(each, Problem) for each in said) and not any(isinstance(each, Taken) for each in said):
            self._rows[number] = None
        if as_before and number < self._count_before:
            changed = Problem(self.source, line, 0, CHANGED, "begin anew to read the file as it is now")
            return (changed, *said)
        return said

    def _of_row(self, table: Table) -> Said:
        """What the one row of a table brings; each record of a wide one stands or is refused alone."""
        own = Journal(self.source)
        form = ordinary_form(table, self._live.layout, own)
        if form is None or own.problems:
            return tuple(own.problems)
        records, words = form
        said: list[Taken | Problem] = []
        for k in range(len(records.rows)):
            said += self._live.admitted(records.alone(k), self._visit, own, self._marks, words)
        return tuple(dict.fromkeys(said))  # what is wrong with the row as a whole is said once


Row = tuple[tuple[str, ...], tuple[str, ...]]
SAME = "the same record was taken before the file was written anew; it counts once"
CHANGED = "the line was changed after it had been read; what was taken of it before and what it says now both count"
