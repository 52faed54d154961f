"""Sight lines: which beams reach their target, and what stops the others.

A beam is a straight tube here: over the range of a survey its bend in air is far below its radius. It is blocked where
its axis meets a triangle, and clipped where a triangle comes nearer to the axis than the beam radius.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
from vtkmodules.vtkCommonCore import VTK_DOUBLE, VTK_ID_TYPE, reference, vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData, vtkStaticCellLocator

from ..shapes import Triangles, clusters_of
from ..vectors import Floats, Indices, length
from .clearance import candidate_pairs, crossings, segment_triangle_distances
from .solids import Obstacles, obstacles_of, triangles_of

__all__ = ["SET_BACK", "Obstacles", "Sight", "SightLines", "cell_data", "obstacles_of", "sight_lines", "triangles_of"]

SET_BACK = 1.0e-3
"""Both ends of a sight line are set back by this [m], so that the devices it runs between do not block it."""

LARGE = 20_000_000
"""More rays x triangles than this are first sorted out with a cell locator."""

LOCATOR_SLACK = 1.0e-9
"""Tolerance [m] of the cell locator: without it, flat cells that lie along an axis are missed now and then. What it
finds is checked in double precision."""


class Sight(IntEnum):
    """What becomes of a beam; a higher number is worse."""

    CLEAR = 0
    CLIPPED = 1
    BLOCKED = 2


@dataclass(frozen=True, slots=True, eq=False)
class SightLines:
    """Result for n beams.

    Attributes
    ----------
    sight : (n,) int
        ``Sight`` of each beam.
    by : (n,) int
        Number of the surface (``Obstacles.names``) that stops or clips it, -1 where clear.
    reach : (n,) float
        Length of free beam, metres: to the obstacle, or to the target where clear.
    clearance : (n,) float
        Least distance of the axis from any obstacle, metres; inf where none is near the beam.
    """

    sight: Indices
    by: Indices
    reach: Floats
    clearance: Floats


def sight_lines(obstacles: Obstacles, start: Floats, end: Floats, radius: Floats) -> SightLines:
    """What becomes of the beams from ``start`` to ``end`` (n, 3) with radii ``radius`` (n,), metres, world."""
    n = len(start)
    span = length(end - start)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(span > 2.0 * SET_BACK, SET_BACK / span, 0.5)
    first = start + share[:, None] * (end - start)
    last = end - share[:, None] * (end - start)
    corners = obstacles.triangles.corners()
    hit, where = _axis_hits(first, last, obstacles.triangles, corners)
    clearance, near, place = _clearances(first, last, np.where(hit >= 0, -1.0, radius), corners)
    clipped = (hit < 0) & (clearance < radius)
    triangle = np.where(hit >= 0, hit, np.where(clipped, near, -1))
    by = np.full(n, -1, dtype=np.int64)
    by[triangle >= 0] = obstacles.owner[triangle[triangle >= 0]]
    reach = np.where(hit >= 0, where, np.where(clipped, place, 1.0))
    sight = np.where(hit >= 0, int(Sight.BLOCKED), np.where(clipped, int(Sight.CLIPPED), int(Sight.CLEAR)))
    stopped = share * span + reach * (1.0 - 2.0 * share) * span
    return SightLines(sight, by, np.where(triangle >= 0, stopped, span), np.where(hit >= 0, 0.0, clearance))


def _axis_hits(first: Floats, last: Floats, mesh: Triangles, corners: Floats) -> tuple[Indices, Floats]:
    """First triangle that each axis meets (-1: none) and the share of the axis where it does."""
    n = len(first)
    if len(corners) == 0 or n == 0:
        return np.full(n, -1, dtype=np.int64), np.ones(n)
    if n * len(corners) > LARGE:
        return _located_hits(first, last, mesh, corners)
    return _paired_hits(first, last, corners)


def _paired_hits(first: Floats, last: Floats, corners: Floats) -> tuple[Indices, Floats]:
    """The same as ``_axis_hits``, by trying every pair whose boxes meet."""
    i, j = candidate_pairs(first, last, np.zeros(len(first)), corners.min(axis=1), corners.max(axis=1))
    return _nearest(i, j, crossings(first[i], last[i], corners[j]), len(first))


def cell_data(mesh: Triangles) -> vtkPolyData:
    """The mesh as vtk data for a locator, in double precision: in single precision 10 m are known to 1 um only."""
    points = vtkPoints()
    points.SetDataType(VTK_DOUBLE)
    points.SetData(numpy_to_vtk(np.array(mesh.vertices), deep=True, array_type=VTK_DOUBLE))
    cells = vtkCellArray()
    offsets = numpy_to_vtkIdTypeArray(np.arange(0, 3 * len(mesh.faces) + 1, 3, dtype=np.int64), deep=True)
    cells.SetData(offsets, numpy_to_vtk(mesh.faces.ravel().copy(), deep=True, array_type=VTK_ID_TYPE))
    data = vtkPolyData()
    data.SetPoints(points)
    data.SetPolys(cells)
    return data


def _located_hits(first: Floats, last: Floats, mesh: Triangles, corners: Floats) -> tuple[Indices, Floats]:
    """The same as ``_axis_hits`` for many triangles, by a cell locator in double precision.

    The locator takes one line at a time: about 100 000 lines a second against 100 000 triangles (bench_sight_lines.py).
    """
    data = cell_data(mesh)
    locator = vtkStaticCellLocator()
    locator.SetDataSet(data)
    locator.BuildLocator()
    t: Any = reference(0.0)
    sub: Any = reference(0)
    cell: Any = reference(0)
    spot, inner = [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
    intersect = locator.IntersectWithLine
    lines = zip(first.tolist(), last.tolist(), strict=True)
    named = [int(cell) if intersect(p, q, LOCATOR_SLACK, t, spot, inner, sub, cell) else -1 for p, q in lines]
    met = np.array(named, dtype=np.int64)
    found = np.nonzero(met >= 0)[0]
    share = np.ones(len(first))
    share[found] = crossings(first[found], last[found], corners[met[found]])
    doubtful = np.nonzero(np.isnan(share))[0]
    if len(doubtful):
        met[doubtful], share[doubtful] = _paired_hits(first[doubtful], last[doubtful], corners)
    return met, share


def _least(ray: Indices, value: Floats) -> Indices:
    """Numbers of the pairs that have the least ``value`` of their ray, one per ray; pairs with nan do not count."""
    order = np.lexsort((value, ray))
    order = order[~np.isnan(value[order])]
    return order[np.unique(ray[order], return_index=True)[1]]


def _nearest(ray: Indices, triangle: Indices, share: Floats, n: int) -> tuple[Indices, Floats]:
    """For each of n rays the triangle that is met first (-1: none) and the share of the ray where it is."""
    first = _least(ray, share)
    hit, where = np.full(n, -1, dtype=np.int64), np.ones(n)
    hit[ray[first]], where[ray[first]] = triangle[first], share[first]
    return hit, where


def _clearances(first: Floats, last: Floats, radius: Floats, corners: Floats) -> tuple[Floats, Indices, Floats]:
    """Least distance of each axis from the triangles within ``radius``, which triangle, and the share of the axis."""
    n = len(first)
    best, near, place = np.full(n, np.inf), np.full(n, -1, dtype=np.int64), np.ones(n)
    wanted = np.nonzero(radius > 0.0)[0]
    if len(corners) == 0 or len(wanted) == 0:
        return best, near, place
    groups = clusters_of(corners)
    ray, group = candidate_pairs(first[wanted], last[wanted], radius[wanted], groups.low, groups.high)
    pair, j = groups.members(group)
    i = wanted[ray[pair]]
    distance, share = segment_triangle_distances(first[i], last[i], corners[j])
    first_of_ray = _least(i, distance)
    rays = i[first_of_ray]
    best[rays], near[rays], place[rays] = distance[first_of_ray], j[first_of_ray], share[first_of_ray]
    return best, near, place
