"""Least-squares, three-point and end-point references of a profile or surface, and what each point does to them.

Least squares means orthogonal distances (total least squares), so the value does not depend on how the points are
turned. For machine surfaces it agrees with the fit along z to second order in slope.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scenes.errors import GeometryError
from scenes.reductions.spans import (
    COLLINEAR,
    UPRIGHT,
    FloatArray,
    coordinates_of,
    corners_of,
    frame_along,
    scatter_frame,
    upward,
)

__all__ = [
    "FittedReference",
    "end_points",
    "least_squares",
    "leverages",
    "line_through",
    "plane_through",
    "widest_triangle",
]

MOST_CORNERS = 48
"""Corner points among which the largest triangle is sought one by one (a table of 48 x 48 x 48 areas)."""


@dataclass(frozen=True, slots=True, eq=False)
class FittedReference:
    """A reference line or plane: points with ``normal @ point == offset``.

    Attributes
    ----------
    normal : (d,) float
        Unit normal, + = high.
    offset : float
        Distance of the reference from the origin along the normal.
    datum : (m,) int
        Points that the reference goes through; empty for least squares.
    pull : (n, k) float
        What a move of each point along the normal does to the k parameters of the reference.
    turn : (n, k) float
        What a move in z does to the parameters beside its share along the normal (least squares on a tilted face).
    shape : (n, k) float
        What each parameter adds to the reference at each point.
    """

    normal: FloatArray
    offset: float
    datum: npt.NDArray[np.intp]
    pull: FloatArray
    turn: FloatArray
    shape: FloatArray

    def gradient(self, high: int, low: int) -> FloatArray:
        """Return d(deviation of ``high`` - deviation of ``low``) / dz of every point, (n,)."""
        upright = self.normal[-1]
        follow: FloatArray = -(self.pull * upright + self.turn) @ (self.shape[high] - self.shape[low])
        follow[high] += upright
        follow[low] -= upright
        return follow


def least_squares(points: FloatArray, weights: FloatArray | None = None) -> FittedReference:
    """Return the line or plane with the least (weighted) sum of squared orthogonal distances.

    Parameters
    ----------
    points : (n, d) float
    weights : (n,) float, optional
        One over the variance of each point, up to a common factor.

    Raises
    ------
    GeometryError
        When the points that carry weight span no line or plane.
    """
    share = checked_weights(weights, len(points))
    used = points if weights is None else points[share > 0.0]
    _, normal, size = scatter_frame(coordinates_of(used))
    centre = share @ points
    rows = (points - centre) / size
    moments, axes = np.linalg.eigh((rows.T * share) @ rows)
    if moments[1] - moments[0] <= COLLINEAR * moments[-1]:
        raise GeometryError(
            "The scatter of the points is the same in more than one direction, so no least-squares "
            f"{'line' if points.shape[1] == 2 else 'plane'} is the best one."
        )
    frame = np.vstack((axes[:, :0:-1].T, axes[:, 0]))
    flat = rows @ frame.T
    plan, heights = flat[:, :-1], flat[:, -1]
    stiff = (plan.T * share) @ plan - np.eye(plan.shape[1]) * (share @ heights**2)
    # One more step takes out what squaring the coordinates lost: the frame comes from their products.
    lean = np.append(-np.linalg.solve(stiff, (plan.T * share) @ heights), 1.0)
    normal = upward(frame.T @ lean / np.linalg.norm(lean))
    frame = np.vstack((frame_along(normal)[:-1], normal))
    flat = rows @ frame.T
    plan, heights = flat[:, :-1], flat[:, -1]
    stiff = (plan.T * share) @ plan - np.eye(plan.shape[1]) * (share @ heights**2)
    answer = np.linalg.inv(stiff)
    pull = np.column_stack((share, share[:, None] * plan @ answer))
    turn = np.column_stack((np.zeros(len(points)), (share * heights)[:, None] * (frame[:-1, -1] @ answer)))
    shape = np.column_stack((np.ones(len(points)), plan))
    return FittedReference(normal, float(normal @ centre), np.empty(0, dtype=np.intp), pull, turn, shape)


def checked_weights(weights: FloatArray | None, count: int) -> FloatArray:
    """Return weights of sum one.

    Raises
    ------
    GeometryError
        When a weight is negative or not finite, or none is above zero.
    """
    if weights is None:
        return np.full(count, 1.0 / count)
    share = np.array(weights, dtype=np.float64)
    if share.shape != (count,) or not np.isfinite(share).all() or share.min() < 0.0 or share.sum() == 0.0:
        raise GeometryError(f"Least squares takes one weight per point ({count}), none negative and not all zero.")
    total: FloatArray = share / share.sum()
    return total


def plane_through(points: FloatArray, datum: npt.ArrayLike | None = None) -> FittedReference:
    """Return the plane through three points (n, 3), by default those of the largest triangle in plan.

    Raises
    ------
    GeometryError
        When the three points lie on one line.
    """
    centre, best, size = scatter_frame(coordinates_of(points))
    frame = np.eye(3) if abs(best[2]) >= UPRIGHT else frame_along(best)
    chosen = widest_triangle((points - centre) @ frame[:-1].T) if datum is None else of_datum(datum, 3)
    first, second, third = corner = points[in_range(chosen, len(points))]
    try:
        scatter_frame(coordinates_of(corner))
    except GeometryError as narrow:
        raise GeometryError(
            "The three datum points lie on one line or at one place, so a plane through them may turn about it."
        ) from narrow
    raw = np.cross((second - first) / size, (third - first) / size)
    normal = upward(raw / np.linalg.norm(raw))
    return through(points, chosen, normal, (first + second + third) / 3.0)


def line_through(points: FloatArray, datum: npt.ArrayLike) -> FittedReference:
    """Return the line through two points of a profile (n, 2)."""
    chosen = in_range(of_datum(datum, 2), len(points))
    one, two = points[chosen]
    return line_over(points, one, two, chosen[:1], chosen[1:])


def end_points(points: FloatArray) -> FittedReference:
    """Return the line through the ends of a profile (n, 2); several readings of one end count with their mean.

    Raises
    ------
    GeometryError
        When all positions are the same.
    """
    scatter_frame(coordinates_of(points))
    place = points[:, 0]
    first, last = np.flatnonzero(place == place.min()), np.flatnonzero(place == place.max())
    return line_over(points, points[first].mean(axis=0), points[last].mean(axis=0), first, last)


def line_over(
    points: FloatArray,
    one: FloatArray,
    two: FloatArray,
    first: npt.NDArray[np.intp],
    last: npt.NDArray[np.intp],
) -> FittedReference:
    """Return the line through two places, each the mean of the readings named."""
    scatter_frame(coordinates_of(points))
    chord = two - one
    length = float(np.hypot(chord[0], chord[1]))
    if length == 0.0 or abs(chord[0]) <= COLLINEAR * float(np.ptp(points[:, 0])):
        raise GeometryError("Both datum points have the same position, so the line through them has no direction.")
    normal = upward(np.array([-chord[1], chord[0]]) / length)
    along = (points - one) @ chord / length**2
    shape = np.column_stack((1.0 - along, along))
    pull = np.zeros_like(shape)
    pull[first, 0], pull[last, 1] = 1.0 / first.size, 1.0 / last.size
    datum = np.concatenate((first, last))
    return FittedReference(normal, float(normal @ one), datum, pull, np.zeros_like(shape), shape)


def through(points: FloatArray, datum: npt.NDArray[np.intp], normal: FloatArray, place: FloatArray) -> FittedReference:
    """Return the plane through three datum points with the shares that each has in the plane at every point."""
    plan = (points - place) @ frame_along(normal)[:-1].T
    corner = np.column_stack((np.ones(3), plan[datum]))
    shape = np.column_stack((np.ones(len(points)), plan)) @ np.linalg.inv(corner)
    pull = np.zeros_like(shape)
    pull[datum, np.arange(3)] = 1.0
    return FittedReference(normal, float(normal @ place), datum, pull, np.zeros_like(shape), shape)


def of_datum(datum: npt.ArrayLike, count: int) -> npt.NDArray[np.intp]:
    """Return the datum as ``count`` different indices."""
    chosen = np.asarray(datum)
    if chosen.shape != (count,) or chosen.dtype.kind not in "iu" or len(set(chosen.tolist())) != count:
        raise GeometryError(f"This reference goes through {count} different datum points; found {chosen.tolist()}.")
    return chosen.astype(np.intp)


def in_range(chosen: npt.NDArray[np.intp], count: int) -> npt.NDArray[np.intp]:
    """Return the indices when all of them name one of ``count`` points."""
    if chosen.min() < 0 or chosen.max() >= count:
        raise GeometryError(f"A datum point is not among the {count} points: {chosen.tolist()}.")
    return chosen


def widest_triangle(plan: FloatArray) -> npt.NDArray[np.intp]:
    """Return indices of three points of a plan (n, 2) that span the largest triangle; of equal ones the first.

    The corners of the largest triangle are corners of the convex hull. A hull with more than 48 corners is
    represented by the points that lie farthest out in 48 directions.
    """
    from scipy.spatial import ConvexHull, QhullError  # late: half a second that most commands need not spend

    try:
        candidates = np.sort(ConvexHull(plan).vertices)
    except QhullError:
        return np.sort(corners_of(coordinates_of(plan))[0])
    if candidates.size > MOST_CORNERS:
        angles = np.arange(MOST_CORNERS) * (2.0 * np.pi / MOST_CORNERS)
        rays = np.vstack((np.cos(angles), np.sin(angles)))
        candidates = candidates[np.unique((plan[candidates] @ rays).argmax(axis=0))]
    place = plan[candidates]
    step = place[None, :] - place[:, None]
    area = np.abs(step[:, :, None, 0] * step[:, None, :, 1] - step[:, :, None, 1] * step[:, None, :, 0])
    first = int(np.argmax(area >= area.max() * (1.0 - COLLINEAR)))
    return np.asarray(candidates[list(np.unravel_index(first, area.shape))], dtype=np.intp)


def leverages(xy: npt.ArrayLike) -> FloatArray:
    """Return the leverage (n,) of each station in the fit of a plane over (n, 2), or of a line over (n,) or (n, 1).

    The leverage is the share of a station's own reading in the fitted value there; their sum is 3 for a plane and 2
    for a line. A leverage of 1 means that no other station checks this one.

    Raises
    ------
    GeometryError
        When the stations span no plane or line.
    """
    plan = np.array(xy, dtype=np.float64)
    plan = plan[:, None] if plan.ndim == 1 else plan
    return np.asarray(np.sum(orthonormal_shapes(plan) ** 2, axis=1))


def orthonormal_shapes(plan: FloatArray) -> FloatArray:
    """Return (n, d + 1) orthonormal columns that span 1 and the coordinates of a plan (n, d).

    Raises
    ------
    GeometryError
        When the stations span no plane or line.
    """
    if plan.ndim != 2 or plan.shape[1] not in (1, 2) or len(plan) <= plan.shape[1]:
        raise GeometryError(
            f"A line needs two stations and a plane three, as rows of positions; found an array of shape {plan.shape}."
        )
    if not np.isfinite(plan).all():
        raise GeometryError("A station has a coordinate that is not a finite number.")
    middle = plan.mean(axis=0)
    rows = plan - middle
    _, length, width = corners_of(coordinates_of(rows))
    if length <= 4.0 * np.finfo(float).eps * float(np.abs(middle).max()) or width <= COLLINEAR * length:
        raise GeometryError(
            "All stations have the same position, so no line over them exists."
            if plan.shape[1] == 1
            else "All stations lie on one line in plan, so their heights cannot tell a plane."
        )
    q, _ = np.linalg.qr(np.column_stack((np.ones(len(rows)), rows / length)))
    return np.asarray(q)
