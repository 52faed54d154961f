"""Plain solids as triangles, many copies at once, and the way from triangles to a display mesh."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pyvista as pv
from numpy.typing import ArrayLike, NDArray
from vtkmodules.vtkFiltersCore import vtkBinnedDecimation

from ..shapes import Triangles
from ..vectors import Floats, Indices, length, unit

__all__ = [
    "FEATURE_ANGLE",
    "MOST_DRAWN",
    "coarser",
    "cone",
    "copies",
    "disc",
    "extruded",
    "joined",
    "mesh_of",
    "rotations_along",
    "shifted",
    "sides_within",
    "tubes",
    "united",
]

FEATURE_ANGLE = 40.0
"""Edges sharper than this [deg] stay crisp; flatter ones are shaded round."""

MOST_DRAWN = 60_000
"""A part of more triangles than this is drawn with fewer; light meets them all."""

CELLS_ACROSS = 80
"""Its corners are then drawn together in cubes, so many along its longest side."""

Solid = tuple[Triangles, Indices]
"""Triangles and the number of the copy ``(m,)`` that each belongs to."""


def sides_within(cells: int, count: int, cells_per_side: int, most: int = 12) -> int:
    """How many sides (3 to ``most``) round parts may have so that ``count`` of them stay within ``cells``."""
    return int(np.clip(cells // max(1, count * cells_per_side), 3, most))


def disc(radius: float, z: float, segments: int) -> Triangles:
    """Flat disc about the z axis, seen from +z; ``radius`` and ``z`` in metres."""
    angle = np.linspace(0.0, 2.0 * np.pi, segments, endpoint=False)
    rim = np.column_stack([radius * np.cos(angle), radius * np.sin(angle), np.full(segments, z)])
    here = np.arange(segments)
    return Triangles(rim, np.column_stack([np.zeros(segments, int), here, np.roll(here, -1)])[1:-1])


def cone(radius: float, bottom: float, tip: float, segments: int) -> Triangles:
    """Closed cone about the z axis, metres."""
    base = disc(radius, bottom, segments)
    here = np.arange(segments)
    mantle = np.column_stack([here, np.roll(here, -1), np.full(segments, segments)])
    return Triangles(np.vstack([base.vertices, [[0.0, 0.0, tip]]]), np.vstack([base.faces[:, ::-1], mantle]))


def extruded(outline: ArrayLike, bottom: float, top: float) -> Triangles:
    """Prism over a convex ``outline`` (n, 2), counter-clockwise in x and y, from ``bottom`` to ``top`` in z [m]."""
    corners = np.asarray(outline, dtype=np.float64)
    n = len(corners)
    here = np.arange(n)
    there = np.roll(here, -1)
    fan = np.column_stack([np.zeros(n - 2, dtype=np.int64), here[1:-1], here[2:]])
    walls = np.vstack([np.column_stack([here, there, there + n]), np.column_stack([here, there + n, here + n])])
    vertices = [np.column_stack([corners, np.full(n, level)]) for level in (bottom, top)]
    return Triangles(np.vstack(vertices), np.vstack([fan[:, ::-1], fan + n, walls]))


def copies(template: Triangles, rotation: Floats, origin: Floats, scale: ArrayLike = 1.0) -> Solid:
    """``template`` at many places.

    Parameters
    ----------
    rotation, origin : (k, 3, 3) or (3, 3), and (k, 3) float
        ``a_from_copy`` of every copy.
    scale : (k, 3) float, or what broadcasts to it
        Stretch along the axes of the copy, before it is turned.
    """
    count, size = len(origin), len(template.vertices)
    stretched = template.vertices * np.broadcast_to(np.asarray(scale, dtype=np.float64), (count, 3))[:, None, :]
    turned = np.einsum("kij,kvj->kvi", np.broadcast_to(rotation, (count, 3, 3)), stretched)
    vertices = turned + origin[:, None, :]
    faces = template.faces[None, :, :] + size * np.arange(count)[:, None, None]
    return Triangles(vertices.reshape(-1, 3), faces.reshape(-1, 3)), np.repeat(np.arange(count), len(template.faces))


def rotations_along(z_axes: Floats, x_axes: Floats) -> Floats:
    """Rotations ``(k, 3, 3)`` whose z runs along ``z_axes`` (k, 3) and whose x along ``x_axes``, square to them."""
    return np.stack([x_axes, np.cross(z_axes, x_axes), z_axes], axis=-1)


def _across(direction: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors ``(k, 3)`` square to each of ``direction`` and to each other."""
    axis = np.eye(3)[np.argmin(np.abs(direction), axis=-1)]
    one = unit(np.cross(direction, axis))
    return one, np.cross(direction, one)


