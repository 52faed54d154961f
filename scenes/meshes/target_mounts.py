"""What carries the targets: posts, magnets, brackets, and stands under those that stand along a beam by themselves.

Plain shapes of our own; heights and arms are those of the layout.
"""

from __future__ import annotations

import numpy as np

from ..model.layout import Layout
from ..model.machine import FLOOR
from ..shapes import box, ring
from ..tracing.geometry import SurveyGeometry
from ..tracing.sight import Sight, obstacles_of, sight_lines
from ..vectors import Floats, Indices
from .collected import Collected
from .scene_parts import Role
from .solids import rotations_along, sides_within

__all__ = ["POST_RADIUS", "heights_of", "mounts", "step_of"]

CELLS = 40_000
POST_RADIUS = 0.008
FOOT_RADIUS = 0.024
FOOT_HEIGHT = 0.008
MAGNET_SIDE = 0.044
MAGNET_HEIGHT = 0.035
"""Magnets are blocks no taller than this [m]; above them stands a post."""

PLATE = 0.008
"""Thickness of the plates of a bracket, metres."""

STAND_RADIUS = 0.016
STAND_FOOT = 0.07
LEAST_STAND = 0.01
"""Less room than this [m] under a target needs no stand."""

UP = np.array([0.0, 0.0, 1.0])


