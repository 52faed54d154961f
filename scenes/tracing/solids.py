"""Machine surfaces as triangles: one at a time in its own frame, and all that can stop light, in the world."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..model.machine import Bore, Column, Face, MeshPart, Plate, Rail, Roll, Shape
from ..shapes import Triangles, bar, box, ring, sides_for, tube
from ..vectors import Indices
from .places import AS_DRAWN, pose_of

__all__ = ["Obstacles", "obstacles_of", "triangles_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Obstacles:
    """Everything that can stop light: triangles, and the surface that each belongs to (``names[owner]``)."""

    triangles: Triangles
    owner: Indices
    names: tuple[str, ...]


def triangles_of(shape: Shape) -> Triangles:
    """Mesh of a machine surface in its own frame, metres."""
    match shape:
        case Plate():
            return box(shape.length, shape.width, -shape.thickness, 0.0)
        case Column():
            return box(shape.length, shape.width, 0.0, shape.height)
        case Face():
            return ring(0.5 * shape.diameter, 0.5 * shape.bore, -shape.thickness, 0.0)
        case Rail():
            return bar(shape.length, shape.width, -shape.height, 0.0)
        case Roll():
            radius = 0.5 * shape.diameter
            return ring(radius, 0.0, -0.5 * shape.face, 0.5 * shape.face, sides_for(radius))
        case Bore():
            return tube(shape.sections, shape.wall)
        case MeshPart():
            return shape.triangles


def obstacles_of(layout: Layout, without: tuple[str, ...] = (), positions: Mapping[str, str] = AS_DRAWN) -> Obstacles:
    """Triangles of all surfaces of ``layout`` in the world, except those named in ``without``.

    ``positions`` says where moving surfaces stand (name -> position); the others stand where they are drawn.
    """
    names = tuple(name for name in layout.surfaces if name not in without)
    vertices, faces, owner, count = [np.zeros((0, 3))], [np.zeros((0, 3), dtype=np.int64)], [], 0
    for number, name in enumerate(names):
        mesh = triangles_of(layout.surfaces[name].shape).moved(pose_of(layout, name, positions))
        vertices.append(mesh.vertices)
        faces.append(mesh.faces + count)
        owner.append(np.full(len(mesh.faces), number, dtype=np.int64))
        count += len(mesh.vertices)
    owners = np.concatenate(owner) if owner else np.zeros(0, dtype=np.int64)
    return Obstacles(Triangles(np.vstack(vertices), np.vstack(faces)), owners, names)