def tubes(paths: Floats, radius: ArrayLike, sides: int) -> Solid:
    """Round tubes along nearly straight ``paths`` (k, p, 3), open at their ends; paths of no length are left out.

    ``radius`` [m] broadcasts to (k, p), so that a tube can taper.
    """
    count, steps = paths.shape[:2]
    chord = paths[:, -1] - paths[:, 0]
    kept = np.nonzero(length(chord) > 0.0)[0]
    if len(kept) == 0:
        return Triangles(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)), np.zeros(0, dtype=np.int64)
    one, two = _across(unit(chord[kept]))
    angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    circle = np.cos(angle)[:, None] * one[:, None, :] + np.sin(angle)[:, None] * two[:, None, :]
    wide = np.broadcast_to(np.asarray(radius, dtype=np.float64), (count, steps))[kept]
    vertices = paths[kept][:, :, None, :] + wide[:, :, None, None] * circle[:, None, :, :]
    here = np.arange(sides)
    there = np.roll(here, -1)
    lower, upper = np.column_stack([here, there, there + sides]), np.column_stack([here, there + sides, here + sides])
    band = np.vstack([lower, upper])
    start = sides * (steps * np.arange(len(kept))[:, None] + np.arange(steps - 1)[None, :])
    faces = start[:, :, None, None] + band
    owner = np.repeat(kept, 2 * sides * (steps - 1))
    return Triangles(vertices.reshape(-1, 3), faces.reshape(-1, 3)), owner


def joined(parts: Sequence[Solid]) -> Solid:
    """One solid of several; the numbers of the copies are kept."""
    start = np.cumsum([0, *(len(solid.vertices) for solid, _ in parts)])
    faces = [solid.faces + first for (solid, _), first in zip(parts, start, strict=False)]
    vertices = [solid.vertices for solid, _ in parts]
    return (
        Triangles(np.vstack([np.zeros((0, 3)), *vertices]), np.vstack([np.zeros((0, 3), dtype=np.int64), *faces])),
        np.concatenate([np.zeros(0, dtype=np.int64), *(owner for _, owner in parts)]),
    )


def united(*solids: Triangles) -> Triangles:
    """One solid of several, without numbers."""
    return joined([(solid, np.zeros(len(solid.faces), dtype=np.int64)) for solid in solids])[0]


def shifted(solid: Triangles, x: float, y: float, z: float) -> Triangles:
    """``solid`` moved along its axes, metres."""
    return Triangles(solid.vertices + np.array([x, y, z]), solid.faces)


def coarser(solid: Triangles) -> Triangles:
    """``solid``, or where it has very many triangles fewer that look alike."""
    if len(solid.faces) <= MOST_DRAWN:
        return solid
    fewer = vtkBinnedDecimation()
    fewer.SetInputData(_poly_data(solid))
    fewer.SetNumberOfDivisions(CELLS_ACROSS, CELLS_ACROSS, CELLS_ACROSS)
    fewer.AutoAdjustNumberOfDivisionsOff()
    fewer.Update()
    mesh = pv.wrap(fewer.GetOutput())
    return Triangles(np.asarray(mesh.points, dtype=np.float64), mesh.faces.reshape(-1, 4)[:, 1:])


def _poly_data(solid: Triangles) -> pv.PolyData:
    """Mesh with its own copy of the data."""
    faces = np.column_stack([np.full(len(solid.faces), 3), solid.faces]).ravel()
    return pv.PolyData(np.array(solid.vertices), faces=faces, deep=True)


def mesh_of(
    solid: Triangles,
    cells: Mapping[str, NDArray[np.generic]] | None = None,
    points: Mapping[str, NDArray[np.generic]] | None = None,
    *,
    lit: bool = True,
) -> pv.PolyData:
    """Display mesh with its own copy of the data and point normals that keep sharp edges sharp.

    Parameters
    ----------
    solid : Triangles
        World, metres.
    cells, points : mapping
        Arrays with one value per triangle and per vertex, by name.
    lit : bool
        False where it is drawn in one even colour: normals, which take longest, are left out then.
    """
    if len(solid.faces) == 0:
        return pv.PolyData()
    mesh = _poly_data(solid)
    for name, values in (cells or {}).items():
        mesh.cell_data[name] = np.array(values)
    for name, values in (points or {}).items():
        mesh.point_data[name] = np.array(values)
    if not lit:
        return mesh
    return mesh.compute_normals(
        cell_normals=False, point_normals=True, split_vertices=True, feature_angle=FEATURE_ANGLE,
        consistent_normals=False, auto_orient_normals=False,
    )  # fmt: skip
