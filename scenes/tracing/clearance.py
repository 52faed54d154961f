"""Distances between straight beams and triangles, pair by pair, in double precision."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats, Indices, dot

__all__ = ["candidate_pairs", "crossings", "segment_triangle_distances"]

PAIRS_AT_ONCE = 2_000_000


def crossings(start: Floats, end: Floats, corners: Floats) -> Floats:
    """Place of the crossing of segments and triangles, as a share 0..1 of the segment; nan where they miss.

    Parameters
    ----------
    start, end : (k, 3) float, metres
    corners : (k, 3, 3) float, metres
        Pairs: segment i with triangle i. Edges count as part of the triangle.

    Source: T. Moeller and B. Trumbore, Journal of Graphics Tools 2 (1997), 21-28.
    """
    along = end - start
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    p = np.cross(along, two)
    determinant = dot(one, p)
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = 1.0 / determinant
        off = start - corners[:, 0]
        u = dot(off, p) * scale
        q = np.cross(off, one)
        v = dot(along, q) * scale
        t = dot(two, q) * scale
        inside = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (t >= 0.0) & (t <= 1.0)
    return np.where(inside, t, np.nan)


def _segment_segment(p: Floats, d: Floats, q: Floats, e: Floats) -> tuple[Floats, Floats]:
    """Distance of the segments p..p+d and q..q+e, and the share of the first where they are nearest.

    Source: the closest-point problem as in C. Ericson, Real-Time Collision Detection (2005), section 5.1.9.
    """
    r = p - q
    a, b, c = dot(d, d), dot(d, e), dot(e, e)
    f, g = dot(d, r), dot(e, r)
    denominator = a * c - b * b
    with np.errstate(divide="ignore", invalid="ignore"):
        s = np.where(denominator > 1e-14 * a * c, np.clip((b * g - c * f) / denominator, 0.0, 1.0), 0.0)
        t = np.where(c > 0.0, (b * s + g) / c, 0.0)
        clipped = np.clip(t, 0.0, 1.0)
        s = np.where(a > 0.0, np.clip((b * clipped - f) / a, 0.0, 1.0), 0.0)
    gap = r + s[:, None] * d - clipped[:, None] * e
    return np.sqrt(dot(gap, gap)), s


def _point_inside(point: Floats, corners: Floats) -> Floats:
    """Distance of points to the planes of triangles where their foot lies inside the triangle, else infinite."""
    one, two, off = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0], point - corners[:, 0]
    normal = np.cross(one, two)
    area = dot(normal, normal)
    with np.errstate(divide="ignore", invalid="ignore"):
        u = dot(np.cross(off, two), normal) / area
        v = dot(np.cross(one, off), normal) / area
        distance = np.abs(dot(off, normal)) / np.sqrt(area)
    return np.where((u >= 0.0) & (v >= 0.0) & (u + v <= 1.0), distance, np.inf)


def segment_triangle_distances(start: Floats, end: Floats, corners: Floats) -> tuple[Floats, Floats]:
    """Least distances ``(k,)`` [m] between segments and triangles, and where on the segment (share 0..1).

    Pairs as in ``crossings``; a segment that crosses its triangle has distance 0 at the crossing.
    """
    along = end - start
    best = np.full(len(start), np.inf)
    place = np.zeros(len(start))
    for corner in range(3):
        edge = corners[:, (corner + 1) % 3] - corners[:, corner]
        distance, share = _segment_segment(start, along, corners[:, corner], edge)
        nearer = distance < best
        best, place = np.where(nearer, distance, best), np.where(nearer, share, place)
    for point, share_of_end in ((start, 0.0), (end, 1.0)):
        distance = _point_inside(point, corners)
        nearer = distance < best
        best, place = np.where(nearer, distance, best), np.where(nearer, share_of_end, place)
    crossing = crossings(start, end, corners)
    hit = ~np.isnan(crossing)
    return np.where(hit, 0.0, best), np.where(hit, crossing, place)


def candidate_pairs(start: Floats, end: Floats, radius: Floats, low: Floats, high: Floats) -> tuple[Indices, Indices]:
    """Pairs (segment, box) that may come nearer than ``radius``: the segment meets the box grown by the radius.

    Parameters
    ----------
    start, end : (n, 3); radius : (n,); low, high : (m, 3)
        Segments, their radii, and corners of axis-parallel boxes, metres.
    """
    segments, boxes = [], []
    step = max(1, PAIRS_AT_ONCE // max(1, len(low)))
    for first in range(0, len(start), step):
        part = slice(first, first + step)
        enter = np.zeros((len(start[part]), len(low)))
        leave = np.ones_like(enter)
        for axis in range(3):
            origin, delta = start[part, axis, None], (end - start)[part, axis, None]
            grow = radius[part, None]
            with np.errstate(divide="ignore", invalid="ignore"):
                one = (low[None, :, axis] - grow - origin) / delta
                two = (high[None, :, axis] + grow - origin) / delta
            flat = delta == 0.0
            outside = flat & ((origin < low[None, :, axis] - grow) | (origin > high[None, :, axis] + grow))
            enter = np.maximum(enter, np.where(flat, np.where(outside, np.inf, 0.0), np.minimum(one, two)))
            leave = np.minimum(leave, np.where(flat, np.where(outside, -np.inf, 1.0), np.maximum(one, two)))
        i, j = np.nonzero(enter <= leave)
        segments.append(i + first)
        boxes.append(j)
    if not segments:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    return np.concatenate(segments), np.concatenate(boxes)
