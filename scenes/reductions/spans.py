"""Whether points span a line or a plane at all, and frames laid along them.

Everything here works for profiles (position, height) and for surfaces (x, y, z). Points are handed in as rows, (n, 2)
or (n, 3); the arithmetic inside works on their transpose, (2, n) or (3, n), called coordinates: numpy reduces and
shifts a few long rows ten times faster than many short ones.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from scenes.errors import GeometryError

__all__ = [
    "COLLINEAR",
    "FloatArray",
    "checked_points",
    "coordinates_of",
    "corners_of",
    "frame_along",
    "scatter_frame",
    "upward",
]

FloatArray = npt.NDArray[np.float64]

COLLINEAR = 1e-9
"""Width over length below which points count as one line: 1 nm on 1 m, the reach of float64 after centring."""

ROW_OF_STATIONS = 1e-6
"""Width over length in plan below which thin heights cannot carry a plane: a strip 1 um wide on 1 m."""

THIN = 0.1
"""Height range over length below which points over one row of stations are a profile and not an upright face."""

UPRIGHT = 0.1
"""Vertical share of a normal below which the plane counts as an upright face (steeper than about 84 degrees)."""


def checked_points(points: npt.ArrayLike, width: int) -> FloatArray:
    """Return the points as a float array (n, width) in C order.

    Raises
    ------
    GeometryError
        When the shape is wrong or there are fewer points than a line or plane needs.
    """
    rows = np.ascontiguousarray(points, dtype=np.float64)
    named = "a line needs (position, height)" if width == 2 else "a plane needs (x, y, z)"
    if rows.ndim != 2 or rows.shape[1] != width:
        raise GeometryError(f"Points come as rows of {width} numbers, {named}; found an array of shape {rows.shape}.")
    if rows.shape[0] < width:
        raise GeometryError(
            f"{'Straightness' if width == 2 else 'Flatness'} needs at least {width} points, because {width} points "
            f"always lie on one {'line' if width == 2 else 'plane'}; found {rows.shape[0]}."
        )
    return rows


def coordinates_of(points: FloatArray) -> FloatArray:
    """Return coordinates (d, n) of points (n, d), in C order."""
    return np.ascontiguousarray(points.T)


def refuse_missing(points: FloatArray) -> None:
    """Raise when a coordinate of points (n, d) is not a finite number."""
    bad = np.flatnonzero(~np.isfinite(points).all(axis=1))
    if bad.size:
        raise GeometryError(
            f"{bad.size} of {len(points)} points have a coordinate that is not a finite number (first: point "
            f"{bad[0]}). Leave a missing reading out instead of passing nan."
        )


def corners_of(plan: FloatArray) -> tuple[npt.NDArray[np.intp], float, float]:
    """Return indices of well spread points with the length and the least width of their triangle.

    For positions on a line (1, n) these are both ends; for a plan (2, n) the two ends along the longer side and the
    point farthest from their line. The width of any set is at least that of the triangle inside it.
    """
    ends = [(int(row.argmin()), int(row.argmax())) for row in plan]
    spans = [float(row[last] - row[first]) for row, (first, last) in zip(plan, ends, strict=True)]
    first, last = ends[spans.index(max(spans))]
    if len(plan) == 1:
        return np.array([first, last]), spans[0], spans[0]
    (x1, y1), (x2, y2) = plan[:, first].tolist(), plan[:, last].tolist()
    if x1 == x2 and y1 == y2:
        return np.array([first, last, first]), 0.0, 0.0
    off = (plan[0] - x1) * (y2 - y1)
    off -= (plan[1] - y1) * (x2 - x1)
    np.abs(off, out=off)
    third = int(off.argmax())
    x3, y3 = plan[:, third].tolist()
    longest = max(math.hypot(x2 - x1, y2 - y1), math.hypot(x3 - x1, y3 - y1), math.hypot(x3 - x2, y3 - y2))
    return np.array([first, last, third]), longest, float(off[third]) / longest


def frame_along(normal: FloatArray) -> FloatArray:
    """Return an orthonormal frame as rows whose last row is the unit normal (2 or 3 numbers).

    The in-plane axes stay close to x and y when the normal is close to z, so small slopes lose no digits.

    Source: T. Duff et al., Building an Orthonormal Basis, Revisited, Journal of Computer Graphics Techniques 6 (2017).
    """
    if normal.size == 2:
        return np.array([[normal[1], -normal[0]], normal])
    x, y, z = (float(part) for part in normal)
    sign = -1.0 if z < 0.0 else 1.0
    a = -1.0 / (sign + z)
    b = x * y * a
    return np.array([[1.0 + sign * x * x * a, sign * b, -sign * x], [b, sign + y * y * a, -y], [x, y, z]])


def scatter_frame(coordinates: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Return centre, unit normal of least scatter, and the largest distance of a coordinate from the centre.

    Parameters
    ----------
    coordinates : (d, n) float

    Raises
    ------
    GeometryError
        When the points do not span a line (profile) or a plane (surface).
    """
    centre = coordinates.mean(axis=1)
    if not np.isfinite(centre).all():
        refuse_missing(coordinates.T)
    rows = coordinates - centre[:, None]
    size = max(float(rows.max()), -float(rows.min()))
    if size <= 4.0 * np.finfo(float).eps * float(np.abs(centre).max()):
        raise GeometryError(f"All {rows.shape[1]} points lie at the same place, so there is no extent to measure over.")
    rows /= size
    refuse_narrow(rows)
    moments, axes = np.linalg.eigh(rows @ rows.T)
    return centre, np.ascontiguousarray(axes[:, int(moments.argmin())]), size


def refuse_narrow(rows: FloatArray) -> None:
    """Raise when centred coordinates (d, n) of unit size do not span a line (profile) or a plane (surface)."""
    _, length, width = corners_of(rows[:-1])
    if len(rows) == 2:
        if length <= COLLINEAR:
            raise GeometryError("All points have the same position, so no straight line over positions exists.")
        return
    height = float(np.ptp(rows[2]))
    if width > ROW_OF_STATIONS * max(length, height):
        return
    if width <= ROW_OF_STATIONS * length and height <= THIN * length:
        raise GeometryError(
            "All stations lie on one line in plan, so their heights cannot tell a plane: it may turn about that line. "
            "Read stations off the line, or ask for straightness."
        )
    _, axes = np.linalg.eigh(rows @ rows.T)
    _, length, width = corners_of(axes[:, :0:-1].T @ rows)
    if width <= COLLINEAR * length:
        raise GeometryError("All points lie on one line in space, so no single plane fits them.")


def upward(normal: FloatArray) -> FloatArray:
    """Return the normal or its opposite, whichever counts as high.

    High is +z. For an upright face (steeper than about 84 degrees), where z no longer tells the sides apart, high is
    the positive direction of the larger horizontal component (a profile: the positive position).
    """
    if abs(normal[-1]) >= UPRIGHT:
        return normal if normal[-1] > 0.0 else -normal
    leading = normal[int(np.abs(normal[:-1]).argmax())]
    return normal if leading > 0.0 else -normal
