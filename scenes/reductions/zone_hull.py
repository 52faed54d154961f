"""The least width of any point set in the plane or in space, by going through its convex hull.

The least width in the plane lies across an edge of the hull. In space it lies across a facet, or between two edges that
are parallel to the zone without being parallel to each other. (A search over facets alone gives 0.8165 a for a regular
tetrahedron of edge a; the width is a / sqrt 2.)

Source: M. Houle, G. Toussaint, Computing the width of a set, IEEE Trans. PAMI 10 (1988).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from scenes.reductions.spans import FloatArray

__all__ = ["narrowest_direction"]

BLOCK = 4_000_000
"""Numbers held at once while widths are taken (32 MB)."""

FEW_EDGES = 300
SHORTEST_ARC = 1e-9
ARC_NOISE = 1e-12
"""Rounding allowed to arcs before a pair of edges is left out; every pair kept is measured over all corners."""


def narrowest_direction(points: FloatArray) -> tuple[FloatArray, float] | None:
    """Return unit normal and width of the narrowest zone of points (n, 2) or (n, 3), or None when no hull exists.

    Points are centred and of about unit size. A flat set (all points on one line or plane) has no hull.
    """
    from scipy.spatial import ConvexHull, QhullError  # late: half a second that most commands need not spend

    try:
        hull = ConvexHull(points)
    except QhullError:
        return None
    corners = points[hull.vertices]
    renumbered = np.full(len(points), -1)
    renumbered[hull.vertices] = np.arange(len(corners))
    facets = renumbered[hull.simplices].astype(np.intp)
    normals = facet_normals(corners, facets, hull.equations[:, :-1])
    widths = widths_along(corners, normals)
    best = int(widths.argmin())
    normal, width = normals[best], float(widths[best])
    if points.shape[1] == 3:
        normal, width = across_edges(corners, facets, hull.neighbors.astype(np.intp), normals, widths, normal, width)
    return normal, width


def facet_normals(corners: FloatArray, facets: npt.NDArray[np.intp], outward: FloatArray) -> FloatArray:
    """Return outward unit normals (f, d) computed from the corners; Qhull's own where a facet has no area."""
    first = corners[facets[:, 0]]
    if corners.shape[1] == 2:
        edge = corners[facets[:, 1]] - first
        raw = np.column_stack((edge[:, 1], -edge[:, 0]))
    else:
        raw = np.cross(corners[facets[:, 1]] - first, corners[facets[:, 2]] - first)
    length = np.linalg.norm(raw, axis=1)
    usable = length > 0.0
    normals = np.where(usable[:, None], raw / np.where(usable, length, 1.0)[:, None], outward)
    return np.where((np.einsum("ij,ij->i", normals, outward) < 0.0)[:, None], -normals, normals)


