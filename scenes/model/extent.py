"""Extent of machine surfaces: whether a place lies on them."""

from __future__ import annotations

import math

from .machine import Face, Shape

__all__ = ["ON_SURFACE", "beyond_edge"]

ON_SURFACE = 1e-9
"""Rounding allowed at the edge of a surface, metres."""


def beyond_edge(shape: Shape, x: float, y: float) -> float:
    """How far the place ``x, y`` [m, frame of the surface] lies outside the surface, metres; 0 where it is on it."""
    if isinstance(shape, Face):
        radius = math.hypot(x, y)
        beyond = max(radius - 0.5 * shape.diameter, 0.5 * shape.bore - radius)
    else:
        beyond = max(abs(x) - 0.5 * shape.length, abs(y) - 0.5 * shape.width)
    return beyond if beyond > ON_SURFACE else 0.0
