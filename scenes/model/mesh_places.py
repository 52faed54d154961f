"""Places on meshes: the nearest point of a mesh with its normal, and how high a mesh lies over a place."""

from __future__ import annotations

import numpy as np

from ..shapes import Triangles
from ..vectors import Floats, Indices, dot, length

__all__ = ["height_of_mesh", "nearest_on_mesh"]

PAIRS_AT_ONCE = 1_000_000


def nearest_on_mesh(mesh: Triangles, points: Floats) -> tuple[Floats, Floats]:
    """Points of the mesh ``(n, 3)`` nearest to ``points`` (n, 3), metres, and normals ``(n, 3)`` of their triangles.

    The normal is that of the winding: out of the part where its triangles run counter-clockwise from outside.
    """
    corners = mesh.corners()
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = length(normals)
    kept = np.nonzero(area > 0.0)[0]
    corners, normals = corners[kept], normals[kept] / area[kept, None]
    low, high = corners.min(axis=1), corners.max(axis=1)
    feet, found = np.empty((len(points), 3)), np.empty((len(points), 3))
    for i, point in enumerate(points):  # few points against many triangles, which are looked at all at once
        outside = np.maximum(np.maximum(low - point, point - high), 0.0)
        inside = np.maximum(np.abs(low - point), np.abs(high - point))
        near = np.nonzero(dot(outside, outside) <= dot(inside, inside).min())[0]
        feet[i], number = _nearest(corners, near, point)
        found[i] = normals[number]
    return feet, found


def _nearest(corners: Floats, near: Indices, point: Floats) -> tuple[Floats, int]:
    """Nearest point to ``point`` (3,) of the triangles numbered ``near``, and the number of its triangle."""
    best, foot, number = np.inf, point, -1
    for start in range(0, len(near), PAIRS_AT_ONCE):
        part = near[start : start + PAIRS_AT_ONCE]
        candidates = _nearest_of_triangles(corners[part], point)
        distance = length(candidates - point)
        least = int(np.argmin(distance))
        if distance[least] < best:
            best, foot, number = float(distance[least]), candidates[least], int(part[least])
    return foot, number


def _nearest_of_triangles(corners: Floats, point: Floats) -> Floats:
    """Nearest point ``(m, 3)`` of each triangle (m, 3, 3) to ``point`` (3,): inside it, or on one of its edges."""
    one, two, off = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0], point - corners[:, 0]
    normal = np.cross(one, two)
    area = dot(normal, normal)
    u, v = dot(np.cross(off, two), normal) / area, dot(np.cross(one, off), normal) / area
    inside = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)
    best = corners[:, 0] + u[:, None] * one + v[:, None] * two
    least = np.where(inside, length(best - point), np.inf)
    for corner in range(3):
        edge = corners[:, (corner + 1) % 3] - corners[:, corner]
        share = np.clip(dot(point - corners[:, corner], edge) / dot(edge, edge), 0.0, 1.0)
        spot = corners[:, corner] + share[:, None] * edge
        distance = length(spot - point)
        nearer = ~inside & (distance < least)
        best, least = np.where(nearer[:, None], spot, best), np.where(nearer, distance, least)
    return best


def height_of_mesh(mesh: Triangles, x: float, y: float) -> float | None:
    """Largest z of the mesh over the place ``x, y`` [m]; None where nothing of it lies there."""
    corners = mesh.corners()
    place = np.array([x, y])
    spans = (corners[:, :, :2].min(axis=1) <= place).all(axis=1) & (corners[:, :, :2].max(axis=1) >= place).all(axis=1)
    a, b, c = np.moveaxis(corners[spans], 1, 0)
    one, two, off = b - a, c - a, place - a[:, :2]
    area = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):  # an upright triangle has no height over a place
        u = (off[:, 0] * two[:, 1] - off[:, 1] * two[:, 0]) / area
        v = (one[:, 0] * off[:, 1] - one[:, 1] * off[:, 0]) / area
        inside = (u >= -1e-12) & (v >= -1e-12) & (u + v <= 1.0 + 1e-12)
    heights = (a[:, 2] + u * one[:, 2] + v * two[:, 2])[inside]
    return float(heights.max()) if len(heights) else None
