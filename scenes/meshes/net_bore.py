"""Round hole in a net of triangles: triangles over its edge are cut along it, with the weights that belong there."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy import sparse

from ..vectors import Floats, Indices

__all__ = ["doubled_areas", "without_bore"]


def doubled_areas(p: Floats) -> Floats:
    """Twice the areas ``(t,)`` of triangles ``(t, 3, 2)``, + = counter-clockwise."""
    one, two = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    result: Floats = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    return result


def without_bore(points: Floats, faces: Indices, weights: Any, radius: float) -> tuple[Floats, Indices, Any]:
    """The part of a net outside the circle of ``radius`` about the origin; cut triangles end on the circle."""
    if radius <= 0.0:
        return points, faces, weights
    outside = np.linalg.norm(points, axis=1) >= radius
    count = outside[faces].sum(axis=1)
    kept: list[Indices] = [faces[count == 3]]
    made: list[tuple[Indices, Indices]] = []
    for alone in (1, 2):
        cut = faces[count == alone]
        odd = np.argmax(outside[cut] == (alone == 1), axis=1)
        a, b, c = (cut[np.arange(len(cut)), (odd + turn) % 3] for turn in range(3))
        first = len(points) + sum(len(pair[0]) for pair in made)
        ab, ac = first + np.arange(len(cut)), first + len(cut) + np.arange(len(cut))
        made += [(a, b), (a, c)]
        if alone == 1:
            kept.append(np.column_stack([a, ab, ac]))
        else:
            kept += [np.column_stack([ab, b, c]), np.column_stack([ab, c, ac])]
    start, end = (np.concatenate([pair[side] for pair in made]) for side in (0, 1))
    share = _on_circle(points[start], points[end], radius)
    rows = np.arange(len(start))
    between = sparse.csr_array(
        (np.concatenate([1.0 - share, share]), (np.concatenate([rows, rows]), np.concatenate([start, end]))),
        shape=(len(start), len(points)),
    )
    places = np.vstack([points, between @ points])
    return _used(places, np.vstack(kept), sparse.vstack([sparse.csr_array(weights), between @ weights], format="csr"))


def _on_circle(start: Floats, end: Floats, radius: float) -> Floats:
    """Share ``(k,)`` of the way from ``start`` to ``end`` at which the circle about the origin is crossed."""
    along = end - start
    a, b = (along**2).sum(axis=1), (start * along).sum(axis=1)
    root = np.sqrt(np.maximum(b * b - a * ((start**2).sum(axis=1) - radius**2), 0.0))
    leaving = np.linalg.norm(start, axis=1) < radius
    share: Floats = np.clip(np.where(leaving, root - b, -root - b) / a, 0.0, 1.0)
    return share


def _used(points: Floats, faces: Indices, weights: Any) -> tuple[Floats, Indices, Any]:
    """The same net without points and triangles of no use."""
    area = doubled_areas(points[faces])
    faces = faces[area > 1e-9 * float(area.max(initial=0.0))]
    number, packed = np.unique(faces, return_inverse=True)
    return points[number], packed.reshape(-1, 3), weights[number]
