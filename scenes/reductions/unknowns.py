"""What a network observes and what it solves for: the unknowns of stations and set-ups among the rows of a survey."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..model.survey import LevelBy, Method
from ..tracing.geometry import CHANNELS, SurveyGeometry
from ..vectors import Flags, Floats, Indices

__all__ = ["Observations", "Unknown", "design_of", "keyed", "observed", "only_seen", "slopes_of", "unknowns_of"]

SEEN = 0.1
"""A deviation is an unknown where some reading of its station moves by more than this share of it. A smaller share
comes from beams a little askew; such a component is taken as nominal, with the place of the station as a source."""


@dataclass(frozen=True, slots=True, eq=False)
class Observations:
    """Values that carry information, one per row and channel; o of them.

    Attributes
    ----------
    row, channel : (o,) int
        ``channel`` counts into ``CHANNELS``.
    value : (o,) float
        Metres or rad.
    free : (m,) float
        Per row, where the spot stood in the direction that carries no information, metres.
    """

    row: Indices
    channel: Indices
    value: Floats
    free: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Unknown:
    """One kind of unknown: a field of the state, and which rows share one value of it (-1: the row has none).

    ``keys`` name the values: a station; a set-up; or a set-up with its side and stop.
    """

    field: str
    group: Indices
    keys: tuple[tuple[str, ...], ...]


def observed(geometry: SurveyGeometry, values: dict[str, Floats], within: Floats) -> Observations:
    """Observations among the values of each channel ``{channel: (m,)}``, nan where not read.

    ``within`` (m,) [m] stands for the free direction where nobody noted it.
    """
    m = len(geometry.rows)
    rows, channels, found = [], [], []
    for number, channel in enumerate(CHANNELS):
        value = values.get(channel, np.full(m, np.nan))
        mine = np.nonzero(geometry.reads[channel] & np.isfinite(value))[0]
        rows.append(mine)
        channels.append(np.full(len(mine), number, dtype=np.int64))
        found.append(value[mine])
    unread = np.full(m, np.nan)
    free = np.where(geometry.frees_h, values.get("h", unread), values.get("v", unread))
    swept = ~(geometry.reads["h"] & geometry.reads["v"])
    free = np.where(swept, np.where(np.isfinite(free), free, within), 0.0)
    return Observations(np.concatenate(rows), np.concatenate(channels), np.concatenate(found), free)


def keyed(field: str, keys: Sequence[tuple[str, ...]], mine: Flags) -> Unknown:
    """An unknown with one value per different key among the rows ``mine`` (m,)."""
    order = {key: None for key, here in zip(keys, mine, strict=True) if here}
    number = {key: i for i, key in enumerate(order)}
    group = np.array([number[key] if here else -1 for key, here in zip(keys, mine, strict=True)], dtype=np.int64)
    return Unknown(field, group, tuple(order))


def unknowns_of(layout: Layout, geometry: SurveyGeometry) -> tuple[Unknown, ...]:
    """What the readings of ``geometry`` are to determine."""
    rows = geometry.rows
    stations = [layout.stations[rows.stations[i]] for i in rows.station]
    setups = [layout.setups[rows.setups[i]] for i in rows.setup]
    by_station = [(station.name,) for station in stations]
    by_setup = [(setup.name,) for setup in setups]
    stops = [
        (setup.name, str(int(side)), setup.prism.stops[stop].name if setup.prism and stop >= 0 else "")
        for setup, side, stop in zip(setups, rows.side, rows.stop, strict=True)
    ]
    lines = [(name, side) for name, side, _ in stops]
    lines = [(name, side if setup.prism else "0") for (name, side), setup in zip(lines, setups, strict=True)]
    measured = np.array([not station.is_datum for station in stations], dtype=bool)
    angles = measured & geometry.reads["pitch"]
    method = [setup.method for setup in setups]
    base = np.array([each is Method.BASE_PLANE for each in method], dtype=bool)
    by_vial = np.array([setup.level_by is LevelBy.VIAL for setup in setups], dtype=bool)
    level = base & ~by_vial
    rising = ~base & ~(by_vial & np.array([each is Method.LINE for each in method], dtype=bool))
    spindle = np.array([each is Method.SPINDLE for each in method], dtype=bool)
    prism = rows.stop >= 0
    fixed = np.array([each is Method.PRISM_LINE for each in method], dtype=bool) & prism
    parts: list[tuple[str, Sequence[tuple[str, ...]], Flags]] = [
        ("deviation", by_station, measured),
        ("deviation_side", by_station, measured),
        ("deviation_along", by_station, measured),
        ("nod", by_station, angles),
        ("swing", by_station, angles),
        ("tilt_x", by_setup, level),
        ("tilt_y", by_setup, level),
        ("lift", by_setup, base),
        ("tilt_y", lines, rising),
        *((field, lines, ~base) for field in ("tilt_z", "shift", "lift")),
        *((field, by_setup, spindle) for field in ("cone", "cone_side", "offset_y", "offset_z")),
        ("prism_x", stops, prism),
        ("prism_turn", stops, fixed),
    ]
    found = [keyed(field, keys, mine) for field, keys, mine in parts if mine.any()]
    return tuple(unknown for unknown in found if unknown.keys)


def only_seen(
    unknowns: tuple[Unknown, ...], slopes: dict[str, dict[str, Floats]], of: Observations
) -> tuple[Unknown, ...]:
    """The unknowns without the deviations that no reading sees."""
    kept = []
    for unknown in unknowns:
        seen = np.ones(len(unknown.keys), dtype=bool)
        if unknown.field.startswith("deviation"):
            size, group = np.zeros(len(unknown.keys)), unknown.group[of.row]
            here = group >= 0
            np.maximum.at(size, group[here], np.abs(np.nan_to_num(slopes_of(slopes, unknown.field, of)))[here])
            seen = size > SEEN
        number = np.append(np.where(seen, np.cumsum(seen) - 1, -1), -1)
        keys = tuple(key for key, here in zip(unknown.keys, seen, strict=True) if here)
        if keys:
            kept.append(Unknown(unknown.field, number[unknown.group], keys))
    return tuple(kept)


def slopes_of(slopes: dict[str, dict[str, Floats]], field: str, of: Observations) -> Floats:
    """Slopes ``(o,)`` of the observations with one field."""
    return np.stack([slopes[channel][field] for channel in CHANNELS])[of.channel, of.row]


def design_of(unknowns: tuple[Unknown, ...], slopes: dict[str, dict[str, Floats]], of: Observations) -> Floats:
    """Change ``(o, p)`` of the observations with the unknowns."""
    columns = []
    for unknown in unknowns:
        part = np.zeros((len(of.row), len(unknown.keys)))
        group = unknown.group[of.row]
        here = np.nonzero(group >= 0)[0]
        part[here, group[here]] = slopes_of(slopes, unknown.field, of)[here]
        columns.append(part)
    return np.concatenate(columns, axis=1)
