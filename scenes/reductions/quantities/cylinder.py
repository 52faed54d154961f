"""Smallest cylinder about the points of an axis, for many sets of points at once.

Points stand at positions s along a nominal axis, and off it by q, two numbers each. Sought is the line a + b s with the
least largest distance from them. Slopes being small, that is a convex problem with five unknowns (a, b and the square
of the radius), solved by a primal-dual interior point method (``cylinder_steps``); the weights that it ends with prove
the radius.

Source: S. Boyd, L. Vandenberghe, Convex Optimization (2004), section 11.7.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...errors import GeometryError
from ...vectors import Floats, Indices
from .cylinder_steps import solved_cylinders

__all__ = ["Cylinders", "circumscribed_cylinder", "smallest_cylinders"]

GAP = 1e-11
"""Largest difference between the square of a radius and its proven lower bound, as a share of it."""

MOST_TURNS = 60
"""Turns of the frame of a cylinder that stands at any angle."""

MANY = 500
"""Points above which a set is solved from the few that may hold it."""

JOINING = 20
"""Points that join those few at once."""

SIDES = 8
"""Directions in which the first of them are looked for."""

ON_A_LINE = 1e-13
"""Points lie on a line where they leave it by less than this share of their distance from the nominal axis."""

RIDGE = 1e-14
"""Added to the diagonal of a step, as a share of it: contacts at one position leave the tilt to the others."""

SETTLED = 1e-12
"""The frame follows the axis until its slope against it is below this [rad]."""


@dataclass(frozen=True, slots=True, eq=False)
class Cylinders:
    """Smallest cylinders of t sets of n points.

    Attributes
    ----------
    radius : (t,) float
    axis : (t, 4) float
        a and b of the axis ``a + b s``: (a_1, a_2, b_1, b_2).
    weights : (t, n) float
        Convex weights of the points that hold the cylinder: weighted by them, their directions from the axis cancel,
        and so do the moments of these about any place, which proves that no cylinder is smaller.
    off : (t, n, 2) float
        Points less the axis.
    """

    radius: Floats
    axis: Floats
    weights: Floats
    off: Floats

    def axis_gain(self, positions: Floats) -> Floats:
        """Change ``(4, 2 n)`` of the axis of the first set with its points ``(n, 2)``, taken row by row.

        Source: derivative of the conditions on the central path that the solution satisfies.
        """
        off, weights = self.off[0], self.weights[0]
        n = len(positions)
        square = np.einsum("ij,ij->i", off, off)
        slack = np.maximum(float(self.radius[0]) ** 2 - square, 0.0) + BLUR * float(self.radius[0]) ** 2
        slopes = _slopes(self.off, positions)[0]
        pull = np.zeros((5, 2 * n))
        for i in range(n):
            design = np.zeros((2, 5))
            design[0, 0] = design[1, 1] = 1.0
            design[0, 2] = design[1, 3] = positions[i]
            pull[:, 2 * i : 2 * i + 2] = weights[i] * (np.outer(slopes[i], 2.0 * off[i]) / slack[i] - 2.0 * design.T)
        matrix = _newton_matrix(slopes[None], weights[None], slack[None], positions)[0]
        result: Floats = -np.linalg.solve(matrix, pull)[:4]
        return result


BLUR = 1e-9
"""Contacts hold the axis as stiffly as if their distance might be off by this share of it."""


def _slopes(off: Floats, positions: Floats) -> Floats:
    """Change ``(t, n, 5)`` of square distance less square radius with the unknowns."""
    t, n, _ = off.shape
    slopes = np.empty((t, n, 5))
    slopes[..., 0:2] = -2.0 * off
    slopes[..., 2:4] = -2.0 * off * positions[:, None]
    slopes[..., 4] = -1.0
    return slopes


def _newton_matrix(slopes: Floats, weights: Floats, slack: Floats, positions: Floats) -> Floats:
    """Matrices ``(t, 5, 5)`` of the step: curvature of the square distances, and pull of the weights."""
    matrix: Floats = np.matmul((slopes * (weights / slack)[..., None]).transpose(0, 2, 1), slopes)
    total, first, second = (2.0 * weights @ part for part in (np.ones_like(positions), positions, positions**2))
    for axis in (0, 1):
        matrix[:, axis, axis] += total
        matrix[:, axis, axis + 2] += first
        matrix[:, axis + 2, axis] += first
        matrix[:, axis + 2, axis + 2] += second
    diagonal = np.einsum("tii->ti", matrix)
    diagonal *= 1.0 + RIDGE
    return matrix


def _fitted(offsets: Floats, positions: Floats) -> tuple[Floats, Floats]:
    """Least-squares axes ``(t, 4)`` and what stays of the points."""
    design = np.column_stack([np.ones_like(positions), positions])
    inverse = np.linalg.pinv(design)
    lines = np.einsum("kn,tnc->tkc", inverse, offsets)
    return lines.reshape(len(offsets), 4), offsets - np.einsum("nk,tkc->tnc", design, lines)


def smallest_cylinders(positions: Floats, offsets: Floats, gap: float = GAP) -> Cylinders:
    """Smallest cylinders of sets of points along nearly the same axis.

    Parameters
    ----------
    positions : (n,) float
        Along the axis, metres.
    offsets : (t, n, 2) float
        Off it, metres; slopes are small.
    gap : float
        By what share the square of a radius may be too large.

    Raises
    ------
    GeometryError
        Where all points stand at one position.
    """
    s = np.asarray(positions, dtype=np.float64)
    extent = float(np.abs(s - s.mean()).max(initial=0.0))
    if extent == 0.0:
        raise GeometryError("all stations stand at one place along the axis, so that it has no direction")
    if len(s) > MANY:
        return _of_many(s, offsets, gap)
    middle, places = float(s.mean()), (s - s.mean()) / extent
    axis, rest = _fitted(offsets, places)
    size = np.sqrt(np.max(np.sum(rest**2, axis=2), axis=1))
    wide = np.nonzero(size > ON_A_LINE * np.abs(offsets).max(axis=(1, 2), initial=0.0))[0]
    radius, weights = np.zeros(len(rest)), np.full(rest.shape[:2], 1.0 / len(s))
    moved, square, weights[wide] = solved_cylinders(rest[wide] / size[wide, None, None], places, gap)
    axis[wide] += moved * size[wide, None]
    radius[wide] = np.sqrt(square) * size[wide]
    slope = axis[:, 2:] / extent
    whole = np.concatenate([axis[:, :2] - slope * middle, slope], axis=1)
    off = offsets - whole[:, None, :2] - whole[:, None, 2:] * s[:, None]
    return Cylinders(radius, whole, weights, off)


def _of_many(s: Floats, offsets: Floats, gap: float) -> Cylinders:
    """Smallest cylinders of large sets: of a few points of each, which those join that stick out farthest."""
    t, n = offsets.shape[:2]
    radius, axis, weights = np.zeros(t), np.zeros((t, 4)), np.zeros((t, n))
    off = np.empty_like(offsets)
    for i, points in enumerate(offsets):
        chosen = _farthest(s, points)
        while True:
            found = smallest_cylinders(s[chosen], points[None, chosen], gap)
            off[i] = points - found.axis[0, :2] - found.axis[0, 2:] * s[:, None]
            square = np.einsum("nc,nc->n", off[i], off[i])
            out = np.flatnonzero(square > found.radius[0] ** 2 * (1.0 + gap))
            new = np.setdiff1d(out[np.argsort(square[out])[-JOINING:]], chosen)
            if new.size == 0:
                break
            if len(chosen) + len(new) > MANY:
                raise GeometryError("the smallest cylinder about so many points was not found: too many hold it")
            chosen = np.union1d(chosen, new)
        radius[i], axis[i], weights[i, chosen] = found.radius[0], found.axis[0], found.weights[0]
    return Cylinders(radius, axis, weights, off)


def _farthest(s: Floats, points: Floats) -> Indices:
    """Points that stand out farthest from their fitted axis to any side, in the middle and toward either end."""
    place = s - s.mean()
    extent = float(np.abs(place).max())
    place = place / extent
    rest = points - points.mean(axis=0)
    rest = rest - np.multiply.outer(place, (place @ rest) / (place @ place))
    turn = np.arange(SIDES) * (2.0 * np.pi / SIDES)
    reach = np.stack([np.cos(turn), np.sin(turn)], axis=1) @ rest.T
    found = [(reach * (1.0 + lean * place)).argmax(axis=1) for lean in (-1.0, 0.0, 1.0)]
    return np.unique(np.concatenate([*found, [int(s.argmin()), int(s.argmax())]]))


def circumscribed_cylinder(points: Floats) -> tuple[float, Floats, Floats]:
    """Diameter, a place on the axis (3,) and direction (3,) of the smallest cylinder about points (n, 3).

    Distances are square to the axis found; of long sets of points the one near their longest extent is meant.

    Raises
    ------
    GeometryError
        Where all points stand at one place.
    """
    centre = points.mean(axis=0)
    direction = np.linalg.svd(points - centre, full_matrices=False)[2][0]
    for _ in range(MOST_TURNS):
        across = np.linalg.svd(direction[None, :])[2][1:]
        rows = points - centre
        found = smallest_cylinders(rows @ direction, (rows @ across.T)[None])
        centre = centre + found.axis[0, :2] @ across
        slope = found.axis[0, 2:]
        direction = direction + slope @ across
        direction = direction / np.linalg.norm(direction)
        if float(np.abs(slope).max()) < SETTLED:
            break
    return 2.0 * float(found.radius[0]), centre, direction