def widths_along(corners: FloatArray, normals: FloatArray) -> FloatArray:
    """Return the extent (m,) of the corners along each of m unit normals."""
    step = max(1, BLOCK // len(corners))
    parts = [np.ptp(normals[at : at + step] @ corners.T, axis=1) for at in range(0, len(normals), step)]
    return np.concatenate(parts)


def across_edges(
    corners: FloatArray,
    facets: npt.NDArray[np.intp],
    neighbours: npt.NDArray[np.intp],
    normals: FloatArray,
    widths: FloatArray,
    normal: FloatArray,
    width: float,
) -> tuple[FloatArray, float]:
    """Return the narrowest zone between two edges when it beats the given one, else the given one.

    An edge can lie on the zone for the normals on the arc between its two facets. Along the arc the width falls
    by no more than the hull's diameter per radian, which rules out most edges; of the rest, two edges face each
    other when the arc of one crosses the mirrored arc of the other.
    """
    facet = np.repeat(np.arange(len(facets)), 3)
    other = neighbours.ravel()
    ends = np.column_stack((facets[:, (1, 0, 0)].ravel(), facets[:, (2, 2, 1)].ravel()))
    once = facet < other
    facet, other, ends = facet[once], other[once], ends[once]
    diameter = float(np.linalg.norm(np.ptp(corners, axis=0)))
    arcs = np.linalg.norm(normals[facet] - normals[other], axis=1) * (np.pi / 2.0)
    promising = (widths[facet] + widths[other] - diameter * arcs) / 2.0 <= width * (1.0 + 1e-12)
    facet, other, ends = facet[promising], other[promising], ends[promising]
    along = corners[ends[:, 1]] - corners[ends[:, 0]]
    along /= np.linalg.norm(along, axis=1)[:, None]
    for first, second in near_mirrored(normals[facet], normals[other]):
        faces = facing(along, normals[facet], normals[other], first, second)
        normal, width = best_pair(corners, ends, along, first[faces], second[faces], normal, width)
    return normal, width


def near_mirrored(one: FloatArray, two: FloatArray) -> Iterator[tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]]:
    """Yield index pairs of arcs (from unit normals ``one`` to ``two``) of which one may cross the mirrored other.

    Arcs are sorted by length into classes, each four times as long as the next, so that a search among the middles of
    one class looks no farther than its arcs reach. A few edges are paired with each other at once.
    """
    if len(one) <= FEW_EDGES:
        yield np.triu_indices(len(one), 1)
        return
    from scipy.spatial import cKDTree

    middles = one + two
    middles /= np.maximum(np.linalg.norm(middles, axis=1), np.finfo(float).tiny)[:, None]
    reach = np.linalg.norm(one - middles, axis=1)
    classes = np.ceil(np.log2(np.maximum(reach, SHORTEST_ARC)) / 2.0).astype(int)
    groups = [np.flatnonzero(classes == length) for length in np.unique(classes)]
    trees = [cKDTree(middles[group]) for group in groups]
    for rank, group in enumerate(groups):
        mirrored = cKDTree(-middles[group])
        for other, tree in zip(groups[rank:], trees[rank:], strict=True):
            limit = float(reach[group].max() + reach[other].max()) + ARC_NOISE
            near = mirrored.sparse_distance_matrix(tree, limit, output_type="ndarray")
            yield group[near["i"]], other[near["j"]]


def facing(
    along: FloatArray,
    one: FloatArray,
    two: FloatArray,
    first: npt.NDArray[np.intp],
    second: npt.NDArray[np.intp],
) -> npt.NDArray[np.bool_]:
    """Return which pairs of edges have arcs of normals on both sides of the other's great circle."""

    def crosses(edge: npt.NDArray[np.intp], arc: npt.NDArray[np.intp]) -> FloatArray:
        start = np.einsum("ij,ij->i", along[edge], one[arc])
        return np.asarray(start * np.einsum("ij,ij->i", along[edge], two[arc]))

    return np.asarray((crosses(first, second) <= ARC_NOISE) & (crosses(second, first) <= ARC_NOISE))


def best_pair(
    corners: FloatArray,
    ends: npt.NDArray[np.intp],
    along: FloatArray,
    first: npt.NDArray[np.intp],
    second: npt.NDArray[np.intp],
    normal: FloatArray,
    width: float,
) -> tuple[FloatArray, float]:
    """Return the narrowest zone among pairs of edges, measured over all corners, when it beats the given one."""
    raw = np.cross(along[first], along[second])
    length = np.linalg.norm(raw, axis=1)
    skew = length > 1e-12
    across = raw[skew] / length[skew, None]
    gap = np.abs(np.einsum("ij,ij->i", across, corners[ends[first[skew], 0]] - corners[ends[second[skew], 0]]))
    order = np.argsort(gap)
    across, gap = across[order], gap[order]
    for at in range(0, len(gap), 256):
        if gap[at] >= width:
            break
        spans = widths_along(corners, across[at : at + 256])
        best = int(spans.argmin())
        if spans[best] < width:
            normal, width = across[at + best], float(spans[best])
    return normal, width
