"""Extent of machine surfaces: whether a place lies on them."""

from __future__ import annotations

import math

import numpy as np

from .machine import Bore, Column, Face, MeshPart, Plate, Rail, Roll, Shape
from .mesh_places import nearest_on_mesh

__all__ = ["MESH_SLACK", "ON_SURFACE", "beyond_edge"]

ON_SURFACE = 1e-9
"""Rounding allowed at the edge of a surface, metres."""

MESH_SLACK = 1e-3
"""How far [m] a place may lie off a mesh: its triangles only come near to a curved side."""


def beyond_edge(shape: Shape, x: float, y: float, z: float = 0.0) -> float:
    """How far the place ``x, y, z`` [m, frame of the surface] lies off the surface, metres; 0 where it is on it.

    On flat surfaces z does not count, since a pad may lift a place. In a bore any place within its sections is on it;
    on a roll only those on its circumference are.
    """
    slack = ON_SURFACE
    match shape:
        case Plate() | Column():
            beyond = max(abs(x) - 0.5 * shape.length, abs(y) - 0.5 * shape.width)
        case Face():
            radius = math.hypot(x, y)
            beyond = max(radius - 0.5 * shape.diameter, 0.5 * shape.bore - radius)
        case Rail():
            beyond = max(-x, x - shape.length, abs(y) - 0.5 * shape.width, -shape.height - z)
        case Roll():
            beyond = max(abs(z) - 0.5 * shape.face, abs(math.hypot(x, y) - 0.5 * shape.diameter))
        case Bore():
            beyond = _beyond_bore(shape, math.hypot(x, y), z)
        case MeshPart():
            foot, _ = nearest_on_mesh(shape.triangles, np.array([[x, y, z]]))
            beyond, slack = math.dist(foot[0], (x, y, z)), MESH_SLACK
    return beyond if beyond > slack else 0.0


def _beyond_bore(bore: Bore, radius: float, z: float) -> float:
    """Distance to the nearest section, metres."""
    return min(
        math.hypot(max(start - z, z - end, 0.0), max(radius - 0.5 * diameter, 0.0))
        for diameter, start, end in bore.sections
    )
