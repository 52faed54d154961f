"""Machine surfaces with their edges, and the floor with its grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyvista as pv

from ..frames import Pose
from ..model.layout import Layout
from ..model.machine import Bore, Surface
from ..shapes import bodies_of, tube
from ..tracing.places import carriers_of, pose_of
from ..tracing.solids import triangles_of
from ..vectors import Floats
from .scene_parts import Part, Role
from .solids import FEATURE_ANGLE, coarser, mesh_of, united

__all__ = [
    "Floor", "bore_meshes", "floor", "floor_parts", "machine_parts", "outline_parts", "surface_edges", "surface_mesh",
]  # fmt: skip

BELOW = 2.0e-3
"""The floor is drawn this far [m] below z = 0, so that its grid and the feet of columns do not flicker through it."""


def surface_mesh(surface: Surface) -> pv.PolyData:
    """Mesh of a machine surface: the same triangles that stop light, or fewer where a part has very many."""
    return mesh_of(coarser(triangles_of(surface.shape)).moved(surface.world_from_surface))


def bore_meshes(surface: Surface) -> tuple[pv.PolyData, pv.PolyData]:
    """Inside of a bore with its end faces, and the shell around it, world."""
    assert isinstance(surface.shape, Bore)
    inside, shell = [], []
    for body in bodies_of(surface.shape.sections):
        solid = tube(body, surface.shape.wall)
        radius = np.linalg.norm(solid.vertices[:, :2], axis=1)
        outer = (radius[solid.faces] > radius.max() * (1.0 - 1e-9)).all(axis=1)
        inside.append(solid.only(~outer))
        shell.append(solid.only(outer))
    first, second = (mesh_of(united(*parts).moved(surface.world_from_surface)) for parts in (inside, shell))
    return first, second


def surface_edges(surface: Surface, pose: Pose | None = None) -> pv.PolyData:
    """Sharp edges of a machine surface as lines, where it stands or in another ``pose``."""
    solid = coarser(triangles_of(surface.shape)).moved(surface.world_from_surface if pose is None else pose)
    faces = np.column_stack([np.full(len(solid.faces), 3), solid.faces]).ravel()
    mesh = pv.PolyData(np.array(solid.vertices), faces=faces, deep=True)
    edges = mesh.clean().extract_feature_edges(
        feature_angle=FEATURE_ANGLE, boundary_edges=True, feature_edges=True, manifold_edges=False,
        non_manifold_edges=False,
    )  # fmt: skip
    edges.clear_data()
    return edges


def machine_parts(layout: Layout) -> tuple[Part, ...]:
    """Faces and edges of every machine surface, and the outlines of moving ones where they are read besides."""
    parts = []
    for name, surface in layout.surfaces.items():
        if isinstance(surface.shape, Bore):
            inside, shell = bore_meshes(surface)
            parts.append(Part(f"surface {name}", inside, Role.MACHINE_INSIDE, "surface", name))
            parts.append(Part(f"shell {name}", shell, Role.MACHINE_SHELL, "surface", name))
        else:
            parts.append(Part(f"surface {name}", surface_mesh(surface), Role.MACHINE_SURFACE, "surface", name))
        parts.append(Part(f"edges {name}", surface_edges(surface), Role.MACHINE_EDGE, "surface", name))
    return (*parts, *outline_parts(layout))


def outline_parts(layout: Layout) -> tuple[Part, ...]:
    """Edges of moving parts, and of what stands on them, at the positions at which stations are read besides."""
    read = dict.fromkeys(
        (station.carried_by, station.position) for station in layout.stations.values() if station.carried_by
    )
    parts = []
    for mover, position in read:
        moves = layout.surfaces[mover].moves
        if moves is None or position == moves.drawn:
            continue
        for name, surface in layout.surfaces.items():
            if mover in (carrier.name for carrier in carriers_of(layout, name)):
                edges = surface_edges(surface, pose_of(layout, name, {mover: position}))
                parts.append(Part(f"edges {name}@{position}", edges, Role.MACHINE_GHOST, "surface", name))
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
