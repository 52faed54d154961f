"""Machine surfaces of the model: shapes, and poses in the world through any depth of frames."""

from __future__ import annotations

import numpy as np

from ..frames import IDENTITY, Pose, pose_from_axes, pose_from_turn
from ..model.machine import FLOOR, Column, Face, Plate, Shape, Surface
from .context import Context
from .entries import named_entries, read_entry
from .schema_machine import SurfaceKeys
from .strict_yaml import Block, Place

__all__ = ["read_machine"]


def read_machine(section: Block, context: Context) -> dict[str, Surface]:
    """Surfaces by name, in the order of the file; entries that are wrong are reported and left out."""
    entries: dict[str, SurfaceKeys] = {}
    for name, raw, place in named_entries(section, context):
        if name == FLOOR:
            context.say(place, "'floor' is the ground plane and cannot be a machine surface", "use another name")
        if isinstance(raw, Block) and _is_later(raw, context):
            continue
        entry = read_entry(SurfaceKeys, raw, place, context)
        if entry is not None and _fits(name, entry, raw, context):
            entries[name] = entry
    poses = _poses(entries, section, context)
    surfaces = {}
    for name, entry in entries.items():
        shape = _shape(entry)
        if name in poses and shape is not None:
            line = section.keys_at[name].line
            surfaces[name] = Surface(name, shape, poses[name], entry.on, entry.material, line)
    return surfaces


def _is_later(raw: Block, context: Context) -> bool:
    """Report a kind of surface that this version does not compute; nothing else of its entry is looked at."""
    later = [word for word in SurfaceKeys.later if word in raw]
    if not later or any(word in raw for word in SurfaceKeys.what):
        return False
    context.say_later(raw, later[0])
    return True


def _fits(name: str, entry: SurfaceKeys, raw: Block, context: Context) -> bool:
    if entry.axis is not None and entry.faces is not None:
        context.say(raw.keys_at["faces"], f"'{name}' has both axis and faces, which say the same", "keep one of them")
        return False
    if entry.face is not None and entry.face.bore >= entry.face.diameter:
        context.say(raw["face"].values_at["bore"], "the bore of a face must be smaller than its diameter")
        return False
    return True


def _shape(entry: SurfaceKeys) -> Shape | None:
    if entry.plate is not None:
        return Plate(entry.plate.length, entry.plate.width, entry.plate.thickness)
    if entry.column is not None:
        return Column(entry.column.length, entry.column.width, entry.column.height)
    if entry.face is not None:
        return Face(entry.face.diameter, entry.face.bore, entry.face.thickness)
    return None


def _poses(entries: dict[str, SurfaceKeys], section: Block, context: Context) -> dict[str, Pose]:
    """World pose of every surface whose chain of ``on`` ends at the floor."""
    poses: dict[str, Pose] = {FLOOR: IDENTITY}
    nowhere: set[str] = set()  # stands in a circle, or on something that could not be read
    for start in entries:
        chain: dict[str, None] = {}
        name = start
        while name in entries and name not in poses and name not in nowhere and name not in chain:
            chain[name] = None
            name = entries[name].on
        if name in chain:
            order = list(chain)
            _say_cycle(order[order.index(name) :], section, context)
        if name not in poses:
            nowhere.update(chain)
            continue
        for name in reversed(chain):
            poses[name] = poses[entries[name].on] @ _own_pose(entries[name])
    return poses


def _own_pose(entry: SurfaceKeys) -> Pose:
    """Pose in the frame of what the surface stands on: its place, its axis, then its turn about that axis."""
    axis = entry.axis or entry.faces or (0.0, 0.0, 1.0)
    placed = pose_from_axes(entry.at if entry.at is not None else np.zeros(3), axis)
    return placed @ pose_from_turn(np.zeros(3), entry.turned)


def _say_cycle(cycle: list[str], section: Block, context: Context) -> None:
    raw = section[cycle[0]]
    place: Place = raw.values_at["on"]
    if len(cycle) == 1:
        context.say(place, f"'{cycle[0]}' stands on itself", "name another surface, or floor")
        return
    way = " on ".join(f"'{name}'" for name in [*cycle, cycle[0]])
    context.say(place, f"these stand on each other in a circle: {way}", "one of them must stand on floor")
