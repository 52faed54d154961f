"""Triangles of machine surfaces, as numpy arrays: what light can hit and what a picture shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .frames import Pose
from .vectors import Floats, frozen

__all__ = ["Triangles", "bar", "box", "revolved", "ring", "sides_for", "tube"]

TOUCHING = 1.0e-9
"""Sections of a bore nearer to each other than this [m] belong to one body."""


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


def sides_for(radius: float, deviation: float = 1.0e-4) -> int:
    """How many sides a circle of ``radius`` [m] needs to stay within ``deviation`` [m]; 48 to 256."""
    share = deviation / max(radius, deviation)
    return int(np.clip(4 * np.ceil(0.25 * np.pi / np.arccos(1.0 / (1.0 + share))), 48, 256))


def revolved(radii: ArrayLike, heights: ArrayLike, segments: int, close: bool = True) -> Triangles:
    """Solid of revolution about the z axis.

    Parameters
    ----------
    radii, heights : (k,) float, metres
        Corners of the section, counter-clockwise in the plane of radius (to the right) and z (up). The polygon around
        the axis has its corners on these radii.
    close : bool
        True where the section is closed from its last corner to the first; False leaves it open there.
    """
    radius, height = np.asarray(radii, dtype=np.float64), np.asarray(heights, dtype=np.float64)
    angle = np.linspace(0.0, 2.0 * np.pi, segments, endpoint=False)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    flat = radius[:, None, None] * circle
    vertices = np.concatenate([flat, np.broadcast_to(height[:, None, None], (len(radius), segments, 1))], axis=2)
    here = np.arange(segments)
    there = np.roll(here, -1)
    corner = np.arange(len(radius) if close else len(radius) - 1)[:, None]
    a, b = corner * segments, (corner + 1) % len(radius) * segments
    off_axis = radius > 0.0
    starts, ends = off_axis[corner[:, 0]], off_axis[(corner[:, 0] + 1) % len(radius)]
    one = np.stack([a + here, a + there, b + there], axis=-1)[starts]
    two = np.stack([a + here, b + there, b + here], axis=-1)[ends]
    return Triangles(vertices.reshape(-1, 3), np.vstack([one.reshape(-1, 3), two.reshape(-1, 3)]))


def ring(outer: float, inner: float, bottom: float, top: float, segments: int = 64) -> Triangles:
    """Closed disc or ring about the z axis between two radii [m]; ``inner`` 0 gives a disc.

    The polygon lies around the outer circle and inside the inner one, so that the mesh never hides less than the part.
    """
    around = outer / np.cos(np.pi / segments)
    return revolved([around, around, inner, inner], [bottom, top, top, bottom], segments)


def tube(sections: Sequence[tuple[float, float, float]], wall: float, segments: int | None = None) -> Triangles:
    """Body around bores on the z axis: ``sections`` are (diameter, start, end), those that touch share one body.

    ``wall`` is the material around the widest of a body, metres. As with a ring, it never hides less than the part.
    """
    parts: list[list[tuple[float, float, float]]] = []
    for section in sections:
        if parts and section[1] <= parts[-1][-1][2] + TOUCHING:
            parts[-1].append(section)
        else:
            parts.append([section])
    vertices, faces, count = [], [], 0
    for body in parts:
        outer = 0.5 * max(diameter for diameter, _, _ in body) + wall
        sides = segments or sides_for(outer)
        outer /= np.cos(np.pi / sides)
        steps = [(0.5 * diameter, z) for diameter, start, end in reversed(body) for z in (end, start)]
        inside = [corner for corner, before in zip(steps, [None, *steps], strict=False) if corner != before]
        first, last = body[0][1], body[-1][2]
        solid = revolved([outer, outer, *(r for r, _ in inside)], [first, last, *(z for _, z in inside)], sides)
        vertices.append(solid.vertices)
        faces.append(solid.faces + count)
        count += len(solid.vertices)
    return Triangles(np.vstack(vertices), np.vstack(faces))


def bar(length: float, width: float, bottom: float, top: float) -> Triangles:
    """Closed box that starts at x = 0: ``length`` along x, ``width`` across y, from ``bottom`` to ``top`` in z [m]."""
    solid = box(length, width, bottom, top)
    return Triangles(solid.vertices + np.array([0.5 * length, 0.0, 0.0]), solid.faces)
