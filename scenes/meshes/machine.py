"""Machine surfaces with their edges, and the floor with its grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyvista as pv

from ..model.layout import Layout
from ..model.machine import Surface
from ..tracing.sight import triangles_of
from ..vectors import Floats
from .scene_parts import Part, Role
from .solids import FEATURE_ANGLE, mesh_of

__all__ = ["Floor", "floor", "floor_parts", "machine_parts", "surface_edges", "surface_mesh"]

BELOW = 2.0e-3
"""The floor is drawn this far [m] below z = 0, so that its grid and the feet of columns do not flicker through it."""


def surface_mesh(surface: Surface) -> pv.PolyData:
    """Mesh of a machine surface: the same triangles that stop light."""
    return mesh_of(triangles_of(surface.shape).moved(surface.world_from_surface))


def surface_edges(surface: Surface) -> pv.PolyData:
    """Sharp edges of a machine surface as lines."""
    solid = triangles_of(surface.shape).moved(surface.world_from_surface)
    faces = np.column_stack([np.full(len(solid.faces), 3), solid.faces]).ravel()
    mesh = pv.PolyData(np.array(solid.vertices), faces=faces, deep=True)
    edges = mesh.clean().extract_feature_edges(
        feature_angle=FEATURE_ANGLE, boundary_edges=True, feature_edges=True, manifold_edges=False,
        non_manifold_edges=False,
    )  # fmt: skip
    edges.clear_data()
    return edges


def machine_parts(layout: Layout) -> tuple[Part, ...]:
    """Faces and edges of every machine surface, one part each."""
    parts = []
    for name, surface in layout.surfaces.items():
        parts.append(Part(f"surface {name}", surface_mesh(surface), Role.MACHINE_SURFACE, "surface", name))
        parts.append(Part(f"edges {name}", surface_edges(surface), Role.MACHINE_EDGE, "surface", name))
    return tuple(parts)


@dataclass(frozen=True, slots=True, eq=False)
class Floor:
    """The floor: a rectangle, the lines of its grid, and their distance [m], to be said beside the picture."""

    sheet: pv.PolyData
    grid: pv.PolyData
    step: float


def _grid_step(extent: float) -> float:
    """1 m, or the next 1-2-5 step that leaves no more than 40 lines on ``extent`` [m]."""
    steps = np.array([1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0])
    return float(steps[min(int(np.searchsorted(steps, extent / 40.0)), len(steps) - 1)])


def floor(bounds: Floats) -> Floor:
    """Floor under the box ``bounds`` (2, 3), whole grid steps wide, with at least half a step around the box."""
    span = bounds[1, :2] - bounds[0, :2]
    step = _grid_step(float(span.max()) + 2.0)
    low = np.floor(bounds[0, :2] / step - 0.5) * step
    high = np.ceil(bounds[1, :2] / step + 0.5) * step
    corners = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
    sheet = pv.PolyData(np.column_stack([corners, np.full(4, -BELOW)]), faces=np.array([4, 0, 1, 2, 3]), deep=True)
    x = np.arange(low[0], high[0] + 0.5 * step, step)
    y = np.arange(low[1], high[1] + 0.5 * step, step)
    starts = np.vstack([np.column_stack([x, np.full_like(x, low[1])]), np.column_stack([np.full_like(y, low[0]), y])])
    ends = np.vstack([np.column_stack([x, np.full_like(x, high[1])]), np.column_stack([np.full_like(y, high[0]), y])])
    points = np.column_stack([np.stack([starts, ends], axis=1).reshape(-1, 2), np.full(2 * len(starts), -0.5 * BELOW)])
    lines = np.column_stack([np.full(len(starts), 2), np.arange(2 * len(starts)).reshape(-1, 2)]).ravel()
    return Floor(sheet, pv.PolyData(points, lines=lines, deep=True), step)


def floor_parts(bounds: Floats) -> tuple[Part, Part]:
    """Sheet and grid of the floor under the box ``bounds`` (2, 3)."""
    ground = floor(bounds)
    return Part("floor", ground.sheet, Role.FLOOR), Part("floor grid", ground.grid, Role.FLOOR_GRID)
