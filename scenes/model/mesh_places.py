"""Places on meshes: the nearest point of a mesh with its normal, and how high a mesh lies over a place."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from ..shapes import Clusters, Triangles, clusters_of
from ..vectors import Floats, Indices, dot, length, unit

__all__ = ["heights_of_mesh", "nearest_on_mesh"]

PAIRS_AT_ONCE = 2_000_000
EDGE_SLACK = 1e-12
"""Share of a triangle by which a place may lie outside it, so that none falls between two of them."""


@lru_cache(maxsize=4)
def _grouped(mesh: Triangles) -> tuple[Floats, Clusters]:
    """Corners ``(m, 3, 3)`` of the triangles that have an area, in groups of near ones; kept for the next question."""
    corners = mesh.corners()
    area = length(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]))
    corners = corners[area > 0.0]
    return corners, clusters_of(corners)


def _parts(points: Floats, groups: int) -> list[Indices]:
    """Numbers of the points in parts that can be set against that many groups at once."""
    numbers = np.arange(len(points))
    return np.array_split(numbers, max(1, -(-len(points) * groups // PAIRS_AT_ONCE))) if len(points) else []


def nearest_on_mesh(mesh: Triangles, points: Floats) -> tuple[Floats, Floats]:
    """Points of the mesh ``(n, 3)`` nearest to ``points`` (n, 3), metres, and normals ``(n, 3)`` of their triangles.

    The normal is that of the winding: out of the part where its triangles run counter-clockwise from outside.
    """
    corners, groups = _grouped(mesh)
    sample = corners[groups.order[groups.starts], 0]
    feet, number = np.empty((len(points), 3)), np.empty(len(points), dtype=np.int64)
    for part in _parts(points, len(groups.starts)):
        here = points[part][:, None]
        bound = ((here - sample) ** 2).sum(axis=2).min(axis=1)
        off = np.maximum(np.maximum(groups.low - here, here - groups.high), 0.0)
        point, group = np.nonzero((off**2).sum(axis=2) <= bound[:, None] * (1.0 + 1e-12))
        pair, triangle = groups.members(group)
        foot = _feet(corners[triangle], points[part][point[pair]])
        distance = length(foot - points[part][point[pair]])
        order = np.lexsort((triangle, distance, point[pair]))
        best = order[np.unique(point[pair][order], return_index=True)[1]]
        feet[part], number[part] = foot[best], triangle[best]
    one, two = corners[number, 1] - corners[number, 0], corners[number, 2] - corners[number, 0]
    return feet, unit(np.cross(one, two))


def _feet(corners: Floats, points: Floats) -> Floats:
    """Nearest point ``(k, 3)`` of triangle i (k, 3, 3) to point i (k, 3): inside it, or on one of its edges."""
    one, two, off = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0], points - corners[:, 0]
    normal = np.cross(one, two)
    area = dot(normal, normal)
    u, v = dot(np.cross(off, two), normal) / area, dot(np.cross(one, off), normal) / area
    inside = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)
    best = corners[:, 0] + u[:, None] * one + v[:, None] * two
    least = np.where(inside, length(best - points), np.inf)
    for corner in range(3):
        edge = corners[:, (corner + 1) % 3] - corners[:, corner]
        share = np.clip(dot(points - corners[:, corner], edge) / dot(edge, edge), 0.0, 1.0)
        spot = corners[:, corner] + share[:, None] * edge
        distance = length(spot - points)
        nearer = ~inside & (distance < least)
        best, least = np.where(nearer[:, None], spot, best), np.where(nearer, distance, least)
    return best


def heights_of_mesh(mesh: Triangles, places: Floats) -> Floats:
    """Largest z ``(n,)`` of the mesh over each of ``places`` (n, 2), metres; nan where nothing of it lies there."""
    corners, groups = _grouped(mesh)
    highest = np.full(len(places), -np.inf)
    for part in _parts(places, len(groups.starts)):
        here = places[part][:, None]
        over = (groups.low[:, :2] <= here) & (here <= groups.high[:, :2])
        place, group = np.nonzero(over.all(axis=2))
        pair, triangle = groups.members(group)
        height = _heights(corners[triangle], places[part][place[pair]])
        there = ~np.isnan(height)
        np.maximum.at(highest, part[place[pair][there]], height[there])
    return np.where(np.isfinite(highest), highest, np.nan)


def _heights(corners: Floats, places: Floats) -> Floats:
    """Height ``(k,)`` of triangle i over place i (k, 2); nan beside it, and for an upright one."""
    a, b, c = np.moveaxis(corners, 1, 0)
    one, two, off = b - a, c - a, places - a[:, :2]
    area = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        u = (off[:, 0] * two[:, 1] - off[:, 1] * two[:, 0]) / area
        v = (one[:, 0] * off[:, 1] - one[:, 1] * off[:, 0]) / area
        inside = (u >= -EDGE_SLACK) & (v >= -EDGE_SLACK) & (u + v <= 1.0 + EDGE_SLACK)
        height: Floats = np.where(inside, a[:, 2] + u * one[:, 2] + v * two[:, 2], np.nan)
    return height
