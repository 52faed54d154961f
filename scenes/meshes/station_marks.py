"""Dots at stations of any surface: flat on it, at the position of its part at which they are read."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from ..model.layout import Layout
from ..model.machine import Bore, Rail, Roll, Shape
from ..tracing.places import station_places, station_sides
from .deviation_vectors import CELLS, HEAD, mark_size
from .solids import copies, disc, mesh_of, rotations_along, sides_within

__all__ = ["surface_marks"]

ROOM = 0.3
"""Dots are not larger than this share of the narrow side of what they lie on."""


def _narrow_side(shape: Shape) -> float:
    """Width of a rail, diameter of a roll or bore; endless where dots have room, metres."""
    match shape:
        case Rail():
            return shape.width
        case Roll():
            return 0.5 * shape.diameter
        case Bore():
            return 0.5 * min(diameter for diameter, _, _ in shape.sections)
        case _:
            return np.inf


def surface_marks(layout: Layout, names: tuple[str, ...], lift: float = 2.0e-3) -> pv.PolyData:
    """Dots at stations of one surface, ``lift`` [m] above it; cell array ``station`` counts into ``names``.

    On a bore, where a station stands on the axis, its dot lies there.
    """
    foot, normal, _ = station_places(layout, names)
    along = np.cross(station_sides(layout, names), normal)
    places = np.unique(np.array([layout.stations[name].at for name in names]), axis=0)
    size = min(HEAD * mark_size(places), ROOM * _narrow_side(layout.surfaces[layout.stations[names[0]].surface].shape))
    sides = sides_within(CELLS // 3, len(names), 1, most=20)
    rotation = rotations_along(normal, along)
    solid, owner = copies(disc(size, 0.0, sides), rotation, foot + lift * normal)
    return mesh_of(solid, {"station": owner})
