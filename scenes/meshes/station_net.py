"""Net between stations: how values at stations are carried to the points of a drawn surface, and never beyond them.

Every drawn value is a mean of station values with weights that are not negative and sum to one, so none lies outside
the measured ones. Nothing is drawn outside the outer stations.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse
from scipy.spatial import Delaunay

from ..errors import GeometryError
from ..vectors import Floats, Indices
from .net_bore import doubled_areas, without_bore

__all__ = ["StationNet", "station_net"]

CELLS = 16_000
"""Most triangles of a net that is subdivided for looks; more stations than that are drawn as they are."""

MOST_PIECES = 16
SAME_PLACE = 1.0e-6
"""Stations nearer to each other than this share of the extent count as one place."""

ON_A_LINE = 1.0e-3
"""Stations that spread sideways less than this share of their length stand on one line."""

RIBBON = 0.04
"""Width of the ribbon drawn for stations on one line, as a share of its length."""


@dataclass(frozen=True, slots=True, eq=False)
class StationNet:
    """Triangles between stations, in the plane of the surface; n stations, v points.

    Attributes
    ----------
    xy : (v, 2) float
        Metres, frame of the surface.
    faces : (t, 3) int
        Counter-clockwise seen against the normal.
    weights : (v, n) sparse
        Values at the points from values at the stations.
    slope_x, slope_y : (v, n) sparse
        Slopes of the drawn values along x and y at the points, per metre.
    """

    xy: Floats
    faces: Indices
    weights: Any
    slope_x: Any
    slope_y: Any


def station_net(xy: Floats, bore: float = 0.0) -> StationNet:
    """Net between the stations at ``xy`` (n, 2) [m, frame of the surface].

    A full grid along x and y is filled bilinearly, scattered stations by triangles between neighbours (Delaunay), and
    stations on one line become a ribbon.

    Parameters
    ----------
    bore : float
        Diameter [m] of a hole around the origin that stays open.

    Raises
    ------
    GeometryError
        Where all stations are at one place.
    """
    places, mean = _merged(xy)
    if len(places) < 2:
        raise GeometryError("a surface is drawn between stations, and all of these stand at one place; add another one")
    centred = places - places.mean(axis=0)
    spread, axes = np.linalg.svd(centred, full_matrices=False)[1:]
    if len(places) == 2 or spread[1] <= ON_A_LINE * spread[0]:
        points, faces, weights = _ribbon(places, axes[0])
    else:
        levels = _grid_levels(places)
        points, faces, weights = _scattered(places, bore > 0.0) if levels is None else _grid(places, *levels)
        points, faces, weights = without_bore(points, faces, weights, 0.5 * bore)
    across_x, across_y = _slopes(points, faces)
    weights = weights @ mean
    return StationNet(points, faces, weights.tocsr(), (across_x @ weights).tocsr(), (across_y @ weights).tocsr())


def _merged(xy: Floats) -> tuple[Floats, Any]:
    """Different places ``(k, 2)`` and the matrix ``(k, n)`` that averages stations at the same place."""
    extent = float(np.ptp(xy, axis=0).max()) if len(xy) else 0.0
    rounded = np.round((xy - xy.min(axis=0)) / (SAME_PLACE * extent)) if extent > 0.0 else np.zeros_like(xy)
    _, group = np.unique(rounded, axis=0, return_inverse=True)
    group = group.ravel()
    count = np.bincount(group)
    mean = sparse.csr_array((1.0 / count[group], (group, np.arange(len(xy)))), shape=(len(count), len(xy)))
    return np.asarray(mean @ xy), mean


def _levels(values: Floats, extent: float) -> tuple[Floats, Indices]:
    """Different levels of ``values`` in rising order, and the level of each."""
    order = np.argsort(values, kind="stable")
    step = np.diff(values[order]) > 10.0 * SAME_PLACE * extent
    number = np.empty(len(values), dtype=np.int64)
    number[order] = np.concatenate([[0], np.cumsum(step)])
    return np.bincount(number, values) / np.bincount(number), number


def _grid_levels(places: Floats) -> tuple[Floats, Floats, Indices] | None:
    """Levels along x and y and the place ``(ny, nx)`` at each crossing, or None where the places are no full grid."""
    extent = float(np.ptp(places, axis=0).max())
    (x, column), (y, row) = (_levels(places[:, axis], extent) for axis in (0, 1))
    if len(x) * len(y) != len(places):
        return None
    at = np.full((len(y), len(x)), -1, dtype=np.int64)
    at[row, column] = np.arange(len(places))
    return None if (at < 0).any() else (x, y, at)


def _hats(levels: Floats, pieces: int) -> Any:
    """Matrix that interpolates linearly between ``levels``, each span in ``pieces``."""
    place = np.arange((len(levels) - 1) * pieces + 1)
    first = np.minimum(place // pieces, len(levels) - 2)
    share = place / pieces - first
    rows = np.concatenate([place, place])
    columns = np.concatenate([first, first + 1])
    matrix = sparse.csr_array((np.concatenate([1.0 - share, share]), (rows, columns)), shape=(len(place), len(levels)))
    matrix.eliminate_zeros()
    return matrix


def _pieces(cells: int, triangles_per_cell: int) -> int:
    return int(np.clip(np.sqrt(CELLS / (triangles_per_cell * cells)), 1, MOST_PIECES))


def _grid(places: Floats, x: Floats, y: Floats, at: Indices) -> tuple[Floats, Indices, Any]:
    pieces = _pieces((len(x) - 1) * (len(y) - 1), 2)
    along_x, along_y = _hats(x, pieces), _hats(y, pieces)
    crossing = sparse.kron(along_y, along_x, format="csr")
    pick = sparse.csr_array((np.ones(at.size), (np.arange(at.size), at.ravel())), shape=(at.size, len(places)))
    wide, tall = along_x.shape[0], along_y.shape[0]
    number = np.arange(wide * tall).reshape(tall, wide)
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    faces = np.concatenate([np.stack([a, b, c], axis=-1), np.stack([a, c, d], axis=-1)]).reshape(-1, 3)
    weights = sparse.csr_array(crossing) @ pick
    return np.asarray(weights @ places), faces, weights


def _scattered(places: Floats, fine: bool) -> tuple[Floats, Indices, Any]:
    """Triangles between neighbours; ``fine``: each one split into small ones, so that a hole can be cut out."""
    corners = np.asarray(Delaunay(places).simplices, dtype=np.int64)
    area = doubled_areas(places[corners])
    corners = np.where((area < 0.0)[:, None], corners[:, ::-1], corners)
    corners = corners[np.abs(area) > SAME_PLACE * float(np.ptp(places, axis=0).max()) ** 2 / len(places)]
    pieces = _pieces(len(corners), 1) if fine else 1
    if pieces == 1:
        return places, corners, sparse.eye_array(len(places), format="csr")
    share, small = _split(pieces)
    rows = np.repeat(np.arange(len(corners) * len(share)), 3)
    columns = np.repeat(corners, len(share), axis=0).ravel()
    values = np.tile(share, (len(corners), 1)).ravel()
    weights = sparse.csr_array((values, (rows, columns)), shape=(len(corners) * len(share), len(places)))
    faces = (small[None] + len(share) * np.arange(len(corners))[:, None, None]).reshape(-1, 3)
    return np.asarray(weights @ places), faces, weights


def _split(pieces: int) -> tuple[Floats, Indices]:
    """Shares ``(p, 3)`` of the corners of a triangle at the points of its small triangles, and those triangles."""
    i, j = np.array([(i, j) for i in range(pieces + 1) for j in range(pieces + 1 - i)]).T
    number = np.full((pieces + 2, pieces + 2), -1, dtype=np.int64)
    number[i, j] = np.arange(len(i))
    right, up, across = number[i + 1, j], number[i, j + 1], number[i + 1, j + 1]
    here = np.arange(len(i))
    faces = np.concatenate([np.column_stack([here, right, up]), np.column_stack([right, across, up])])
    share = np.column_stack([pieces - i - j, i, j]) / pieces
    return share, faces[(faces >= 0).all(axis=1)]


def _ribbon(places: Floats, along: Floats) -> tuple[Floats, Indices, Any]:
    """Ribbon from station to station, the same value across its width."""
    distance = places @ along
    order = np.argsort(distance)
    side = 0.5 * RIBBON * float(np.ptp(distance)) * np.array([-along[1], along[0]])
    points = np.vstack([places[order] - side, places[order] + side])
    n = len(places)
    here = np.arange(n - 1)
    faces = np.vstack([
        np.column_stack([here, here + 1, here + n + 1]), np.column_stack([here, here + n + 1, here + n]),
    ])  # fmt: skip
    rows = np.arange(2 * n)
    return points, faces, sparse.csr_array((np.ones(2 * n), (rows, np.tile(order, 2))), shape=(2 * n, n))


def _slopes(points: Floats, faces: Indices) -> tuple[Any, Any]:
    """Matrices ``(v, v)`` of the slopes along x and y at the points: those of the triangles around, by their areas."""
    p = points[faces]
    opposite = np.roll(p, -2, axis=1) - np.roll(p, -1, axis=1)
    v, t = len(points), len(faces)
    rows, columns = np.repeat(np.arange(t), 3), faces.ravel()
    doubled = doubled_areas(p)
    around = sparse.csr_array((np.repeat(doubled, 3), (columns, rows)), shape=(v, t))
    total = np.bincount(columns, np.repeat(doubled, 3), v)
    share = np.divide(1.0, total, out=np.zeros(v), where=total > 0.0)
    mean = sparse.csr_array((share, (np.arange(v), np.arange(v))), shape=(v, v)) @ around
    result = []
    for gradient in (-opposite[:, :, 1], opposite[:, :, 0]):
        result.append(mean @ sparse.csr_array(((gradient / doubled[:, None]).ravel(), (rows, columns)), shape=(t, v)))
    return result[0], result[1]
