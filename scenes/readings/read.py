"""Readings from CSV files: all files in one pass, all problems in one error."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from itertools import chain
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ReadingsError
from ..model.layout import Layout
from ..model.readings import Readings
from ..vectors import Floats
from .columns import reading_words, visit_of_file
from .headers import check_mapping
from .journal import Journal
from .records import Records, records_from_bytes
from .text_file import STANDARD_INPUT, bytes_of, source_name
from .times import Run, elapsed

__all__ = ["joined_records", "read_readings", "read_readings_text", "times_of_records"]

UNSTATED_VISIT = "as found"
"""Visit of readings from standard input that state none: they describe the machine as it was found."""


def read_readings(paths: Sequence[str | Path], layout: Layout) -> Readings:
    """Readings of the files ``paths`` (``-``: standard input), in the model's signs, zeros taken off, in SI units.

    A row needs a station and one value. What it does not say comes from the name of the file (visit) and from the
    layout (set-up, target). A row without a value is left out with a remark.

    A column ``position`` names the position of a moving part and joins the name of the station: ``P1`` and ``low`` are
    the station ``P1@low``, which may also be written so. ``clock`` is the turn of the target, or of an emitter in a
    spindle; ``side`` is ``direct`` or ``reversed``.

    A column ``v zero`` holds, like the ``zero_v`` of a target, what the display shows for a centred spot: in the signs
    of the file. Both are taken off before the sign is turned to that of the model.

    Raises
    ------
    ReadingsError
        With every problem of every file.
    """
    journal = Journal("readings")
    if isinstance(paths, (str, Path)):
        paths = [paths]
    if not paths:
        raise ReadingsError("no readings file is named")
    parts = []
    seen: set[Path] = set()
    for path in paths:
        own = journal.on(source_name(path))
        if Path(path).absolute() in seen:
            own.problem(0, 0, "the file is named twice", "each record would count twice")
            continue
        seen.add(Path(path).absolute())
        visit = UNSTATED_VISIT if str(path) == STANDARD_INPUT else visit_of_file(str(path))
        parts.append((own, bytes_of(path, own), visit))
    return _readings(parts, layout, journal)


def read_readings_text(text: str | bytes, layout: Layout, file: str = "standard input", visit: str = "") -> Readings:
    """Readings in ``text``, as ``read_readings`` returns them.

    Parameters
    ----------
    file : str
        What messages call the text.
    visit : str
        Visit of the rows that do not state one; ``as found`` where empty.

    Raises
    ------
    ReadingsError
    """
    journal = Journal(file)
    data = text.encode("utf-8", errors="replace") if isinstance(text, str) else text
    return _readings([(journal, data, visit or UNSTATED_VISIT)], layout, journal)


def _readings(parts: Sequence[tuple[Journal, bytes | None, str]], layout: Layout, journal: Journal) -> Readings:
    """Readings of ``parts``, each a journal, a content and the visit of rows that state none."""
    check_mapping(reading_words(layout), journal.on(layout.file))
    records: list[Records] = []
    for own, data, visit in parts:
        found = None if data is None else records_from_bytes(data, layout, visit, own)
        if found is not None:
            records.append(found)
    time = times_of_records(records)
    if journal.problems:
        raise ReadingsError(journal.sorted_problems(own.file for own, _, _ in parts))
    return joined_records(records, time, journal.remarks)


def joined_records(records: Sequence[Records], time: ArrayLike, remarks: Sequence[str]) -> Readings:
    """Readings of all ``records`` in their order; ``time`` (n,) are their seconds."""
    return Readings(
        visit=_joined(records, lambda part: part.visit),
        setup=_joined(records, lambda part: part.setup),
        station=_joined(records, lambda part: part.station),
        note=_joined(records, lambda part: part.note),
        h=_stacked([part.h for part in records]),
        v=_stacked([part.v for part in records]),
        time=np.asarray(time, dtype=np.float64),
        pitch=_stacked([part.pitch for part in records]),
        yaw=_stacked([part.yaw for part in records]),
        clock=_stacked([part.clock for part in records]),
        side=np.concatenate([np.zeros(0, dtype=np.int64), *(part.side for part in records)]),
        mount_offset=_stacked([part.mount_offset for part in records]),
        file=tuple(part.journal.file for part in records for _ in part.line),
        row=np.array([line for part in records for line in part.line], dtype=np.int64),
        remarks=tuple(remarks),
    )


def _stacked(parts: list[Floats]) -> Floats:
    return np.concatenate([np.zeros(0), *parts])


def _joined(records: Sequence[Records], column: Callable[[Records], list[str]]) -> tuple[str, ...]:
    return tuple(chain.from_iterable(column(part) for part in records))


def times_of_records(records: Sequence[Records], known: dict[Hashable, Run] | None = None) -> Floats:
    """Seconds of all ``records`` since the first of the same visit and set-up; their journals take what is wrong.

    Parameters
    ----------
    known : mapping, optional
        Runs of earlier records, carried on here.
    """
    moments = [moment for part in records for moment in part.moment]
    runs = [run for part in records for run in zip(part.visit, part.setup, strict=True)]
    places = [
        (part.journal, line, column) for part in records for line, column in zip(part.line, part.column, strict=True)
    ]
    return elapsed(moments, runs, places, known)
