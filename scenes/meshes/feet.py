"""Feet of a machine surface, and the shims proposed under them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyvista as pv

from ..model.layout import Layout
from ..model.machine import Bore, Column, Face, MeshPart, Plate, Rail, Roll
from ..model.survey import Feet
from ..shapes import box, ring
from ..tracing.places import pose_of
from ..vectors import Floats
from .solids import copies, joined, mesh_of

__all__ = ["feet_mesh", "foot_places", "shim_mesh"]

PAD_SHARE = 0.018
"""Radius of a foot as a share of the longer side of its surface."""

PAD_HEIGHT = 0.06
RAIL_WIDTHS = 20.0
"""Feet of a rail are as large as those of a plate this many rail widths long: not wider than the rail."""

SEAM = 0.03
"""Part of each drawn shim that is left open, so that the pieces of a stack can be counted."""


def _sizes(layout: Layout, surface: str) -> tuple[float, float]:
    """Longer side, and depth of the underside below the frame of the surface, metres."""
    shape = layout.surfaces[surface].shape
    match shape:
        case Plate():
            return max(shape.length, shape.width), shape.thickness
        case Column():
            return max(shape.length, shape.width), 0.0
        case Face():
            return shape.diameter, shape.thickness
        case Rail():
            return min(shape.length, RAIL_WIDTHS * shape.width), shape.height
        case Roll():
            return shape.diameter, 0.5 * shape.face
        case Bore():
            return max(diameter for diameter, _, _ in shape.sections) + 2.0 * shape.wall, shape.length
        case MeshPart():
            low, high = shape.triangles.vertices.min(axis=0), shape.triangles.vertices.max(axis=0)
            return float((high - low)[:2].max()), -float(low[2])


def foot_places(layout: Layout, feet: Feet, below: bool = True) -> Floats:
    """Places ``(m, 3)`` of the feet, world, metres: at the underside of their surface, or on its measured side."""
    depth = _sizes(layout, feet.surface)[1] if below else 0.0
    return pose_of(layout, feet.surface).points(np.column_stack([feet.at, np.full(len(feet.names), -depth)]))


def feet_mesh(layout: Layout, feet: Feet) -> pv.PolyData:
    """Pads under the surface, on pedestals down to the floor where there is room; cell array ``foot``."""
    pose = pose_of(layout, feet.surface)
    radius = PAD_SHARE * _sizes(layout, feet.surface)[0]
    top = foot_places(layout, feet)
    normal = pose.rotation[:, 2]
    room = top[:, 2] if normal[2] > 0.99 else np.zeros(len(top))
    pad = np.where(room > 0.0, np.minimum(PAD_HEIGHT, 0.5 * room), PAD_HEIGHT)
    pads = copies(ring(radius, 0.0, -1.0, 0.0, 32), pose.rotation, top, np.column_stack([np.ones((len(top), 2)), pad]))
    tall = np.nonzero(room > pad)[0]
    scale = np.column_stack([np.ones((len(tall), 2)), room[tall] - pad[tall]])
    pedestal, which = copies(
        box(2.6 * radius, 2.6 * radius, -1.0, 0.0), pose.rotation, top[tall] - pad[tall, None] * normal, scale
    )
    solid, owner = joined([pads, (pedestal, tall[which])])
    return mesh_of(solid, {"foot": owner})


def shim_mesh(
    layout: Layout, feet: Feet, stacks: Sequence[Sequence[float]], factor: float, lift: float | None = None
) -> pv.PolyData:
    """Stacks of shims, drawn thicker than life by ``factor``, one drum for each piece.

    Parameters
    ----------
    stacks : for each foot its pieces, metres
        Thickest first; negative for shims taken out. A lift of any thickness is a stack of one.
    lift : float, optional
        Where given, stacks stand on the zero level that is this high [m] above the measured side, as tall as the
        deviations drawn there; else around the feet, from the underside downward.

    Returns
    -------
    pyvista.PolyData
        Cell arrays ``foot``, ``piece`` (number in its stack) and ``thickness [um]``.
    """
    pose = pose_of(layout, feet.surface)
    normal = pose.rotation[:, 2]
    under = lift is None
    radius = (2.2 if under else 0.8) * PAD_SHARE * _sizes(layout, feet.surface)[0]
    foot = np.array([number for number, stack in enumerate(stacks) for _ in stack], dtype=np.int64)
    piece = np.array([number for stack in stacks for number in range(len(stack))], dtype=np.int64)
    thickness = np.array([value for stack in stacks for value in stack], dtype=np.float64)
    before = np.array([sum(stack[:number]) for stack in stacks for number in range(len(stack))], dtype=np.float64)
    start = foot_places(layout, feet, below=under)[foot] + (0.0 if lift is None else lift) * normal
    side = -1.0 if under else 1.0
    low = factor * side * before
    high = factor * side * (before + (1.0 - SEAM) * thickness)
    bottom, top = np.minimum(low, high), np.maximum(low, high)
    scale = np.column_stack([np.ones((len(foot), 2)), top - bottom])
    solid, owner = copies(ring(radius, 0.0, 0.0, 1.0, 32), pose.rotation, start + bottom[:, None] * normal, scale)
    arrays = {"foot": foot[owner], "piece": piece[owner], "thickness [um]": 1e6 * thickness[owner]}
    return mesh_of(solid, arrays)
