"""Near and far targets of a base line that stand in the beam by themselves, as stations."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..model.devices import Target
from ..model.machine import FLOOR, Surface
from ..model.mounts import centre_above_foot
from ..model.survey import Station
from ..vectors import Floats
from .context import Context
from .entries import read_key
from .placed_emitters import BeamFrame, beam_frame, frame_of, place_emitter
from .resolve_devices import Devices
from .resolve_mounts import NO_MOUNT, read_mount
from .schema_beams import DatumKeys, PlacedEmitterKeys
from .schema_setups import SetupKeys
from .strict_yaml import Block, Place

__all__ = ["ENDS", "datum_name", "detector_centre", "read_datum_targets"]

ENDS = ("near", "far")


def datum_name(setup: str, end: str) -> str:
    """Name of the station of a near or far target."""
    return f"{setup} {end}"


def read_datum_targets(section: Block, surfaces: Mapping[str, Surface], devices: Devices, context: Context) -> None:
    """Put the near and far targets of all set-ups into ``context``, so that any set-up and task can name them."""
    for name, raw in section.items():
        if not isinstance(raw, Block) or not any(isinstance(raw.get(end), Block) for end in ENDS):
            continue
        if not _read_ends(name, raw, surfaces, devices, context):
            context.stations_complete = False


def _read_ends(name: str, raw: Block, surfaces: Mapping[str, Surface], devices: Devices, context: Context) -> bool:
    emitter: PlacedEmitterKeys | None = read_key(SetupKeys, "emitter", raw, context)
    placed = None if emitter is None else place_emitter(emitter, raw["emitter"], surfaces, devices, context)
    stand = None if placed is None else frame_of(placed.on, surfaces)
    beam = None if stand is None or placed is None else beam_frame(stand, placed)
    if placed is not None and beam is None and stand is not None:
        message = "a target stands along the beam, but nothing says where the beam goes"
        context.say(raw["emitter"].place, message, "add aim: +x, or name stations as near and far")
    good = beam is not None
    for end in ENDS:
        if not isinstance(raw.get(end), Block):
            continue
        entry: DatumKeys | None = read_key(SetupKeys, end, raw, context)
        if entry is None or beam is None:
            good = False
            continue
        station = _station(datum_name(name, end), name, entry, raw[end], raw.keys_at[end], beam, devices, context)
        good = station is not None and good
        if station is not None:
            context.stations[station.name] = station
    return good


def _station(
    name: str, setup: str, entry: DatumKeys, raw: Block, place: Place, beam: BeamFrame, devices: Devices,
    context: Context,
) -> Station | None:  # fmt: skip
    """Station on the floor whose detector stands in the middle of the beam, its mount along the up of the beam."""
    target_name = entry.target or devices.only("target", raw.place, "target")
    mount = NO_MOUNT if entry.mount is None else read_mount(entry.mount, raw["mount"], context)
    target = devices.find("target", target_name) if target_name is not None else None
    if mount is None or not isinstance(target, Target):
        return None
    if name in context.stations or name in context.groups:
        context.say(place, f"'{name}' is also the name of a station", "give that one another name")
        return None
    centre = beam.origin + entry.at.along_beam * beam.along
    foot = centre - centre_above_foot(mount, target) * beam.up - mount.arm * beam.aside
    return Station(
        name=name, surface=FLOOR, at=foot, target=target.name, mount=mount, group=setup, line=place.line,
        normal=beam.up, along=beam.along, is_datum=True,
    )  # fmt: skip


def detector_centre(station: Station, surfaces: Mapping[str, Surface], devices: Devices) -> Floats | None:
    """Nominal detector centre ``(3,)`` of a station, world, metres; None where its surface or target is missing."""
    pose, target = frame_of(station.surface, surfaces), devices.find("target", station.target)
    if pose is None or not isinstance(target, Target):
        return None
    side, rise = np.cross(station.normal, station.along), centre_above_foot(station.mount, target)
    centre = pose.points(station.at + rise * station.normal + station.mount.arm * side)
    carrier = surfaces.get(station.carried_by)
    if carrier is None or carrier.moves is None or not station.position:
        return centre
    under = frame_of(carrier.on, surfaces)
    return None if under is None else centre + under.directions(carrier.moves.way(station.position))
