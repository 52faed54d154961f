"""Deviations as arrows at the stations, uncertainty bars, and the limits they are held against."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from ..frames import Pose
from ..shapes import Triangles
from ..vectors import Floats, Indices, unit
from .deviation_surface import DEVIATION
from .solids import Solid, cone, copies, disc, joined, mesh_of, rotations_along, sides_within, tubes

__all__ = [
    "arrows", "bars_along", "deviation_vectors", "limit_edges", "limit_planes", "mark_size", "uncertainty_bars",
]  # fmt: skip

CELLS = 90_000
HEAD = 2.6
"""Radius of an arrow's head over that of its shaft; the head is three times as long as it is wide."""

DOT = 0.6
"""Arrows shorter than this many radii become flat dots."""


def mark_size(places: Floats) -> float:
    """Radius [m] of shafts at ``places`` (n, 3) that suits their spacing and their extent."""
    extent = float(np.linalg.norm(np.ptp(places, axis=0))) if len(places) else 0.0
    if extent == 0.0:
        return 0.01
    spacing = extent / max(1.0, np.sqrt(len(places)))
    return float(min(0.04 * spacing, 0.003 * extent))


def _rotations(pose: Pose, up: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Floats:
    """World rotations ``(k, 3, 3)``: z along the normal of the surface, or against it."""
    turn = np.where(up[:, None, None], np.eye(3), np.diag([1.0, -1.0, -1.0]))
    result: Floats = pose.rotation @ turn
    return result


def deviation_vectors(
    places: Floats,
    deviations: Floats,
    world_from_surface: Pose,
    factor: float,
    lift: float,
    radius: float | None = None,
) -> pv.PolyData:
    """Arrows from the zero level to the deviation, upward where + ; flat dots where there is next to none.

    Parameters
    ----------
    places : (n, 3) float
        Nominal, metres, frame of the surface.
    deviations : (n,) float
        Metres; nan where there is none.
    factor, lift : float
        As for the deviation surface.
    radius : float, optional
        Of the shafts, metres; ``mark_size`` where not given.

    Returns
    -------
    pyvista.PolyData
        Cell arrays ``station`` (index into ``places``) and ``deviation [um]``.
    """
    thick = mark_size(places) if radius is None else radius
    reach = factor * np.abs(deviations)
    start = world_from_surface.points(places) + lift * world_from_surface.rotation[:, 2]
    pointed, dots = np.nonzero(reach > DOT * thick)[0], np.nonzero(reach <= DOT * thick)[0]
    parts = [
        *arrows(start[pointed], reach[pointed], _rotations(world_from_surface, deviations[pointed] > 0.0), thick),
        copies(disc(HEAD * thick, 0.0, 8), world_from_surface.rotation, start[dots]),
    ]
    numbers = [*([pointed] * (len(parts) - 1)), dots]
    solid, _ = joined(parts)
    station = np.concatenate([number[owner] for number, (_, owner) in zip(numbers, parts, strict=True)])
    return mesh_of(solid, {"station": station, DEVIATION: 1e6 * deviations[station]})


def arrows(start: Floats, reach: Floats, rotation: Floats, thick: float) -> list[Solid]:
    """Shafts and heads of arrows [metres] along the z axes of ``rotation`` (k, 3, 3); a short arrow is all head."""
    sides = sides_within(CELLS, len(start), 4)
    head = np.minimum(3.0 * HEAD * thick, reach)
    shaft = reach - head
    z = rotation[:, :, 2]
    neck = start + shaft[:, None] * z
    shafts = tubes(np.stack([start, neck], axis=1), thick, sides)
    wide = HEAD * thick * np.sqrt(head / (3.0 * HEAD * thick))
    heads = copies(cone(1.0, 0.0, 1.0, sides), rotation, neck, np.column_stack([wide, wide, head]))
    return [shafts, heads]


def uncertainty_bars(
    places: Floats,
    deviations: Floats,
    expanded: Floats,
    world_from_surface: Pose,
    factor: float,
    lift: float,
    radius: float | None = None,
) -> pv.PolyData:
    """Thin bars from deviation - U to deviation + U with a cross-plate at either end; cell array ``station``.

    ``expanded`` (n,) is U [m]; the other arguments are those of ``deviation_vectors``.
    """
    thick = 0.35 * (mark_size(places) if radius is None else radius)
    there = np.nonzero(np.isfinite(deviations) & np.isfinite(expanded) & (expanded > 0.0))[0]
    z = world_from_surface.rotation[:, 2]
    zero = world_from_surface.points(places[there]) + lift * z
    ends = [zero + (factor * (deviations[there] + sign * expanded[there]))[:, None] * z for sign in (-1.0, 1.0)]
    sides = sides_within(CELLS // 2, len(there), 2, most=6)
    bars = tubes(np.stack(ends, axis=1), thick, sides)
    plates = [copies(disc(5.0 * thick, 0.0, sides), world_from_surface.rotation, end) for end in ends]
    solid, owner = joined([bars, *plates])
    return mesh_of(solid, {"station": there[owner]})


def bars_along(tips: Floats, direction: Floats, reach: Floats, radius: float) -> pv.PolyData:
    """Thin bars ``reach`` (n,) [m] to either side of ``tips`` (n, 3) along ``direction`` (3,), world, with plates.

    Cell array ``station`` (index into ``tips``); those without a reach have no cells.
    """
    there = np.nonzero(np.isfinite(tips).all(axis=1) & np.isfinite(reach) & (reach > 0.0))[0]
    ends = [tips[there] + sign * reach[there, None] * direction for sign in (-1.0, 1.0)]
    sides = sides_within(CELLS // 2, len(there), 2, most=6)
    hint = np.eye(3)[int(np.argmin(np.abs(direction)))]
    turned = rotations_along(direction[None], unit(np.cross(hint, direction))[None])[0]
    bars = tubes(np.stack(ends, axis=1), radius, sides)
    plates = [copies(disc(5.0 * radius, 0.0, sides), turned, end) for end in ends]
    solid, owner = joined([bars, *plates])
    return mesh_of(solid, {"station": there[owner]})


def limit_planes(places: Floats, limit: float, world_from_surface: Pose, factor: float, lift: float) -> pv.PolyData:
    """The two sides of a zone ``limit`` [m] wide about the zero level, over the extent of the stations.

    Returns
    -------
    pyvista.PolyData
        Two rectangles; cell array ``side``: +1 the upper, -1 the lower one.
    """
    faces: Indices = np.array([[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]])
    solid = Triangles(_zone_corners(places, limit, world_from_surface, factor, lift), faces)
    return mesh_of(solid, {"side": np.array([-1, -1, 1, 1])})


def limit_edges(places: Floats, limit: float, world_from_surface: Pose, factor: float, lift: float) -> pv.PolyData:
    """The borders of ``limit_planes`` as two closed lines."""
    points = _zone_corners(places, limit, world_from_surface, factor, lift)
    return pv.PolyData(points, lines=np.array([5, 0, 1, 2, 3, 0, 5, 4, 5, 6, 7, 4]), deep=True)


def _zone_corners(places: Floats, limit: float, world_from_surface: Pose, factor: float, lift: float) -> Floats:
    """Corners ``(8, 3)`` of the lower and the upper side of a zone, world, metres."""
    low, high = places[:, :2].min(axis=0), places[:, :2].max(axis=0)
    grow = 0.02 * float((high - low).max())
    low, high = low - grow, high + grow
    corners = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
    level = float(places[:, 2].mean()) + lift
    sheets = [np.column_stack([corners, np.full(4, level + side * 0.5 * factor * limit)]) for side in (-1.0, 1.0)]
    return world_from_surface.points(np.vstack(sheets))
