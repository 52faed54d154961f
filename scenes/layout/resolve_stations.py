"""Stations of the model: groups of each kind, their names, and the positions of moving parts at which they are read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ..hints import near_names
from ..model.machine import Bore, Column, Face, MeshPart, Plate, Rail, Roll, Surface
from ..model.mounts import Mount
from ..model.survey import Group, Station
from .context import Context
from .entries import named_entries, read_entry
from .names import why_no_name
from .resolve_devices import Devices
from .resolve_mounts import read_mount
from .schema_stations import MOST_STATIONS, BoreStationsKeys, GroupKeys, RollEndsKeys, StationsKeys
from .station_rounds import Round, rounds_of
from .station_spots import Spot, called
from .stations_along_axes import end_spots, ring_spots, spots_along
from .stations_on_sides import row_letters, side_fits, spots_on_side
from .strict_yaml import Block, Place

__all__ = ["read_stations", "row_letters"]

_KINDS: dict[str, type[GroupKeys]] = {"ends of": RollEndsKeys, "in": BoreStationsKeys, "on": StationsKeys}
_WAYS: dict[type, tuple[str, ...]] = {
    Plate: ("grid", "line", "at"), Face: ("circle", "line", "at"), Rail: ("every", "count", "line", "at"),
    Roll: ("every", "count", "at"), MeshPart: ("line", "at"),
}  # fmt: skip
_NEEDS = {
    "grid": "a grid needs a plate", "circle": "a circle of stations needs a face", "line": "a line needs a flat side",
    "every": "stations every so far need a rail or a roll", "count": "a number of stations needs a rail or a roll",
}  # fmt: skip

Spots = dict[str, list[Spot]]
"""Spots by the surface that they are on."""


def read_stations(section: Block, surfaces: Mapping[str, Surface], devices: Devices, context: Context) -> None:
    """Put the groups and stations of the section into ``context``."""
    for name, raw, place in named_entries(section, context):
        keys = _kind(raw, context)
        entry = read_entry(keys, raw, place, context) if keys is not None else None
        if entry is None or not _read_group(name, entry, raw, place, surfaces, devices, context):
            context.stations_complete = False
    for name, group in context.groups.items():
        if name in context.stations and context.stations[name].group != name:
            line = context.stations[name].line
            context.say(Place(group.line, 1), f"'{name}' names a group here and a station in line {line}", "rename one")


def _kind(raw: Any, context: Context) -> type[GroupKeys] | None:
    """Keys of an entry by the word that says where its stations are; None where there are two such words."""
    words = [word for word in _KINDS if isinstance(raw, Block) and word in raw]
    if len(words) > 1:
        both = " and ".join(f"'{word}'" for word in words)
        place = max(raw.keys_at[word] for word in words)
        context.say(place, f"a station group cannot be {both} at the same time", f"keep one of: {', '.join(_KINDS)}")
        return None
    if words or not isinstance(raw, Block):
        return _KINDS[words[0]] if words else StationsKeys
    meant = [near for key in raw if key not in StationsKeys.key_names() for near in near_names(key, _KINDS, most=1)]
    return _KINDS[meant[0]] if meant else StationsKeys


def _read_group(
    name: str,
    entry: GroupKeys,
    raw: Block,
    place: Place,
    surfaces: Mapping[str, Surface],
    devices: Devices,
    context: Context,
) -> bool:
    target = entry.target or devices.only("target", place, "target")
    mount = read_mount(entry.mount, raw["mount"], context)
    if target is None or mount is None:
        return False
    devices.find("target", target)
    spots = _spots(name, entry, raw, place, surfaces, context)
    if spots is None:
        return False
    stations: list[Station] = []
    rows: list[tuple[str, str, list[Station]]] = []  # surface, position, its stations
    for surface, listed in spots.items():
        rounds = rounds_of(entry, surfaces[surface], surfaces, raw, context)
        if rounds is None:
            return False
        for each in rounds:
            here = [_station(spot, surface, target, mount, name, each) for spot in listed]
            rows.append((surface, (each.word or each.position) if each.is_named else "", here))
            stations += here
    stations = _in_order(entry, stations)
    placed = {spot.name: spot.place for listed in spots.values() for spot in listed}
    if not _are_good(stations, placed, name, place, context):
        return False
    context.stations.update({station.name: station for station in stations})
    _add_groups(name, entry, rows, place, context)
    return True


def _spots(
    name: str, entry: GroupKeys, raw: Block, place: Place, surfaces: Mapping[str, Surface], context: Context
) -> Spots | None:
    """Spots of an entry by surface; None where something does not fit, which has then been reported."""
    spots: Spots = {}
    if isinstance(entry, RollEndsKeys):
        for roll in dict.fromkeys(entry.ends_of):
            found = end_spots(entry, surfaces[roll], raw, context) if roll in surfaces else None
            if found is None:
                return None
            spots[roll] = found
        return spots
    assert isinstance(entry, StationsKeys | BoreStationsKeys)
    carrier = entry.on if isinstance(entry, StationsKeys) else entry.in_
    if carrier not in surfaces:
        return None
    surface = surfaces[carrier]
    if isinstance(entry, BoreStationsKeys):
        one = ring_spots(name, entry, surface, raw, place, context)
    elif not _way_fits(entry, surface, raw, context):
        one = None
    elif entry.every is not None or entry.count is not None or isinstance(entry.at, list):
        one = spots_along(name, entry, surface, raw, place, context)
    else:
        fits = side_fits(entry, surface.shape, raw, context)
        one = spots_on_side(entry, surface.shape, raw, place, context) if fits else None
    return None if one is None else {carrier: one}


def _way_fits(entry: StationsKeys, surface: Surface, raw: Block, context: Context) -> bool:
    """Whether the way in which the places are given suits the shape of the surface."""
    shape = surface.shape
    if isinstance(shape, Column):
        message = f"'{entry.on}' is a column, which stands in the way; stations need a plate or a face"
        context.say(raw.values_at["on"], message)
        return False
    if isinstance(shape, Bore):
        context.say(raw.values_at["on"], f"'{entry.on}' is a bore; stations are in it", f"write in: {entry.on}")
        return False
    if entry.clock is not None and not isinstance(shape, Roll):
        message = f"a clock position needs a roll; '{entry.on}' is {called(shape)}"
        context.say(raw.keys_at["clock"], message, "remove it")
        return False
    ways = _WAYS[type(shape)]
    way = next(word for word in StationsKeys.what if word in raw)
    advice = f"use {' or '.join(ways)}"
    if way not in ways:
        context.say(raw.keys_at[way], f"{_NEEDS[way]}; '{entry.on}' is {called(shape)}", advice)
        return False
    if isinstance(entry.at, list) and not isinstance(shape, Rail | Roll):
        message = f"distances need a rail, roll or bore; '{entry.on}' is {called(shape)}"
        context.say(raw.values_at["at"], message, "name places: {P1: [0.2 m, 0.1 m]}")
        return False
    if isinstance(entry.at, dict) and isinstance(shape, Roll):
        message = f"places on a roll are distances from its near end; '{entry.on}' is a roll"
        context.say(raw.values_at["at"], message, "for example at: [0.2 m, 1.1 m], clock: 0 deg")
        return False
    return True


def _station(spot: Spot, surface: str, target: str, mount: Mount, group: str, each: Round) -> Station:
    return Station(
        name=each.named(spot.name), surface=surface, at=np.array(spot.at),
        target=target, mount=mount, group=group, line=spot.place.line, normal=np.array(spot.normal),
        along=np.array(spot.along), clocks=spot.clocks, position=each.position, carried_by=each.carried_by,
        turn=each.turn,
    )  # fmt: skip


def _are_good(stations: list[Station], placed: Mapping[str, Place], group: str, place: Place, context: Context) -> bool:
    """Whether all names may be used and are free; otherwise it is reported."""
    if len(context.stations) + len(stations) > MOST_STATIONS:
        context.say(place, f"more than {MOST_STATIONS} stations in one layout", "leave some out")
        return False
    good = True
    for name, here in placed.items():
        if why := why_no_name(name):
            context.say(here, f"'{name}' cannot be the name of a station", why)
            good = False
    for station in stations:
        if station.name in context.stations:
            here = placed.get(station.name.partition("@")[0], place)
            other = context.stations[station.name]
            it = f"station '{station.name}' of '{group}'"
            message = f"{it} has the name of one of '{other.group}' in line {other.line}"
            context.say(here, message, "give one of the groups other names, for example names: S")
            good = False
    return good


def _in_order(entry: GroupKeys, stations: list[Station]) -> list[Station]:
    """Stations in the order of reading: a part is turned past one target after the other, which stays where it is."""
    if entry.turned is None:
        return stations
    places = {
        name: number for number, name in enumerate(dict.fromkeys(each.name.partition("@")[0] for each in stations))
    }
    return sorted(stations, key=lambda each: places[each.name.partition("@")[0]])


def _add_groups(
    name: str, entry: GroupKeys, rows: list[tuple[str, str, list[Station]]], place: Place, context: Context
) -> None:
    """The group of the entry, one for each of its positions, and one for the ends of each roll."""
    columns, grid_rows = (entry.grid or (0, 0)) if isinstance(entry, StationsKeys) else (0, 0)

    def add(group: str, surface: str, chosen: list[Station], is_grid: bool) -> None:
        shape = (grid_rows, columns) if is_grid else (0, 0)
        context.groups[group] = Group(group, surface, tuple(each.name for each in chosen), *shape, place.line)

    every = _in_order(entry, [station for _, _, listed in rows for station in listed])
    add(name, rows[0][0], every, len(rows) == 1)
    for position in dict.fromkeys(position for _, position, _ in rows if position):
        chosen = [station for _, at, listed in rows for station in listed if at == position]
        add(f"{name}@{position}", rows[0][0], chosen, len({surface for surface, _, _ in rows}) == 1)
    if isinstance(entry, RollEndsKeys):
        for roll in dict.fromkeys(surface for surface, _, _ in rows):
            own = [station for surface, _, listed in rows for station in listed if surface == roll]
            add(f"ends of {roll}", roll, own, False)
