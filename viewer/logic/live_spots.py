"""What state stations are in while they are read, and the marks that the picture shows for it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from scenes.live.order import Key
from scenes.live.watch import ChannelWatch, StationWatch, Watch
from scenes.model.layout import Layout
from scenes.units import show
from viewer import text
from viewer.report.live_report import turned

__all__ = ["STATES", "Shown", "State", "marks_of", "spelled_value", "state_of", "told_channels"]


class State(StrEnum):
    """State of a spot or station, the most urgent first."""

    NEXT = "next"
    OFF = "off"
    MISSING = "missing"
    READ = "read"


@dataclass(frozen=True, slots=True)
class Shown:
    """How a state is shown: a shape and a word, and a colour beside."""

    kind: str
    shape: str
    word: str


STATES = {
    State.NEXT: Shown("next", "▼", "next"),
    State.READ: Shown("good", "●", "read"),
    State.OFF: Shown("bad", "■", "does not agree"),
    State.MISSING: Shown("note", "○", "missing"),
}


def state_of(spot: StationWatch, watch: Watch, off: set[Key]) -> State:
    """State of one spot; ``off`` are the spots whose last reading does not agree with the earlier ones.

    A spot that only waits to be read once more counts as read.
    """
    if spot.look.key in off:
        return State.OFF
    if watch.next is not None and watch.next.key == spot.look.key:
        return State.NEXT
    return State.READ if spot.records else State.MISSING


def told_channels(spot: StationWatch) -> tuple[ChannelWatch, ...]:
    """Channels of a spot that tell of the machine; all where none does."""
    return tuple(each for each in spot.channels if each.tells) or spot.channels


def spelled_value(layout: Layout, channel: str, value: float, *, sided: bool = False, whole: bool = True) -> str:
    """A value of a channel as the screen spells it; ``sided``: with sign, in the sense of the readings."""
    if not math.isfinite(value):
        return "\u2013"
    angle = channel in ("pitch", "yaw")
    unit = layout.units.angle if angle else layout.units.deviation
    turn = turned(layout, channel) if sided else 1.0
    told = text.spelled(show(turn * value, unit, "angle" if angle else "length", sign=sided))
    # The head of the table names the unit of lengths; angles bring theirs.
    return told if whole or angle else told.partition(" ")[0]


def marks_of(layout: Layout, watch: Watch, off: set[Key]) -> list[dict[str, Any]]:
    """Mark of each station: its most urgent state, mean and record (``at``) of the spot that was read last there.

    A station that is next is marked as such although a reading there does not agree: that is told beside the picture.
    """
    order = list(State)
    spots: dict[str, list[StationWatch]] = {}
    for each in watch.stations:
        spots.setdefault(each.look.station, []).append(each)
    marks = []
    for station, mine in spots.items():
        state = min((state_of(spot, watch, off) for spot in mine), key=order.index)
        if watch.next is not None and watch.next.station == station:
            state = State.NEXT
        read = [spot for spot in mine if spot.records]
        value, at = "", -1
        if read:
            last = max(read, key=lambda spot: spot.records[-1])
            at = last.records[-1]
            channel = told_channels(last)[:1]
            value = (
                spelled_value(layout, channel[0].channel, channel[0].mean, sided=True, whole=False) if channel else ""
            )
        marks.append({"station": station, "state": str(state), "value": value, "at": at})
    return marks
