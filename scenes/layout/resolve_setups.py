"""Set-ups of the model: devices and mount, how the plane is set, and what is read in which order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from ..model.machine import Surface
from ..model.survey import LevelBy, Setup
from .context import Context, place_of
from .entries import named_entries, read_entry
from .levelling import level_phrase
from .names import expand_all
from .resolve_devices import Devices, read_mount
from .schema_setups import AgainKeys, LevelKeys, SetupKeys
from .strict_yaml import Block, Place

__all__ = ["read_setups"]


class _Order(NamedTuple):
    reads: tuple[str, ...]
    again: tuple[str, ...]


def read_setups(
    section: Block, surfaces: Mapping[str, Surface], devices: Devices, context: Context
) -> dict[str, Setup]:
    """Set-ups by name; entries that are wrong are reported and left out."""
    setups = {}
    for name, raw, place in named_entries(section, context):
        entry = read_entry(SetupKeys, raw, place, context)
        if entry is None:
            continue
        base = entry.turned_by or devices.only("rotary base", place, "turned by")
        mount = read_mount(entry.emitter.mount, raw["emitter"]["mount"], context)
        if not context.stations_complete:
            continue
        level = _level(entry, raw, place, surfaces, context)
        order = _order(entry, raw, place, context)
        if base is None or mount is None or level is None or order is None:
            continue
        devices.find("emitter", entry.emitter.use)
        devices.find("rotary base", base)
        setups[name] = Setup(
            name=name, emitter=entry.emitter.use, base=base, on=entry.emitter.on, at=np.array(entry.emitter.at),
            mount=mount, level_by=level[0], level_stations=level[1], reads=order.reads, again=order.again,
            seconds_per_reading=entry.pace, centred_within=entry.centred_within, line=place.line,
        )  # fmt: skip
    return setups


def _order(entry: SetupKeys, raw: Block, place: Place, context: Context) -> _Order | None:
    """Stations in the order of reading, and those read again; repeats and strangers are reported."""
    reads: dict[str, None] = {}
    again: list[str] = []
    good = True
    for index, item in enumerate(entry.reads):
        here = place_of(raw, ("reads", index), place)
        if isinstance(item, AgainKeys):
            again.extend(expand_all(item.again, context))
            continue
        for station in expand_all([item], context):
            if station in reads:
                context.say(here, f"station '{station}' is read twice", "name re-readings as again: [...]")
                good = False
                break
            reads[station] = None
    if not reads and good:
        context.say(place_of(raw, ("reads",), place), "nothing is read for a first time", "for example reads: [grid]")
        return None
    for station in again:
        if station not in reads:
            index = next(i for i, item in enumerate(entry.reads) if isinstance(item, AgainKeys))
            here = place_of(raw, ("reads", index), place)
            context.say(here, f"station '{station}' is read again, but not a first time", "read it before")
            good = False
    return _Order(tuple(reads), tuple(again)) if good else None


def _level(
    entry: SetupKeys, raw: Block, place: Place, surfaces: Mapping[str, Surface], context: Context
) -> tuple[LevelBy, tuple[str, ...]] | None:
    """Method of setting the plane and its stations; empty where the method picks them itself."""
    here = place_of(raw, ("level by",), place)
    if isinstance(entry.level_by, LevelKeys):
        method = "pads" if entry.level_by.pads is not None else "three points"
        items = entry.level_by.pads or entry.level_by.three_points or []
    else:
        method, named = level_phrase(entry.level_by)
        items = list(named)
    stations = expand_all(items, context)
    if method == "three points" and not items:
        return LevelBy.THREE_POINTS, ()
    if method in ("best fit", "vial"):
        return LevelBy(method), ()
    wanted = "three different stations" if method == "three points" else "three or more different stations"
    distinct = len(set(stations)) == len(stations)
    if not distinct or len(stations) < 3 or (method == "three points" and len(stations) > 3):
        context.say(here, f"{method} needs {wanted}; here {_counted(stations)}", "for example pads [A1, A7, E4]")
        return None
    if _on_one_line(stations, surfaces, context):
        context.say(here, "these stations stand on one line and cannot set a plane", "choose one off that line")
        return None
    return LevelBy(method), stations


def _counted(stations: tuple[str, ...]) -> str:
    return f"are {len(stations)}, of which {len(set(stations))} different" if stations else "is none"


def _on_one_line(stations: tuple[str, ...], surfaces: Mapping[str, Surface], context: Context) -> bool:
    places = []
    for name in stations:
        station = context.stations[name]
        places.append(surfaces[station.surface].world_from_surface.points(station.at))
    spread = np.array(places) - np.mean(places, axis=0)
    second = float(np.linalg.svd(spread, compute_uv=False)[1])
    return second < 1e-3  # less than a millimetre off a line
