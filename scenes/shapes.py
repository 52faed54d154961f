"""Triangles of machine surfaces, as numpy arrays: what light can hit and what a picture shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .frames import Pose
from .vectors import Floats, frozen

__all__ = ["Triangles", "box", "ring"]


@dataclass(frozen=True, slots=True, eq=False)
class Triangles:
    """A triangle mesh: ``vertices`` (n, 3) in metres, ``faces`` (m, 3) indices, counter-clockwise from outside."""

    vertices: Floats
    faces: NDArray[np.int64]

    def __post_init__(self) -> None:
        """Copy, check and freeze the arrays."""
        faces = np.array(self.faces, dtype=np.int64).reshape(-1, 3)
        faces.setflags(write=False)
        object.__setattr__(self, "vertices", frozen(self.vertices, (-1, 3)))
        object.__setattr__(self, "faces", faces)

    def corners(self) -> Floats:
        """Corner points ``(m, 3, 3)`` of every triangle."""
        return self.vertices[self.faces]

    def moved(self, a_from_b: Pose) -> Triangles:
        """The same mesh, its coordinates taken from frame b to frame a."""
        return Triangles(a_from_b.points(self.vertices), self.faces)


_BOX_FACES = np.array([
    [0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4],
    [1, 2, 6], [1, 6, 5], [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
])  # fmt: skip


def box(length: float, width: float, bottom: float, top: float) -> Triangles:
    """Closed box, centred on the z axis: ``length`` along x, ``width`` along y, from ``bottom`` to ``top`` in z [m]."""
    x, y = 0.5 * length, 0.5 * width
    corners = np.array([[-x, -y], [x, -y], [x, y], [-x, y]])
    low = np.column_stack([corners, np.full(4, bottom)])
    high = np.column_stack([corners, np.full(4, top)])
    return Triangles(np.vstack([low, high]), _BOX_FACES)


def ring(outer: float, inner: float, bottom: float, top: float, segments: int = 64) -> Triangles:
    """Closed disc or ring about the z axis between two radii [m]; ``inner`` 0 gives a disc.

    The polygon lies around the outer circle and inside the inner one, so that the mesh never hides less than the part.
    """
    angle = np.linspace(0.0, 2.0 * np.pi, segments, endpoint=False)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    rim = outer / np.cos(np.pi / segments) * circle
    hole = inner * circle if inner > 0.0 else np.zeros_like(circle)
    levels = [
        np.column_stack([points, np.full(segments, z)])
        for points, z in ((rim, top), (hole, top), (hole, bottom), (rim, bottom))
    ]
    here = np.arange(segments)
    there = np.roll(here, -1)
    faces = []
    for level in range(4):
        a, b = level * segments, ((level + 1) % 4) * segments
        faces.append(np.column_stack([a + here, a + there, b + there]))
        faces.append(np.column_stack([a + here, b + there, b + here]))
    triangles = np.vstack(faces)
    vertices = np.vstack(levels)
    if inner == 0.0:
        p = vertices[triangles]
        area = np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1)
        triangles = triangles[area > 0.0]
    return Triangles(vertices, triangles)
