"""Triangles of machine surfaces, as numpy arrays: what light can hit and what a picture shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .frames import Pose
from .vectors import Flags, Floats, Indices, frozen

__all__ = [
    "Clusters", "Triangles", "bar", "bodies_of", "box", "clusters_of", "revolved", "ring", "sides_for", "tube",
]  # fmt: skip

CLUSTER = 64
"""Triangles that are sorted out together where those near a place are looked for."""

TOUCHING = 1.0e-9
"""Sections of a bore nearer to each other than this [m] belong to one body."""

Section = tuple[float, float, float]
"""Diameter, start and end along the axis of one bore, metres."""


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

    def only(self, kept: Flags) -> Triangles:
        """The triangles that are ``kept`` (m,), without vertices that none of them has."""
        used = np.zeros(len(self.vertices), dtype=bool)
        used[self.faces[kept]] = True
        return Triangles(self.vertices[used], (np.cumsum(used) - 1)[self.faces[kept]])

    def moved(self, a_from_b: Pose) -> Triangles:
        """The same mesh, its coordinates taken from frame b to frame a."""
        return Triangles(a_from_b.points(self.vertices), self.faces)


@dataclass(frozen=True, slots=True, eq=False)
class Clusters:
    """Triangles in groups of near ones.

    Attributes
    ----------
    order : (m,) int
        Numbers of the triangles, those of a group behind each other.
    starts : (g,) int
        Where each group begins in ``order``.
    low, high : (g, 3) float
        Box around each group, metres.
    """

    order: Indices
    starts: Indices
    low: Floats
    high: Floats

    def members(self, groups: Indices) -> tuple[Indices, Indices]:
        """All triangles of ``groups`` (k,): which entry of ``groups`` each belongs to, and the triangle."""
        slot = self.starts[groups][:, None] + np.arange(CLUSTER)
        inside = slot < len(self.order)
        entry = np.broadcast_to(np.arange(len(groups))[:, None], slot.shape)[inside]
        return entry, self.order[slot[inside]]


def _neighbourhood(points: Floats) -> Indices:
    """Numbers ``(n,)`` that lie near each other for points (n, 3) that do: bits of the three coordinates in turn.

    Source: G. M. Morton, A computer oriented geodetic data base (1966).
    """
    low = points.min(axis=0)
    cells = (1023.0 * (points - low) / max(float(np.ptp(points, axis=0).max()), 1e-12)).astype(np.int64)
    number = np.zeros(len(points), dtype=np.int64)
    for bit in range(10):
        for axis in range(3):
            number |= ((cells[:, axis] >> bit) & 1) << (3 * bit + axis)
    return number


def clusters_of(corners: Floats) -> Clusters:
    """Groups of triangles ``corners`` (m, 3, 3), m > 0, that lie near each other."""
    one, two, three = corners[:, 0], corners[:, 1], corners[:, 2]
    order = np.argsort(_neighbourhood((one + two + three) / 3.0))
    starts = np.arange(0, len(order), CLUSTER)
    low = np.minimum.reduceat(np.minimum(np.minimum(one, two), three)[order], starts, axis=0)
    high = np.maximum.reduceat(np.maximum(np.maximum(one, two), three)[order], starts, axis=0)
    return Clusters(order, starts, low, high)


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


def bodies_of(sections: Sequence[Section]) -> list[list[Section]]:
    """Sections of a bore, those that touch together: each list is one body."""
    bodies: list[list[Section]] = []
    for section in sections:
        if bodies and section[1] <= bodies[-1][-1][2] + TOUCHING:
            bodies[-1].append(section)
        else:
            bodies.append([section])
    return bodies


def tube(sections: Sequence[Section], wall: float) -> Triangles:
    """Body around bores on the z axis: ``sections`` are (diameter, start, end), those that touch share one body.

    ``wall`` is the material around the widest of a body, metres. As with a ring, it never hides less than the part.
    """
    vertices, faces, count = [], [], 0
    for body in bodies_of(sections):
        outer = 0.5 * max(diameter for diameter, _, _ in body) + wall
        sides = sides_for(outer)
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
