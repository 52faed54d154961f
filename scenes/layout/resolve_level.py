"""How the crew sets the plane or the beam before reading: the method, and the stations that it names."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..model.machine import Surface
from ..model.survey import LevelBy
from .context import Context, place_of
from .datum_targets import detector_centre
from .levelling import level_phrase
from .names import expand_all
from .resolve_devices import Devices
from .schema_setups import LevelKeys, SetupKeys
from .strict_yaml import Block, Place

__all__ = ["read_level", "read_vial"]

Level = tuple[LevelBy, tuple[str, ...]]

LEAST_OFF_LINE = 1e-3
"""Stations that set a plane must stand this far off one line, metres."""


def read_level(
    entry: SetupKeys, raw: Block, place: Place, surfaces: Mapping[str, Surface], devices: Devices, context: Context
) -> Level | None:
    """Method of setting the plane and its stations; empty where the method picks them itself."""
    here = place_of(raw, ("level by",), place)
    if entry.level_by is None:
        return LevelBy.THREE_POINTS, ()
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
    if _on_one_line(stations, surfaces, devices, context):
        context.say(here, "these stations stand on one line and cannot set a plane", "choose one off that line")
        return None
    return LevelBy(method), stations


def read_vial(entry: SetupKeys, raw: Block, place: Place, devices: Devices, context: Context) -> str | None:
    """Name of the vial, empty where none is stated; None where one must be chosen, which is then reported."""
    if entry.level_by != "vial":
        if entry.vial is not None:
            message = f"the vial '{entry.vial}' is named, but the beam is not levelled by it"
            context.say(raw.keys_at["vial"], message, "add level by: vial")
            return None
        return ""
    name = entry.vial
    if name is None and "vial" in context.roles.values():
        name = devices.only("vial", place, "vial")
        if name is None:
            return None
    if name:
        devices.find("vial", name)
    return name or ""


def _counted(stations: tuple[str, ...]) -> str:
    return f"are {len(stations)}, of which {len(set(stations))} different" if stations else "is none"


def _on_one_line(
    stations: tuple[str, ...], surfaces: Mapping[str, Surface], devices: Devices, context: Context
) -> bool:
    places = [detector_centre(context.stations[name], surfaces, devices) for name in stations]
    known = np.array([place for place in places if place is not None])
    if len(known) < len(stations):
        return False  # something else is wrong with them
    spread = known - known.mean(axis=0)
    return float(np.linalg.svd(spread, compute_uv=False)[1]) < LEAST_OFF_LINE
