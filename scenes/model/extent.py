"""Extent of machine surfaces: whether places lie on them."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats, length
from .machine import Bore, Column, Face, MeshPart, Plate, Rail, Roll, Shape
from .mesh_places import nearest_on_mesh

__all__ = ["MESH_SLACK", "ON_SURFACE", "beyond_edge", "beyond_edges", "beyond_outline"]

ON_SURFACE = 1e-9
"""Rounding allowed at the edge of a surface, metres."""

MESH_SLACK = 1e-3
"""How far [m] a place may lie off a mesh: its triangles only come near to a curved side."""


def beyond_edges(shape: Shape, places: Floats) -> Floats:
    """How far ``(n,)`` the ``places`` (n, 3) [m, frame of the surface] lie off the surface; 0 where they are on it.

    On flat surfaces z does not count, since a pad may lift a place. In a bore any place within its sections is on it;
    on a roll only those on its circumference are.
    """
    x, y, z = places.T
    slack = ON_SURFACE
    match shape:
        case Plate() | Column():
            beyond = np.maximum(np.abs(x) - 0.5 * shape.length, np.abs(y) - 0.5 * shape.width)
        case Face():
            radius = np.hypot(x, y)
            beyond = np.maximum(radius - 0.5 * shape.diameter, 0.5 * shape.bore - radius)
        case Rail():
            beside = np.maximum(np.abs(y) - 0.5 * shape.width, -shape.height - z)
            beyond = np.maximum(np.maximum(-x, x - shape.length), beside)
        case Roll():
            beyond = np.maximum(np.abs(z) - 0.5 * shape.face, np.abs(np.hypot(x, y) - 0.5 * shape.diameter))
        case Bore():
            beyond = _beyond_bore(shape, np.hypot(x, y), z)
        case MeshPart():
            beyond, slack = length(nearest_on_mesh(shape.triangles, places)[0] - places), MESH_SLACK
    return np.where(beyond > slack, beyond, 0.0)


def _beyond_bore(bore: Bore, radius: Floats, z: Floats) -> Floats:
    """Distance ``(n,)`` to the nearest section, metres."""
    diameter, start, end = np.array(bore.sections).T[:, :, None]
    along = np.maximum(np.maximum(start - z, z - end), 0.0)
    result: Floats = np.hypot(along, np.maximum(radius - 0.5 * diameter, 0.0)).min(axis=0)
    return result


def beyond_edge(shape: Shape, x: float, y: float, z: float = 0.0) -> float:
    """The same for one place."""
    return float(beyond_edges(shape, np.array([[x, y, z]]))[0])


def beyond_outline(shape: Shape, x: float, y: float) -> float:
    """How far ``x, y`` [m] lies outside the outline of the part as seen along its z, metres; feet stand within."""
    match shape:
        case Roll():
            beyond = float(np.hypot(x, y)) - 0.5 * shape.diameter
        case Bore():
            widest = max(diameter for diameter, _, _ in shape.sections)
            beyond = float(np.hypot(x, y)) - 0.5 * widest - shape.wall
        case MeshPart():
            low, high = shape.triangles.vertices[:, :2].min(axis=0), shape.triangles.vertices[:, :2].max(axis=0)
            place = np.array([x, y])
            beyond = float(np.maximum(low - place, place - high).max())
        case _:
            beyond = beyond_edge(shape, x, y)
    return beyond if beyond > ON_SURFACE else 0.0
