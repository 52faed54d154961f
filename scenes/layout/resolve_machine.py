"""Machine surfaces of the model: what they are, and poses in the world through any depth of frames."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..frames import IDENTITY, Pose, pose_from_axes, pose_from_turn
from ..hints import near_names
from ..model.machine import FLOOR, Moves, Shape, Surface
from ..vectors import unit
from .context import Context
from .entries import named_entries, read_entry
from .resolve_shapes import platen_shape, shape_of
from .schema_machine import SurfaceKeys
from .strict_yaml import Block, Place

__all__ = ["read_machine", "surface_names"]

LOWER, UPPER = "lower", "upper"
"""What the two surfaces of a pair of platens are called, behind the name of the pair."""


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """One surface of an entry: its shape, and its pose over what it stands on at way 0."""

    entry: SurfaceKeys
    raw: Block
    shape: Shape
    own: Pose
    moves: Moves | None

    def drawn(self) -> Pose:
        """Pose over what it stands on, at its drawn position."""
        if self.moves is None:
            return self.own
        way = self.moves.positions[self.moves.drawn] * self.moves.along
        return Pose(self.own.rotation, self.own.origin + way)


def surface_names(section: Block) -> dict[str, int]:
    """Name -> line of every surface that the section names; a pair of platens names two."""
    names = {}
    for name, place in section.keys_at.items():
        raw = section.get(name)
        pair = isinstance(raw, Block) and _is_pair(raw)
        for full in (f"{name} {LOWER}", f"{name} {UPPER}") if pair else (name,):
            names[full] = place.line
    return names


def _is_pair(raw: Block) -> bool:
    """Whether an entry is a pair of platens, or probably meant to be one."""
    other = any(word in raw for word in SurfaceKeys.what if word != "platens")
    return "platens" in raw or (
        not other and any(near_names(key, SurfaceKeys.what, most=1) == ["platens"] for key in raw)
    )


def read_machine(section: Block, context: Context) -> dict[str, Surface]:
    """Surfaces by name, in the order of the file; entries that are wrong are reported and left out."""
    parts: dict[str, _Part] = {}
    for name, raw, place in named_entries(section, context):
        if name == FLOOR:
            context.say(place, "'floor' is the ground plane and cannot be a machine surface", "use another name")
        entry = read_entry(SurfaceKeys, raw, place, context)
        if entry is None or not _fits(name, entry, raw, context):
            continue
        for full, part in _parts(name, entry, raw, context).items():
            if full != name and full in section:
                context.say(place, f"the platens '{name}' name a surface '{full}', which stands here too", "rename one")
            parts[full] = part
    poses = _poses(parts, context)
    surfaces = {}
    for name, part in parts.items():
        if name in poses:
            entry, line = part.entry, context.surfaces[name]
            surfaces[name] = Surface(
                name, part.shape, poses[name], entry.on, entry.material, line, part.moves, entry.temperature,
                entry.temperature_known_to, entry.across, entry.across_known_to,
            )  # fmt: skip
    return surfaces


def _parts(name: str, entry: SurfaceKeys, raw: Block, context: Context) -> dict[str, _Part]:
    """Surfaces of one entry by name: one, or the two of a pair of platens."""
    moves = _moves(entry)
    own = _own_pose(entry)
    if entry.platens is not None:
        shape = platen_shape(entry.platens)
        against = pose_from_axes([0.0, 0.0, entry.platens.gap], [0.0, 0.0, -1.0])
        return {
            f"{name} {LOWER}": _Part(entry, raw, shape, own, None),
            f"{name} {UPPER}": _Part(entry, raw, shape, own @ against, moves),
        }
    found = shape_of(entry, raw, context)
    return {name: _Part(entry, raw, found, own, moves)} if found is not None else {}


def _fits(name: str, entry: SurfaceKeys, raw: Block, context: Context) -> bool:
    if entry.axis is not None and entry.faces is not None:
        context.say(raw.keys_at["faces"], f"'{name}' has both axis and faces, which say the same", "keep one of them")
        return False
    if entry.along is not None and "turned" in raw:
        context.say(raw.keys_at["turned"], f"'{name}' has both along and turned, which say the same", "keep one")
        return False
    axis = entry.axis or entry.faces or (0.0, 0.0, 1.0)
    if entry.along is not None and np.linalg.norm(np.cross(unit(np.array(axis)), unit(np.array(entry.along)))) < 1e-6:
        context.say(raw.values_at["along"], f"'{name}' cannot lie along its own z", "give another direction")
        return False
    return _position_fits(name, entry, raw, context)


def _position_fits(name: str, entry: SurfaceKeys, raw: Block, context: Context) -> bool:
    if entry.at_position is None:
        return True
    if entry.moves is None:
        context.say(raw.keys_at["at position"], f"'{name}' does not move, so it has no positions", "add moves: {...}")
        return False
    if entry.at_position not in entry.moves.positions:
        message = f"'{name}' has no position '{entry.at_position}'"
        context.say(raw.values_at["at position"], message, context.near(entry.at_position, entry.moves.positions))
        return False
    return True


def _moves(entry: SurfaceKeys) -> Moves | None:
    if entry.moves is None:
        return None
    positions = dict(entry.moves.positions)
    return Moves(np.array(entry.moves.along), positions, entry.at_position or next(iter(positions)))


def _poses(parts: dict[str, _Part], context: Context) -> dict[str, Pose]:
    """World pose of every surface whose chain of ``on`` ends at the floor, with moving parts as drawn."""
    poses: dict[str, Pose] = {FLOOR: IDENTITY}
    nowhere: set[str] = set()  # stands in a circle, or on something that could not be read
    for start in parts:
        chain: dict[str, None] = {}
        name = start
        while name in parts and name not in poses and name not in nowhere and name not in chain:
            chain[name] = None
            name = parts[name].entry.on
        if name in chain:
            order = list(chain)
            _say_cycle(order[order.index(name) :], parts, context)
        if name not in poses:
            nowhere.update(chain)
            continue
        for name in reversed(chain):
            poses[name] = poses[parts[name].entry.on] @ parts[name].drawn()
    return poses


def _own_pose(entry: SurfaceKeys) -> Pose:
    """Pose in the frame of what the surface stands on: its place, its axis, then its turn about that axis."""
    axis = entry.axis or entry.faces or (0.0, 0.0, 1.0)
    placed = pose_from_axes(entry.at if entry.at is not None else np.zeros(3), axis, entry.along or (1.0, 0.0, 0.0))
    return placed @ pose_from_turn(np.zeros(3), entry.turned)


def _say_cycle(cycle: list[str], parts: dict[str, _Part], context: Context) -> None:
    place: Place = parts[cycle[0]].raw.values_at["on"]
    if len(cycle) == 1:
        context.say(place, f"'{cycle[0]}' stands on itself", "name another surface, or floor")
        return
    way = " on ".join(f"'{name}'" for name in [*cycle, cycle[0]])
    context.say(place, f"these stand on each other in a circle: {way}", "one of them must stand on floor")
