"""Times of records: date and time of day, time of day alone, or a count, as seconds since the first record."""

from __future__ import annotations

import math
import re
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from ..units import parse_quantity
from ..vectors import Floats
from .journal import Journal

__all__ = ["TIME_ADVICE", "Moment", "Run", "elapsed", "moment_from_count", "moment_from_text"]

_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,6})\d*)?)?", re.ASCII)
_COUNT = re.compile(r"[+-]?[\d.,]+(?:[eE][+-]?\d+)? *(?:s|sec|min|h|hr)", re.ASCII)
_DATED = re.compile(r"\d{4}-?\d{2}-?\d{2}[T ].+", re.ASCII)
_SECOND = 1_000_000  # microseconds
_DAY = 86_400 * _SECOND
_LONGEST = 3.2e8  # seconds, ten years
TIME_ADVICE = "write 2026-03-01T08:15:30, 08:15 or 08:15:30; for a count put its unit in the header, time [s]"

CLOCK, DATED, ZONED, COUNTED = "times of day", "dates with times", "dates with times and time zones", "counts"


@dataclass(frozen=True, slots=True)
class Moment:
    """A time as written: its kind, and microseconds since an origin that all moments of its kind share."""

    kind: str
    microseconds: int
    written: str


def moment_from_count(seconds: float, written: str) -> Moment:
    """Moment of a count of seconds; raises ``ValueError`` beyond ten years."""
    if not abs(seconds) < _LONGEST:
        raise ValueError(f"{written!r} is more than ten years")
    return Moment(COUNTED, round(seconds * _SECOND), written)


def moment_from_text(text: str) -> Moment:
    """Moment of a time of day, an ISO 8601 date with time or a count such as ``90 s``.

    Raises
    ------
    ValueError
        For anything else.
    """
    if _COUNT.fullmatch(text):
        return moment_from_count(parse_quantity(text, "time"), text)
    found = _CLOCK.fullmatch(text)
    if found:
        hour, minute, second = (int(part or 0) for part in found.group(1, 2, 3))
        if hour > 23 or minute > 59 or second > 59:
            raise ValueError(f"{text!r} is not a time of day")
        fraction = int((found.group(4) or "0").ljust(6, "0"))
        return Moment(CLOCK, ((hour * 60 + minute) * 60 + second) * _SECOND + fraction, text)
    try:
        if not _DATED.fullmatch(text):
            raise ValueError
        date = datetime.fromisoformat(text.replace(",", "."))
    except ValueError:
        raise ValueError(f"{text!r} is not a time") from None
    if date.tzinfo is None:
        return Moment(DATED, (date - datetime(1970, 1, 1)) // timedelta(microseconds=1), text)
    return Moment(ZONED, (date - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1), text)


@dataclass(slots=True)
class Run:
    """The records of one visit and set-up so far."""

    first: int
    days: int
    last: Moment
    last_place: tuple[str, int]
    mixed: bool = False


def elapsed(
    moments: Sequence[Moment | None],
    runs: Sequence[Hashable],
    places: Sequence[tuple[Journal, int, int]],
    known: dict[Hashable, Run] | None = None,
) -> Floats:
    """Seconds since the first timed record of the same run ``(n,)``; nan where no time was recorded.

    A time of day that is more than 12 h earlier than the one before belongs to the next day; any other step back is a
    problem, as is a run that mixes kinds of times.

    Parameters
    ----------
    runs : one key per record
        Records with the same key were read one after the other: visit and set-up.
    places : one (journal, line, column) per record
        Where it stands, and the journal that takes its problems.
    known : mapping, optional
        Runs of earlier records, carried on here.
    """
    seconds = np.full(len(moments), math.nan)
    known = {} if known is None else known
    for k, (moment, key, (journal, line, column)) in enumerate(zip(moments, runs, places, strict=True)):
        if moment is None:
            continue
        run = known.get(key)
        if run is None:
            run = known[key] = Run(moment.microseconds, 0, moment, (journal.file, line))
        elif moment.kind != run.last.kind:
            if not run.mixed:
                message = f"time: {moment.written!r} is not written like {run.last.written!r} in {_at(run, journal)}"
                advice = f"{moment.kind} and {run.last.kind} cannot be compared"
                journal.problem(line, column, message, advice)
            run.mixed = True
            continue
        else:
            _step(run, moment, (line, column), journal)
        seconds[k] = (moment.microseconds + run.days * _DAY - run.first) / _SECOND
        run.last, run.last_place = moment, (journal.file, line)
    return seconds


def _step(run: Run, moment: Moment, place: tuple[int, int], journal: Journal) -> None:
    """Count a midnight that has passed, or note a step back."""
    back = run.last.microseconds - moment.microseconds
    if moment.kind == CLOCK and back > _DAY // 2:
        run.days += 1
    elif back > 0:
        message = f"time: {moment.written!r} is earlier than {run.last.written!r} in {_at(run, journal)}"
        advice = "records of one visit and set-up stand in the order of reading"
        journal.problem(*place, message, advice)


def _at(run: Run, journal: Journal) -> str:
    name, line = run.last_place
    return journal.at(line) if name == journal.file else f"{name}, {journal.at(line)}"
