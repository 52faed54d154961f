"""Rows of the live table: every spot with its repeats, running mean, scatter beside what is expected, and drift."""

from __future__ import annotations

import math
from typing import Any

from scipy.stats import chi2

from scenes.live.order import Key, Look
from scenes.live.repeats import Slope
from scenes.live.watch import ChannelWatch, Watch
from scenes.model.layout import Layout
from viewer.logic.live_spots import STATES, State, spelled_value, state_of, told_channels

__all__ = ["SHARE", "drift_words", "is_wide", "spot_rows"]

Document = dict[str, Any]

SHARE = 0.01
"""A scatter is called wide where the expected one would give as much in this share of cases (chi-square)."""


_NOTHING = {"n": "", "mean": "", "scatter": "", "expected": "", "wide": False, "drift": "", "drift_u": ""}
ROWS_SHOWN = 240
"""A page lists so many spots."""


def spot_rows(layout: Layout, watch: Watch, off: set[Key]) -> tuple[list[Document], str]:
    """A row for each channel that tells of each spot, and a word on the spots that are left out.

    What is next comes first, then what does not agree, what was read, the latest on top, and what is missing.
    """
    rows: list[Document] = []
    listed = _listed(watch, off)
    several = len({each.look.setup for each in watch.stations}) > 1
    for number in listed:
        spot = watch.stations[number]
        shown = STATES[state_of(spot, watch, off)]
        start = {
            "station": spot.look.station, "name": spot.look.station, "where": _where(spot.look, several),
            "kind": shown.kind, "shape": shown.shape, "word": _word(shown.word, spot.looks, spot.planned),
        }  # fmt: skip
        channels = told_channels(spot)
        if not channels:
            rows.append({**start, "key": str(number), **_NOTHING})
        for k, each in enumerate(channels):
            # Only the first row of a spot names its place.
            alone = {"name": each.channel, "where": "", "word": shown.word}
            first = {"name": f"{spot.look.station} {each.channel}"} if len(channels) > 1 else {}
            rows.append({**start, **(alone if k else first), "key": f"{number} {each.channel}",
                         **_channel(layout, each)})  # fmt: skip
    left = len(watch.stations) - len(listed)
    return rows, f"{left} spots that were read longer ago, or come later, are not listed" if left else ""


def _listed(watch: Watch, off: set[Key]) -> list[int]:
    """Numbers of the spots that are listed, in that order."""

    def rank(number: int) -> tuple[int, int]:
        spot = watch.stations[number]
        state = state_of(spot, watch, off)
        if state in (State.NEXT, State.OFF):
            return list(State).index(state), 0
        return (2, -spot.records[-1]) if spot.records else (3, number)

    return sorted(range(len(watch.stations)), key=rank)[:ROWS_SHOWN]


def _where(look: Look, several: bool) -> str:
    parts = [look.setup] if several else []
    parts += [f"{math.degrees(look.clock):.4g}°"] if look.turned else []
    return ", ".join([*parts, *(["reversed"] if look.side else [])])


def _word(word: str, looks: int, planned: int) -> str:
    return f"{looks} of {planned} looks" if 0 < looks < planned else word


def _channel(layout: Layout, each: ChannelWatch) -> Document:
    expected = ""
    if each.n > 1 and math.isfinite(each.expected):
        largest = f", {each.expected_from[0][0]}" if each.expected_from else ""
        expected = f"{spelled_value(layout, each.channel, each.expected, whole=False)} expected{largest}"
    return {
        "n": each.n,
        "mean": spelled_value(layout, each.channel, each.mean, sided=True, whole=False),
        "scatter": spelled_value(layout, each.channel, each.scatter, whole=False) if each.n > 1 else "",
        "expected": expected,
        "wide": is_wide(each),
        "drift": "" if each.drift is None else _per_hour(layout, each.channel, each.drift.value, sided=True),
        "drift_u": "" if each.drift is None else f"u {_per_hour(layout, each.channel, each.drift.u)}",
    }


def is_wide(each: ChannelWatch) -> bool:
    """Whether repeats scatter more than the budget lets expect, by a chi-square test."""
    if each.n < 2 or not each.expected > 0.0:
        return False
    return bool((each.n - 1) * (each.scatter / each.expected) ** 2 > chi2.isf(SHARE, each.n - 1))


def _per_hour(layout: Layout, channel: str, value: float, sided: bool = False) -> str:
    return spelled_value(layout, channel, 3600.0 * value, sided=sided, whole=False)


def drift_words(layout: Layout, channel: str, slope: Slope) -> str:
    """Drift of a set-up with its standard uncertainty: that seen in the readings where these are enough for one."""
    u = slope.u_seen if slope.dof > 2 else slope.u
    change = spelled_value(layout, channel, 3600.0 * slope.value, sided=True)
    return f"{change} per hour, u {spelled_value(layout, channel, 3600.0 * u)}"