def heights_of(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> Floats:
    """Heights ``(k,)`` from the surface to the foot of each target, metres."""
    stated = np.array([layout.stations[geometry.rows.stations[i]].mount.height for i in geometry.rows.station[rows]])
    return stated + geometry.rows.mount_offset[rows]


def step_of(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> Floats:
    """Distances ``(k,)`` of the two feet of each target [m]; 0 where it stands on one."""
    return np.array([layout.targets[geometry.rows.targets[i]].step for i in geometry.rows.target[rows]])


def _feet(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> tuple[Indices, Floats]:
    """Rows ``(f,)`` and places ``(f, 3)`` of the mounts: two where a target stands on two feet."""
    step = step_of(layout, geometry, rows)
    two = rows[step > 0.0]
    aside = 0.5 * step[step > 0.0, None] * geometry.ahead[two]
    one = rows[step == 0.0]
    places = np.vstack([geometry.foot[one], geometry.foot[two] - aside, geometry.foot[two] + aside])
    return np.concatenate([one, two, two]), places


def mounts(layout: Layout, geometry: SurveyGeometry, rows: Indices) -> Collected:
    """Mounts of the targets of ``rows`` (k,), one for each."""
    made = Collected()
    if len(rows) == 0:
        return made
    feet, places = _feet(layout, geometry, rows)
    kinds = np.array([layout.stations[geometry.rows.stations[i]].mount.kind for i in geometry.rows.station[feet]])
    heights = heights_of(layout, geometry, feet)
    there = heights > 0.0
    for kind, build in (("magnet", _magnets), ("bracket", _brackets)):
        mine = there & (kinds == kind)
        build(made, geometry, feet[mine], places[mine], heights[mine])
    mine = there & (kinds != "magnet") & (kinds != "bracket") & (kinds != "discs")
    _posts(made, geometry, feet[mine], places[mine], heights[mine])
    _stands(made, layout, geometry, rows)
    return made


def _upright(geometry: SurveyGeometry, rows: Indices) -> Floats:
    """Rotations ``(k, 3, 3)``: z along the mount, x beside it."""
    return rotations_along(geometry.normal[rows], geometry.beside[rows])


def _posts(made: Collected, geometry: SurveyGeometry, rows: Indices, places: Floats, heights: Floats) -> None:
    """Shafts with a foot plate."""
    rotation, ones = _upright(geometry, rows), np.ones((len(rows), 2))
    sides = sides_within(CELLS, len(rows), 8, most=16)
    plate = np.minimum(FOOT_HEIGHT, 0.2 * heights)
    shaft, foot = ring(POST_RADIUS, 0.0, 0.0, 1.0, sides), ring(FOOT_RADIUS, 0.0, 0.0, 1.0, sides)
    made.add(Role.POST, shaft, rows, rotation, places, np.column_stack([ones, heights]))
    made.add(Role.POST, foot, rows, rotation, places, np.column_stack([ones, plate]))


def _magnets(made: Collected, geometry: SurveyGeometry, rows: Indices, places: Floats, heights: Floats) -> None:
    """Blocks with a groove's width of two pole shoes, and a post where the mount is taller."""
    rotation, ones = _upright(geometry, rows), np.ones((len(rows), 2))
    block = np.minimum(MAGNET_HEIGHT, heights)
    made.add(Role.MAGNET, box(MAGNET_SIDE, MAGNET_SIDE, 0.0, 1.0), rows, rotation, places,
             np.column_stack([ones, block]))  # fmt: skip
    tall = heights > block + 1e-9
    sides = sides_within(CELLS, len(rows), 8, most=16)
    top = places[tall] + block[tall, None] * geometry.normal[rows[tall]]
    made.add(Role.POST, ring(POST_RADIUS, 0.0, 0.0, 1.0, sides), rows[tall], rotation[tall], top,
             np.column_stack([ones[tall], (heights - block)[tall]]))  # fmt: skip


def _brackets(made: Collected, geometry: SurveyGeometry, rows: Indices, places: Floats, heights: Floats) -> None:
    """A plate on the surface, an upright from it, and an arm out to the target where it stands beside its foot."""
    rotation = _upright(geometry, rows)
    plate, wall = box(0.05, 0.06, 0.0, 1.0), box(PLATE, 0.05, 0.0, 1.0)
    thick = np.minimum(PLATE, 0.3 * heights)
    ones = np.ones((len(rows), 2))
    made.add(Role.BRACKET, plate, rows, rotation, places, np.column_stack([ones, thick]))
    made.add(Role.BRACKET, wall, rows, rotation, places, np.column_stack([ones, heights]))
    arm = geometry.arm[rows]
    out = arm != 0.0
    top = (
        places[out]
        + heights[out, None] * geometry.normal[rows[out]]
        + 0.5 * arm[out, None] * geometry.beside[rows[out]]
    )
    scale = np.column_stack([np.abs(arm[out]) + PLATE, np.ones((int(out.sum()), 2))])
    made.add(Role.BRACKET, box(1.0, 0.04, -PLATE, 0.0), rows[out], rotation[out], top, scale)


def _stands(made: Collected, layout: Layout, geometry: SurveyGeometry, rows: Indices) -> None:
    """Pillars under targets that stand along a beam and on no machine surface: from the floor, or what lies there."""
    names = [geometry.rows.stations[i] for i in geometry.rows.station[rows]]
    on_floor = np.array([layout.stations[name].surface == FLOOR for name in names])
    mine = rows[on_floor & (geometry.normal[rows, 2] > 0.99) & (geometry.foot[rows, 2] > LEAST_STAND)]
    if len(mine) == 0:
        return
    foot = geometry.foot[mine]
    down = sight_lines(obstacles_of(layout), foot, foot * [1.0, 1.0, 0.0], np.zeros(len(mine)))
    room = np.where(down.sight == Sight.BLOCKED, down.reach, foot[:, 2])
    mine, foot, room = mine[room > LEAST_STAND], foot[room > LEAST_STAND], room[room > LEAST_STAND]
    base, plate, ones = foot - np.outer(room, UP), np.minimum(0.012, 0.2 * room), np.ones((len(mine), 2))
    for radius, sides, start, height in (
        (STAND_RADIUS, 24, base, room), (STAND_FOOT, 32, base, plate), (0.03, 24, foot - np.outer(plate, UP), plate)
    ):  # fmt: skip
        solid = ring(radius, 0.0, 0.0, 1.0, sides)
        made.add(Role.TRIPOD, solid, mine, np.eye(3), start, np.column_stack([ones, height]))
