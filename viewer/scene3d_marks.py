"""Marks at stations whose shape tells what they are: full and hollow diamonds, full and hollow balls, dice."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from scenes.meshes.deviation_surface import DEVIATION
from scenes.meshes.solids import copies, joined, mesh_of, tubes
from scenes.shapes import Triangles, box, ring
from scenes.vectors import Floats, Indices

__all__ = ["diamonds", "dice", "hollow_diamonds", "hoops", "small_balls", "stems"]

_CORNERS = np.array([
    [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, 1.4], [0.0, 0.0, -1.4],
])  # fmt: skip
_FACES = np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4], [1, 0, 5], [2, 1, 5], [3, 2, 5], [0, 3, 5]])
_EDGES = np.array([[0, 1], [1, 2], [2, 3], [3, 0], *([i, tip] for i in range(4) for tip in (4, 5))])


def _mesh(parts: list[tuple[Triangles, Indices]], stations: Indices, values: Floats | None) -> pv.PolyData:
    solid, owner = joined(parts)
    if len(owner) == 0:
        return pv.PolyData()
    told = {"station": stations[owner]}
    return mesh_of(solid, told if values is None else {**told, DEVIATION: 1e6 * values[stations[owner]]})


def diamonds(points: Floats, radius: float, chosen: Indices, values: Floats | None = None) -> pv.PolyData:
    """Full diamonds at those ``points`` (n, 3) whose numbers are ``chosen``; coloured by ``values`` (n,) [m]."""
    body = Triangles(radius * _CORNERS, _FACES)
    return _mesh([copies(body, np.eye(3), points[chosen])], chosen, values)


def hollow_diamonds(points: Floats, radius: float, chosen: Indices, values: Floats | None = None) -> pv.PolyData:
    """The same as edges alone."""
    paths = points[chosen][:, None, None] + radius * _CORNERS[_EDGES]
    solid, owner = tubes(paths.reshape(-1, 2, 3), 0.08 * radius, 5)
    return _mesh([(solid, owner // len(_EDGES))], chosen, values)


def dice(points: Floats, radius: float, chosen: Indices) -> pv.PolyData:
    """Cubes."""
    body = box(1.6 * radius, 1.6 * radius, -0.8 * radius, 0.8 * radius)
    return _mesh([copies(body, np.eye(3), points[chosen])], chosen, None)


def small_balls(points: Floats, radius: float, chosen: Indices) -> pv.PolyData:
    """Full balls, coarse enough for hundreds of them."""
    ball = pv.Icosphere(radius=radius, nsub=2)
    body = Triangles(
        np.array(ball.points, dtype=np.float64), np.array(ball.faces.reshape(-1, 4)[:, 1:], dtype=np.int64)
    )
    return _mesh([copies(body, np.eye(3), points[chosen])], chosen, None)


def hoops(points: Floats, radius: float, chosen: Indices) -> pv.PolyData:
    """Hollow balls: three hoops each."""
    hoop = ring(radius, 0.78 * radius, -0.1 * radius, 0.1 * radius, 20)
    turns = [np.eye(3), np.eye(3)[:, [1, 2, 0]], np.eye(3)[:, [2, 0, 1]]]
    return _mesh([copies(hoop, turn, points[chosen]) for turn in turns], chosen, None)


def stems(starts: Floats, ends: Floats, radius: float, values: Floats | None = None) -> pv.PolyData:
    """Thin rods from ``starts`` to ``ends`` (n, 3); those of no length are left out."""
    solid, owner = tubes(np.stack([starts, ends], axis=1), radius, 8)
    return _mesh([(solid, owner)], np.arange(len(starts)), values)
