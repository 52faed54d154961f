"""Where an emitter stands: at a place, in front of a bore, or in a spindle; and the way of its beam from there."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..frames import IDENTITY, Pose, rotation_along
from ..model.devices import Emitter
from ..model.machine import FLOOR, Bore, Face, Roll, Surface
from ..model.mounts import Mount
from ..vectors import Floats, length, unit
from .context import Context
from .resolve_devices import Devices
from .resolve_mounts import NO_MOUNT, read_emitter_mount
from .schema_beams import PlacedEmitterKeys
from .strict_yaml import Block

__all__ = ["BeamFrame", "PlacedEmitter", "beam_frame", "frame_of", "place_emitter"]

QUARTERS = tuple(0.5 * math.pi * quarter for quarter in range(4))
"""Turns of a spindle where the layout names none, rad."""


@dataclass(frozen=True, slots=True, eq=False)
class PlacedEmitter:
    """Emitter of a set-up as the model holds it; ``turns`` and wander are those of a spindle, metres and rad."""

    on: str
    at: Floats
    aim: Floats | None
    mount: Mount
    stage: str
    turns: tuple[float, ...]
    beam_height: float
    wander: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class BeamFrame:
    """Nominal beam of a line, world: ``origin`` where it leaves the emitter, then the beam, its left and its up."""

    origin: Floats
    along: Floats
    aside: Floats
    up: Floats


def frame_of(place: str, surfaces: Mapping[str, Surface]) -> Pose | None:
    """World pose of a surface or the floor; None where the surface could not be read."""
    if place == FLOOR:
        return IDENTITY
    surface = surfaces.get(place)
    return None if surface is None else surface.world_from_surface


def place_emitter(
    entry: PlacedEmitterKeys, raw: Block, surfaces: Mapping[str, Surface], devices: Devices, context: Context
) -> PlacedEmitter | None:
    """Emitter as placed; None where something does not fit, which is then reported."""
    mount = NO_MOUNT if entry.mount is None else read_emitter_mount(entry.mount, raw["mount"], devices, context)
    emitter = devices.find("emitter", entry.use)
    if not _one_way(entry, raw, context) or mount is None or not isinstance(emitter, Emitter):
        return None
    if entry.in_front_of is not None:
        return _in_front(entry, raw, surfaces, mount, emitter, context)
    if entry.in_ is not None:
        return _in_spindle(entry, raw, surfaces, mount, emitter, context)
    aim = None if entry.aim is None else unit(np.array(entry.aim))
    return PlacedEmitter(entry.on, np.array(entry.at), aim, mount, _stage(entry), (), emitter.beam_height)


def _stage(entry: PlacedEmitterKeys) -> str:
    return entry.mount.stage or "" if entry.mount is not None else ""


def _one_way(entry: PlacedEmitterKeys, raw: Block, context: Context) -> bool:
    """Whether exactly one way of placing the emitter is used, with the keys that belong to it."""
    before = context.told
    ways = [key for key in ("at", "in front of", "in") if key in raw]
    if entry.in_ is not None and "at" in ways:
        ways.remove("at")  # a place beside the axis of the spindle
    if not ways:
        context.say(raw.place, "the emitter of a set-up needs the key 'at'", "add it, for example at: [-2 m, 0 m, 0 m]")
    elif len(ways) > 1:
        both = " and ".join(f"'{key}'" for key in ways)
        here = max(raw.keys_at[key] for key in ways)
        context.say(here, f"the emitter cannot be placed by {both}", "keep one of them")
    elif ways[0] == "in front of":
        if entry.distance is None:
            message = "how far in front of the bore the beam starts is not said"
            context.say(raw.keys_at["in front of"], message, "add distance: 0.8 m")
        if entry.aim is not None:
            message = f"in front of '{entry.in_front_of}' the beam runs along its axis"
            context.say(raw.keys_at["aim"], message, "remove aim")
    for key, owner in (("distance", "in front of"), ("clock", "in"), ("wander", "in"), ("wander tilt", "in")):
        if key in raw and owner not in raw:
            message = f"'{key}' belongs to an emitter placed '{owner}' something"
            context.say(raw.keys_at[key], message, f"add {owner}: ...")
    if entry.in_ is not None and "on" in raw:
        context.say(raw.keys_at["on"], f"the emitter is in '{entry.in_}', which it also stands on", "remove on")
    return context.told == before


def _in_front(
    entry: PlacedEmitterKeys, raw: Block, surfaces: Mapping[str, Surface], mount: Mount, emitter: Emitter,
    context: Context,
) -> PlacedEmitter | None:  # fmt: skip
    """Emitter whose beam runs along the axis of a bore, its mount below or above that axis as its height asks."""
    bore = surfaces.get(entry.in_front_of or "")
    stand = frame_of(entry.on, surfaces)
    if bore is None or stand is None or entry.distance is None:
        return None
    if not isinstance(bore.shape, Bore):
        message = f"'{bore.name}' is no bore, so it has no axis to stand on"
        context.say(raw.values_at["in front of"], message, "name a bore, or write at: and aim:")
        return None
    start = bore.world_from_surface.points(np.array([0.0, 0.0, -entry.distance]))
    height = mount.height + emitter.beam_height
    at = stand.inverse().points(start) - np.array([0.0, 0.0, height])
    aim = stand.inverse().directions(bore.world_from_surface.rotation[:, 2])
    return PlacedEmitter(entry.on, at, aim, mount, _stage(entry), (), emitter.beam_height)


def _in_spindle(
    entry: PlacedEmitterKeys, raw: Block, surfaces: Mapping[str, Surface], mount: Mount, emitter: Emitter,
    context: Context,
) -> PlacedEmitter | None:  # fmt: skip
    """Emitter in a turning face or roll: it starts in the middle of the face and points out of it."""
    carrier = surfaces.get(entry.in_ or "")
    if carrier is None:
        return None
    if not isinstance(carrier.shape, (Face, Roll)):
        message = f"'{carrier.name}' is neither a face nor a roll, so nothing turns with it"
        context.say(raw.values_at["in"], message, "name the face of the spindle")
        return None
    aim = np.array([0.0, 0.0, 1.0]) if entry.aim is None else unit(np.array(entry.aim))
    if abs(aim[2]) < math.cos(math.radians(1.0)):
        context.say(raw.values_at["aim"], f"the beam must run along the axis of '{carrier.name}'", "write +z or -z")
        return None
    turns = QUARTERS if entry.clock is None else tuple(entry.clock)
    if len({round(math.remainder(turn, 2.0 * math.pi), 6) for turn in turns}) < len(turns):
        context.say(raw.values_at["clock"], "two of these turns are the same", "for example [0 deg, 180 deg]")
        return None
    end = 0.5 * carrier.shape.face * float(np.sign(aim[2])) if isinstance(carrier.shape, Roll) else 0.0
    at = np.array([0.0, 0.0, end] if entry.at is None else entry.at)
    wander = (entry.wander, entry.wander_tilt)
    return PlacedEmitter(carrier.name, at, aim, mount, _stage(entry), turns, emitter.beam_height, wander)


def beam_frame(stand: Pose, placed: PlacedEmitter, ends: tuple[Floats, Floats] | None = None) -> BeamFrame | None:
    """Nominal beam of a line; None where it has no direction.

    Parameters
    ----------
    stand : Pose
        World pose of what the emitter stands on; the up of the beam is its z, made square to the beam.
    ends : two (3,) float, optional
        Detector centres of near and far stations through which the beam runs, world, metres.
    """
    up = stand.rotation[:, 2]
    origin = stand.points(placed.at) + (placed.mount.height + placed.beam_height) * up
    if ends is not None:
        if float(length(ends[1] - ends[0])) < 1e-3:
            return None
        along = unit(ends[1] - ends[0])
        origin = ends[0] + ((origin - ends[0]) @ along) * along
    elif placed.aim is not None:
        along = stand.directions(placed.aim)
    else:
        return None
    rotation = rotation_along(along, up, stand.rotation[:, 0])
    return BeamFrame(origin, *rotation.T)
