"""Stations along rails and rolls, in bores, and at the ends of rolls."""

from __future__ import annotations

import numpy as np

from ..model.machine import Bore, Rail, Roll, Surface
from ..vectors import Floats, unit
from .context import Context, place_of
from .schema_stations import BoreStationsKeys, RollEndsKeys, StationsKeys
from .station_spots import Spot, division_fits, numbered, spread
from .strict_yaml import Block, Place

__all__ = ["end_spots", "ring_spots", "spots_along"]

NEAR, FAR = "near", "far"
END_SHARE, LEAST_END = 0.05, 0.1
"""From the end of a roll to its outer station: this share of its face, but not less than so many metres."""

UPRIGHT = 1e-6
"""An axis is upright where its distance from the vertical [rad] is below this."""

AXIS = (0.0, 0.0, 1.0)


def spots_along(
    name: str, entry: StationsKeys, surface: Surface, raw: Block, place: Place, context: Context
) -> list[Spot] | None:
    """Spots along a rail or a roll; None where the way of dividing it does not fit, which is then reported."""
    shape = surface.shape
    assert isinstance(shape, Rail | Roll)
    length = shape.length if isinstance(shape, Rail) else shape.face
    distances = _distances(entry, length, entry.on, raw, context)
    if distances is None:
        return None
    letters = numbered(entry.names, name)
    if isinstance(shape, Rail):
        return [Spot(f"{letters}{i + 1}", (x, 0.0, 0.0), place) for i, x in enumerate(distances)]
    clock = entry.clock or 0.0
    return [
        _roll_spot(f"{letters}{i + 1}", surface, shape, z - 0.5 * length, clock, place) for i, z in enumerate(distances)
    ]


def end_spots(entry: RollEndsKeys, surface: Surface, raw: Block, context: Context) -> list[Spot] | None:
    """Near and far spot of one roll of the entry; None where it is no such roll, which is then reported."""
    shape = surface.shape
    place = place_of(raw, ("ends of", entry.ends_of.index(surface.name)), raw.values_at["ends of"])
    if not isinstance(shape, Roll):
        context.say(place, f"'{surface.name}' is no roll, and ends are those of rolls", "name rolls only")
        return None
    margin = max(END_SHARE * shape.face, LEAST_END) if entry.margin is None else entry.margin
    if margin >= 0.5 * shape.face:
        said = "margin" if entry.margin is not None else "ends of"
        message = f"a margin of {1e3 * margin:.6g} mm leaves nothing of the face of {1e3 * shape.face:.6g} mm"
        context.say(raw.values_at[said], message, f"give margin: less than {500.0 * shape.face:.6g} mm")
        return None
    return [
        _roll_spot(f"{surface.name} {end}", surface, shape, z, entry.clock, place)
        for end, z in ((NEAR, margin - 0.5 * shape.face), (FAR, 0.5 * shape.face - margin))
    ]


def ring_spots(
    name: str, entry: BoreStationsKeys, surface: Surface, raw: Block, place: Place, context: Context
) -> list[Spot] | None:
    """One spot per ring, on the axis; None where the way of dividing the bore does not fit, which is then reported."""
    shape = surface.shape
    if not isinstance(shape, Bore):
        context.say(raw.values_at["in"], f"'{entry.in_}' is no bore", f"write on: {entry.in_}")
        return None
    if not _one_way(raw, context):
        return None
    if entry.at is None and entry.every is None and entry.count is None:
        if entry.margin is not None:
            context.say(raw.keys_at["margin"], "a margin belongs to every or count", "remove it")
            return None
        distances: list[float] | None = [0.5 * (start + end) for _, start, end in shape.sections]
    else:
        distances = _distances(entry, shape.length, entry.in_, raw, context)
    if distances is None:
        return None
    inside = [z for z in distances if any(start - 1e-9 <= z <= end + 1e-9 for _, start, end in shape.sections)]
    if entry.at is not None and len(inside) < len(distances):
        missing = next(i for i, z in enumerate(distances) if z not in inside)
        message = f"{1e3 * distances[missing]:.6g} mm is not inside a section of '{entry.in_}'"
        context.say(place_of(raw, ("at", missing), place), message, "correct the distance")
        return None
    up, letters = _up_across(surface), numbered(entry.names, name)
    clocks = tuple(entry.clock or ())
    return [Spot(f"{letters}{i + 1}", (0.0, 0.0, z), place, up, AXIS, clocks) for i, z in enumerate(inside)]


def _one_way(raw: Block, context: Context) -> bool:
    said = [key for key in ("every", "count", "at") if key in raw]
    if len(said) > 1:
        both = " and ".join(f"'{key}'" for key in said)
        context.say(max(raw.keys_at[key] for key in said), f"rings are given by {both} at the same time", "keep one")
    return len(said) < 2


def _distances(
    entry: StationsKeys | BoreStationsKeys, length: float, surface: str, raw: Block, context: Context
) -> list[float] | None:
    """Distances [m] from the start of a rail, roll or bore of this length; None where they do not fit."""
    if isinstance(entry.at, list):
        if entry.margin is not None:
            context.say(raw.keys_at["margin"], "a margin belongs to every or count", "remove it")
            return None
        over = [i for i, distance in enumerate(entry.at) if distance > length + 1e-9]
        for i in over:
            message = f"{1e3 * entry.at[i]:.6g} mm is beyond the end of '{surface}', at {1e3 * length:.6g} mm"
            context.say(place_of(raw, ("at", i), raw.place), message, "correct the distance")
        return None if over else list(entry.at)
    start, end = entry.margin or (0.0, 0.0)
    rest = length - start - end
    if rest < 1e-6:
        here = place_of(raw, ("margin",), raw.place)
        context.say(here, f"these margins leave nothing of '{surface}', {1e3 * length:.6g} mm long")
        return None
    if entry.every is None:
        assert entry.count is not None
        return spread(start, length - end, entry.count)
    if not division_fits(rest, entry.every, raw.values_at["every"], "a length", context):
        return None
    return [start + i * entry.every for i in range(int(rest / entry.every + 1e-9) + 1)]


def _up_across(surface: Surface) -> tuple[float, float, float]:
    """Direction nearest to world up that is square to the axis, in the frame of the surface; x where it is upright."""
    up: Floats = surface.world_from_surface.rotation[2].copy()
    up[2] = 0.0
    if np.linalg.norm(up) < UPRIGHT:
        return (1.0, 0.0, 0.0)
    x, y, _ = unit(up).tolist()
    return (x, y, 0.0)


def _roll_spot(name: str, surface: Surface, roll: Roll, z: float, clock: float, place: Place) -> Spot:
    """Spot on the circumference at ``z`` along the axis [m], turned by ``clock`` [rad] from the top."""
    x, y, _ = _up_across(surface)
    c, s = float(np.cos(clock)), float(np.sin(clock))
    out = (c * x - s * y, s * x + c * y, 0.0)
    radius = 0.5 * roll.diameter
    return Spot(name, (radius * out[0], radius * out[1], z), place, out, AXIS)
