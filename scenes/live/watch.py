"""What to tell while reading: means, scatter and drift per station, the next one, what is missing, what looks wrong."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..model.readings import Readings
from ..tracing.geometry import CHANNELS, SurveyGeometry, survey_geometry
from ..tracing.rows import rows_of_readings
from ..tracing.sensitivity import channel_slopes
from ..tracing.spots import Spots, spots
from ..uncertainty.propagate import effects_of
from ..uncertainty.sources import source_fields, sources_of
from ..vectors import Floats, Indices
from .order import Key, Look, looks_of_rows, planned_looks, progress_of
from .repeats import Budget, budget_of_effects, disagreeing, expected_scatter, scatter, slope
from .watched import ChannelWatch, Disagreement, Drift, Edge, StationWatch, Watch

__all__ = ["ChannelWatch", "Disagreement", "Drift", "Edge", "StationWatch", "Watch", "watch"]

NEAR_EDGE = 0.2
"""Less than this share of the usable half window left is told (common practice: stay in the middle)."""


def watch(layout: Layout, readings: Readings, visit: str = "") -> Watch:
    """What to tell of the readings so far; of the visit of the last record where ``visit`` is empty.

    Raises
    ------
    GeometryError
        Where a set-up of the layout cannot be traced.
    """
    named = visit or (readings.visit[-1] if len(readings) else "")
    plan = planned_looks(layout)
    if named not in readings.visit:
        stations = _stations(plan, (), np.zeros(0, dtype=np.int64), None)
        return Watch(named, 0, None, plan[0] if plan else None, plan, stations, (), (), ())
    seen = _seen(layout, readings, named)
    progress = progress_of(plan, seen.looks)
    return Watch(
        named,
        len(seen.looks),
        seen.looks[-1],
        progress.next,
        progress.missing,
        _stations(plan, progress.missing, seen.records, seen),
        tuple(_drifts(seen)),
        tuple(_disagreements(seen)),
        tuple(_edges(seen)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """The records of a visit with their model: looks, channels (m,), budgets."""

    readings: Readings
    records: Indices
    looks: tuple[Look, ...]
    geometry: SurveyGeometry
    spots: Spots
    values: dict[str, Floats]
    budgets: dict[str, Budget]
    spot: Indices


def _seen(layout: Layout, readings: Readings, visit: str) -> _Seen:
    rows, records = rows_of_readings(layout, readings, visit, np.ones(len(readings), dtype=bool))
    geometry = survey_geometry(layout, rows)
    values = {channel: getattr(readings, channel)[records] for channel in CHANNELS}
    read = {channel: part for channel, part in values.items() if np.isfinite(part).any()}
    off = np.hypot(np.nan_to_num(values["h"]), np.nan_to_num(values["v"]))
    sources = sources_of(layout, geometry, off)
    slopes = channel_slopes(geometry, source_fields(sources))
    looks = looks_of_rows(layout, rows)
    order = {key: number for number, key in enumerate(dict.fromkeys(look.key for look in looks))}
    budgets = {
        channel: budget_of_effects(
            [each for each in effects_of(slopes[channel], sources) if np.any(each.size)], len(rows)
        )
        for channel in read
    }
    spot = np.array([order[look.key] for look in looks], dtype=np.int64)
    return _Seen(readings, records, looks, geometry, spots(geometry), read, budgets, spot)


def _stations(
    plan: tuple[Look, ...], missing: tuple[Look, ...], records: Indices, seen: _Seen | None
) -> tuple[StationWatch, ...]:
    planned: dict[Key, int] = {}
    left: dict[Key, int] = {}
    for look in plan:
        planned[look.key] = planned.get(look.key, 0) + 1
    for look in missing if seen is not None else plan:
        left[look.key] = left.get(look.key, 0) + 1
    found: dict[Key, list[int]] = {}
    for number, look in enumerate(seen.looks if seen is not None else ()):
        found.setdefault(look.key, []).append(number)
    firsts = {look.key: look for look in reversed((*plan, *(seen.looks if seen is not None else ())))}
    order = dict.fromkeys([*planned, *found])
    return tuple(
        StationWatch(
            firsts[key],
            planned.get(key, 0),
            planned.get(key, 0) - left.get(key, 0),
            tuple(records[found[key]].tolist()) if key in found else (),
            () if seen is None or key not in found else _channels(seen, np.array(found[key], dtype=np.int64)),
        )
        for key in order
    )


def _channels(seen: _Seen, rows: Indices) -> tuple[ChannelWatch, ...]:
    found = []
    for channel, values in seen.values.items():
        mine = rows[np.isfinite(values[rows])]
        if not len(mine):
            continue
        expected, parts = expected_scatter(seen.budgets[channel], mine)
        reads = bool(seen.geometry.reads[channel][mine[-1]])
        if len(mine) == 1:  # by far the most in a large survey
            value = float(values[mine[0]])
            found.append(ChannelWatch(channel, reads, 1, value, value, math.nan, expected, parts, None))
            continue
        found.append(
            ChannelWatch(
                channel,
                reads,
                len(mine),
                float(np.mean(values[mine])),
                float(values[mine[-1]]),
                scatter(values[mine]),
                expected,
                parts,
                slope(values[mine], _time(seen, mine), seen.spot[mine], seen.budgets[channel], mine),
            )
        )
    return tuple(found)


def _time(seen: _Seen, rows: Indices) -> Floats:
    """Times that were recorded; a planned pace shows no drift."""
    result: Floats = seen.readings.time[seen.records[rows]]
    return result


def _drifts(seen: _Seen) -> list[Drift]:
    found = []
    groups = dict.fromkeys((look.setup, look.side) for look in seen.looks)
    for setup, side in groups:
        mine = np.array(
            [k for k, look in enumerate(seen.looks) if (look.setup, look.side) == (setup, side)], dtype=np.int64
        )
        for channel, values in seen.values.items():
            if not seen.geometry.reads[channel][mine].any():
                continue
            common = slope(values[mine], _time(seen, mine), seen.spot[mine], seen.budgets[channel], mine)
            if common is not None:
                found.append(Drift(setup, side, channel, common))
    return found


def _disagreements(seen: _Seen) -> list[Disagreement]:
    found = []
    for spot in np.flatnonzero(np.bincount(seen.spot) > 1).tolist():
        for channel, values in seen.values.items():
            rows = np.flatnonzero((seen.spot == spot) & np.isfinite(values) & seen.geometry.reads[channel])
            for k, difference, u in disagreeing(values[rows], seen.budgets[channel], rows):
                look = seen.looks[int(rows[k])]
                found.append(Disagreement(int(seen.records[rows[k]]), look, channel, difference, u))
    return sorted(found, key=lambda each: each.record)


def _edges(seen: _Seen) -> list[Edge]:
    found = []
    last = {int(spot): row for row, spot in enumerate(seen.spot)}
    radius = np.nan_to_num(seen.spots.radius)
    for row in sorted(last.values()):
        for axis, channel in enumerate(("h", "v")):
            place = abs(float(seen.values[channel][row])) if channel in seen.values else math.nan
            half = float(seen.geometry.window[row, axis]) / 2.0 - float(radius[row])
            if math.isnan(place) or place <= (1.0 - NEAR_EDGE) * half:
                continue
            used = place / half if half > 0.0 else math.inf
            found.append(Edge(int(seen.records[row]), seen.looks[row], channel, used, half - place))
    return found
