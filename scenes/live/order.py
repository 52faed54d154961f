"""The planned order of reading: what has been done of it, what comes next, what is missing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from ..model.layout import Layout
from ..readings.row_values import SAME_CLOCK
from ..tracing.rows import Rows, planned_rows

__all__ = ["Key", "Look", "Progress", "looks_of_rows", "planned_looks", "progress_of"]

Key = tuple[str, str, int, float]
"""Set-up, station, side, turn: the same where the same spot is read again."""


@dataclass(frozen=True, slots=True)
class Look:
    """One reading that the plan asks for, or that was taken.

    Attributes
    ----------
    setup, station, target : str
    side : int
        0: as set up, 1: reversed.
    clock : float
        Turn of the target, or of the emitter in a spindle, rad; 0 where nothing is turned.
    turned : bool
        True where the plan states turns for it.
    again : bool
        True where it was planned before in the same set-up: a re-reading.
    """

    setup: str
    station: str
    target: str
    side: int = 0
    clock: float = 0.0
    turned: bool = False
    again: bool = False

    @property
    def key(self) -> Key:
        """What two readings of the same spot have in common."""
        return self.setup, self.station, self.side, self.clock

    def __str__(self) -> str:
        text = self.station
        if self.turned:
            text += f" at {math.degrees(self.clock):.4g} deg"
        text += ", reversed" if self.side else ""
        text += ", once more" if self.again else ""
        return f"{text} (set-up {self.setup}, target {self.target})"


@dataclass(frozen=True, slots=True)
class Progress:
    """What of the plan has been read; ``next`` is None where nothing is left."""

    next: Look | None
    missing: tuple[Look, ...]


@lru_cache(maxsize=4)
def planned_looks(layout: Layout) -> tuple[Look, ...]:
    """Readings that the plan asks for, in their order: sides, turns, clock positions, re-readings last."""
    rows = planned_rows(layout)
    looks, seen = [], set()
    for look in looks_of_rows(layout, rows):
        again = look.key in seen
        seen.add(look.key)
        looks.append(Look(look.setup, look.station, look.target, look.side, look.clock, look.turned, again))
    return tuple(looks)


def looks_of_rows(layout: Layout, rows: Rows) -> tuple[Look, ...]:
    """Look of every row; a turn near a planned one is that one."""
    looks = []
    turns = rows.turn + rows.clock  # one of them is nought
    for setup, station, target, side, turn in zip(
        rows.setup.tolist(), rows.station.tolist(), rows.target.tolist(), rows.side.tolist(), turns.tolist(),
        strict=True,
    ):  # fmt: skip
        name, at = rows.setups[setup], rows.stations[station]
        planned = layout.setups[name].clocks or layout.stations[at].clocks
        looks.append(Look(name, at, rows.targets[target], side, _planned_turn(turn, planned), bool(planned)))
    return tuple(looks)


def _planned_turn(turn: float, planned: Sequence[float]) -> float:
    near = [each for each in planned or (0.0,) if abs(math.remainder(turn - each, 2.0 * math.pi)) <= SAME_CLOCK]
    return near[0] if near else math.radians(round(math.degrees(turn) % 360.0, 3))


def progress_of(plan: Sequence[Look], taken: Sequence[Look]) -> Progress:
    """What comes next after the looks ``taken``, in their order, and what is missing.

    Readings of one spot one after the other are one look at it, unless the plan asks for it twice in a row.
    """
    open_at: dict[Key, list[int]] = {}
    for number in reversed(range(len(plan))):
        open_at.setdefault(plan[number].key, []).append(number)
    done: set[int] = set()
    last: dict[str, tuple[Key, int]] = {}
    for look in taken:
        key, at = last.get(look.setup, (None, -1))
        follows = at + 1 < len(plan) and plan[at + 1].key == look.key
        if key == look.key and not follows:
            continue
        left = open_at.get(look.key, [])
        if left:
            at = left.pop()
            done.add(at)
        last[look.setup] = (look.key, at)
    missing = [number for number in range(len(plan)) if number not in done]
    return Progress(_next(plan, missing, taken, last), tuple(plan[number] for number in missing))


def _next(
    plan: Sequence[Look], missing: list[int], taken: Sequence[Look], last: dict[str, tuple[Key, int]]
) -> Look | None:
    """The first that is missing behind the last reading in its set-up, else in that set-up, else at all."""
    if not missing:
        return None
    if taken:
        setup = taken[-1].setup
        here = [number for number in missing if plan[number].setup == setup]
        at = last[setup][1]
        behind = [number for number in here if number > at]
        if at >= 0 and plan[at].again:  # a re-reading in between: the first round goes on where it was left
            behind = [number for number in here if number < at and not plan[number].again] or behind
        return plan[(behind or here or missing)[0]]
    return plan[missing[0]]
