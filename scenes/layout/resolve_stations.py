"""Stations of the model: places and names of grids, named places, lines and circles."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from ..model.machine import Column, Face, Plate, Shape, Surface
from ..model.survey import Group, Station
from .context import Context
from .entries import named_entries, read_entry
from .names import why_no_name
from .resolve_devices import Devices, read_mount
from .schema_stations import MOST_STATIONS, StationsKeys
from .strict_yaml import Block, Place

__all__ = ["read_stations", "row_letters"]


class _Spot(NamedTuple):
    name: str
    at: tuple[float, float, float]
    place: Place


def row_letters(row: int) -> str:
    """Letters of a row of a grid: A to Z, then AA, AB and so on; rows count from 0."""
    letters = ""
    row += 1
    while row:
        row, rest = divmod(row - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def read_stations(section: Block, surfaces: Mapping[str, Surface], devices: Devices, context: Context) -> None:
    """Put the groups and stations of the section into ``context``."""
    for name, raw, place in named_entries(section, context):
        entry = read_entry(StationsKeys, raw, place, context)
        if entry is None or not _read_group(name, entry, raw, place, surfaces, devices, context):
            context.stations_complete = False
    for name, group in context.groups.items():
        if name in context.stations and context.stations[name].group != name:
            line = context.stations[name].line
            context.say(Place(group.line, 1), f"'{name}' names a group here and a station in line {line}", "rename one")


def _read_group(
    name: str,
    entry: StationsKeys,
    raw: Block,
    place: Place,
    surfaces: Mapping[str, Surface],
    devices: Devices,
    context: Context,
) -> bool:
    target = entry.target or devices.only("target", place, "target")
    mount = read_mount(entry.mount, raw["mount"], context)
    surface = surfaces.get(entry.on)
    if target is None or mount is None or surface is None:
        return False
    devices.find("target", target)
    if not _way_fits(entry, surface.shape, raw, context):
        return False
    spots = list(_spots(entry, surface.shape, raw, place))
    if len(context.stations) + len(spots) > MOST_STATIONS:
        context.say(place, f"more than {MOST_STATIONS} stations in one layout", "leave some out")
        return False
    if not all([_is_good(spot, name, context) for spot in spots]):
        return False
    for spot in spots:
        station = Station(
            name=spot.name, surface=entry.on, at=np.array(spot.at), target=target, mount=mount, group=name,
            line=spot.place.line,
        )  # fmt: skip
        context.stations[spot.name] = station
    columns, rows = entry.grid or (0, 0)
    names = tuple(spot.name for spot in spots)
    context.groups[name] = Group(name, entry.on, names, rows, columns, place.line)
    return True


def _way_fits(entry: StationsKeys, shape: Shape, raw: Block, context: Context) -> bool:
    """Whether the way in which the places are given suits the surface and is complete."""
    if isinstance(shape, Column):
        message = f"'{entry.on}' is a column, which stands in the way; stations need a plate or a face"
        context.say(raw.values_at["on"], message)
        return False
    if entry.circle is not None and not isinstance(shape, Face):
        context.say(raw.keys_at["circle"], f"a circle of stations needs a face; '{entry.on}' is a plate", "use a grid")
        return False
    if entry.line is not None:
        return _line_fits(raw["line"], entry, context)
    if entry.grid is None and entry.margin is not None:
        context.say(raw.keys_at["margin"], "a margin belongs to a grid", "remove it")
        return False
    return entry.grid is None or _grid_fits(entry, shape, raw, context)


def _grid_fits(entry: StationsKeys, shape: Shape, raw: Block, context: Context) -> bool:
    if not isinstance(shape, Plate):
        context.say(raw.keys_at["grid"], f"a grid needs a plate; '{entry.on}' is a round face", "use circle or at")
        return False
    if entry.margin is None:
        context.say(raw.keys_at["grid"], "a grid needs a margin from the edges of the plate", "add margin: 100 mm")
        return False
    for word, margin, size in zip(("length", "width"), entry.margin, (shape.length, shape.width), strict=True):
        if margin >= 0.5 * size:
            message = f"a margin of {1e3 * margin:.6g} mm leaves nothing of the {word} of {1e3 * size:.6g} mm"
            context.say(raw.values_at["margin"], message, f"less than {500.0 * size:.6g} mm")
            return False
    return True


def _line_fits(raw: Block, entry: StationsKeys, context: Context) -> bool:
    line = entry.line
    assert line is not None
    if (line.count is None) == (line.every is None):
        said = "both count and every are" if line.count is not None else "neither count nor every is"
        context.say(raw.place, f"{said} given for this line of stations", "give one: count: 9, or every: 250 mm")
        return False
    length = float(np.hypot(line.to[0] - line.from_[0], line.to[1] - line.from_[1]))
    if length < 1e-6:
        context.say(raw.values_at["to"], "the line of stations starts and ends at the same place")
        return False
    if line.every is not None and not 1.0 <= length / line.every + 1e-9 < MOST_STATIONS:
        message = f"a line of {1e3 * length:.6g} mm cannot be divided every {1e3 * line.every:.6g} mm"
        context.say(raw.values_at["every"], message, f"two to {MOST_STATIONS} stations must fit")
        return False
    return True


def _spots(entry: StationsKeys, shape: Shape, raw: Block, place: Place) -> Iterator[_Spot]:
    if entry.grid is not None and entry.margin is not None and isinstance(shape, Plate):
        columns, rows = entry.grid
        prefix = entry.names or ""
        along = _spread(shape.length, entry.margin[0], columns)
        across = _spread(shape.width, entry.margin[1], rows)
        for row in range(rows):
            for column in range(columns):
                name = f"{prefix}{row_letters(row)}{column + 1}"
                yield _Spot(name, (along[column], across[row], 0.0), place)
    elif entry.at is not None:
        for name, at in entry.at.items():
            full = (at[0], at[1], at[2] if len(at) == 3 else 0.0)
            yield _Spot(f"{entry.names or ''}{name}", full, raw["at"].keys_at[name])
    elif entry.line is not None:
        start, end = np.array(entry.line.from_), np.array(entry.line.to)
        length = float(np.hypot(*(end - start)))
        count = entry.line.count or int(length / (entry.line.every or length) + 1e-9) + 1
        step = (end - start) / (count - 1) if entry.line.every is None else (end - start) / length * entry.line.every
        for i in range(count):
            spot = start + i * step
            yield _Spot(f"{entry.names or 'L'}{i + 1}", (float(spot[0]), float(spot[1]), 0.0), place)
    elif entry.circle is not None:
        angles = entry.circle.start + 2.0 * np.pi * np.arange(entry.circle.count) / entry.circle.count
        for i, angle in enumerate(angles.tolist()):
            x, y = entry.circle.radius * math.cos(angle), entry.circle.radius * math.sin(angle)
            yield _Spot(f"{entry.names or 'C'}{i + 1}", (x, y, 0.0), place)


def _spread(size: float, margin: float, count: int) -> list[float]:
    """Even places from one margin to the other; a single one stands in the middle."""
    if count == 1:
        return [0.0]
    values: list[float] = np.linspace(margin - 0.5 * size, 0.5 * size - margin, count).tolist()
    return values


def _is_good(spot: _Spot, group: str, context: Context) -> bool:
    if why := why_no_name(spot.name):
        context.say(spot.place, f"'{spot.name}' cannot be the name of a station", why)
        return False
    if spot.name in context.stations:
        other = context.stations[spot.name]
        message = f"station '{spot.name}' of '{group}' has the name of one of '{other.group}' in line {other.line}"
        context.say(spot.place, message, "give one of the groups other names, for example names: S")
        return False
    return True
