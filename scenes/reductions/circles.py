"""The circle of least squared distance to points of a plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.errors import GeometryError
from scenes.reductions.spans import FloatArray

__all__ = ["Circle", "least_squares_circle"]

ROUNDS = 100
SETTLED = 1e-14
"""Step, as a share of the spread of the points, that only rounding is left in."""

FLAT = 1e-9
"""Share of the points' length to which they must leave a straight line, or no circle is held."""


@dataclass(frozen=True, slots=True, eq=False)
class Circle:
    """Fitted circle: ``centre`` (2,), ``radius``, and ``residuals`` (n,) counted outward from it, all metres."""

    centre: FloatArray
    radius: float
    residuals: FloatArray

    def __post_init__(self) -> None:
        for name in ("centre", "residuals"):
            held = np.array(getattr(self, name), dtype=np.float64)
            held.flags.writeable = False
            object.__setattr__(self, name, held)


def least_squares_circle(points: FloatArray) -> Circle:
    """Return the circle of least squared orthogonal distance to points (n, 2), metres.

    Gauss-Newton steps on centre and radius from the algebraic fit.

    Raises
    ------
    GeometryError
        When there are fewer than three points, a coordinate is not finite, the points stand on one line, or the steps
        come to no rest.

    Source: I. D. Coope, Circle fitting by linear and nonlinear least squares, J. Optim. Theory Appl. 76 (1993), from
    memory.
    """
    rows = np.asarray(points, dtype=np.float64)
    if rows.ndim != 2 or rows.shape[1] != 2 or len(rows) < 3:
        raise GeometryError(f"A circle needs at least three points in a plane; found an array of shape {rows.shape}.")
    if not np.isfinite(rows).all():
        raise GeometryError("A coordinate of a point is not a finite number, so no circle can be fitted.")
    middle = rows.mean(axis=0)
    rows = rows - middle
    size = float(np.abs(rows).max())
    extent = np.linalg.svd(rows / size, compute_uv=False) if size > 0.0 else np.zeros(2)
    if extent[1] <= FLAT * extent[0]:
        raise GeometryError("The points stand on one line or at one place: they hold no circle.")
    rows = rows / size
    design = np.column_stack((2.0 * rows, np.ones(len(rows))))
    start, _, rank, _ = np.linalg.lstsq(design, np.sum(rows**2, axis=1), rcond=None)
    if rank < 3:
        raise GeometryError("The points stand at fewer than three places: many circles go through them.")
    unknowns = np.append(start[:2], np.sqrt(start[2] + start[:2] @ start[:2]))
    for _ in range(ROUNDS):
        out = rows - unknowns[:2]
        distance = np.hypot(out[:, 0], out[:, 1])
        if distance.min() == 0.0:
            break
        slopes = np.column_stack((out / distance[:, None], np.ones(len(rows))))
        step = np.linalg.lstsq(slopes, distance - unknowns[2], rcond=None)[0]
        unknowns = unknowns + step
        if np.abs(step).max() <= SETTLED * max(1.0, float(np.abs(unknowns).max())):
            out = rows - unknowns[:2]
            residuals = np.hypot(out[:, 0], out[:, 1]) - unknowns[2]
            return Circle(middle + size * unknowns[:2], size * float(unknowns[2]), size * residuals)
    raise GeometryError("The points hold no circle: the fit comes to no rest, as with points scattered about a place.")
