"""The narrowest vertical zone of points over a plan, by exchange of contacts.

A zone between two parallel planes (lines) is held by d + 2 contacts over a plan of d dimensions. Contacts carry convex
weights, one set for those on the high side and one for those on the low side, and both sets have the same centre in
plan: then no tilt can make the zone narrower. This is linear programming; the exchange below is the simplex method on
the weights, with the point that sticks out most coming in.

Regular grids make weights of exactly zero, and then the textbook exchange can go round in circles. Here the centre of
the high side is nudged off that of the low side by a tiny step in a direction of no symmetry, which keeps every
weight positive on the way. The nudge never enters the answer: the final contacts are weighed without it.

Source: G. Dantzig, Linear Programming and Extensions (1963), chapter 10 (perturbation against cycling).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scenes.reductions.spans import FloatArray

__all__ = ["NUDGES", "Zone", "exchange", "nudged_target"]

NUDGES = (1e-7, 1e-9, 1e-11)
"""Steps off the common centre, in units of the plan; the next is taken when weights of the last one do not hold."""

WEIGHT_NOISE = 1e-12
"""Weights above minus this count as not negative: rounding of a 4 x 4 inverse on a well spread plan."""

LEAST_PIVOT = 1e-12
UNEQUAL = np.array([0.4142135623730951, 0.7320508075688772])


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """Contacts of the narrowest zone.

    Attributes
    ----------
    members : (d + 2,) int
        Indices of the contacts.
    sides : (d + 2,) float
        +1 for a contact on the high side, -1 on the low side.
    inverse : (d + 2, d + 2) float
        Inverse of the contact equations; its product with (shift of centre, 1, 1) gives the weights.
    slopes : (d,) float
        Slopes of the zone.
    upper, lower : float
        Heights of both sides at the origin of the plan.
    breadth : float
        A lower bound of the breadth of the plan in any direction.
    """

    members: npt.NDArray[np.intp]
    sides: FloatArray
    inverse: FloatArray
    slopes: FloatArray
    upper: float
    lower: float
    breadth: float

    @property
    def width(self) -> float:
        """Vertical width."""
        return self.upper - self.lower

    @property
    def orthogonal_width(self) -> float:
        """Distance between the two parallel lines or planes."""
        return self.width / float(np.sqrt(1.0 + self.slopes @ self.slopes))

    def weights(self, along: FloatArray | None = None) -> FloatArray:
        """Return the convex weights (d + 2,); with ``along`` the high centre stands off the low one by that step."""
        target = np.ones(self.members.size)
        target[:-2] = 0.0 if along is None else along
        weights: FloatArray = self.inverse @ target
        return weights


def nudged_target(corners: FloatArray, nudge: float) -> FloatArray:
    """Return the right side of the contact equations with the high centre moved toward corners 2 and 3 by ``nudge``."""
    size = len(corners) + 1
    target = np.ones(size)
    target[: size - 2] = nudge * (UNEQUAL[: size - 2] @ (corners[1:] - corners[0]))
    return target


def contact_equations(plan: FloatArray, members: npt.NDArray[np.intp], sides: FloatArray) -> FloatArray:
    """Return the matrix (d + 2, d + 2) whose columns are the contacts."""
    return np.vstack((plan[members].T * sides, sides > 0.0, sides < 0.0))


def fresh_inverse(plan: FloatArray, members: npt.NDArray[np.intp], sides: FloatArray) -> FloatArray:
    """Return the inverse of the contact equations."""
    return np.asarray(np.linalg.inv(contact_equations(plan, members, sides)), dtype=np.float64)


def exchange(plan: FloatArray, heights: FloatArray, corners: npt.NDArray[np.intp], breadth: float) -> Zone | None:
    """Return the narrowest vertical zone of heights over a plan, or None when rounding keeps it from closing.

    Parameters
    ----------
    plan : (n, d) float
        Positions, centred and of about unit size.
    heights : (n,) float
    corners : (d + 1,) int
        Indices of points that span the plan; the exchange starts from them.
    breadth : float
        Least breadth of the plan, handed on for the proof.
    """
    for nudge in NUDGES:
        zone = exchange_nudged(plan, heights, corners, breadth, nudge)
        if zone is not None and zone.weights().min() >= -WEIGHT_NOISE:
            return zone
    return None


def exchange_nudged(
    plan: FloatArray, heights: FloatArray, corners: npt.NDArray[np.intp], breadth: float, nudge: float
) -> Zone | None:
    """Return the zone found with one size of nudge, its weights not yet judged."""
    d = plan.shape[1]
    members = np.append(corners, corners[0])
    sides = np.ones(d + 2)
    sides[-1] = -1.0
    inverse = fresh_inverse(plan, members, sides)
    target = nudged_target(plan[corners], nudge)
    weights = inverse @ target
    reach = float(heights.max()) - float(heights.min())
    slack = 4.0 * np.finfo(float).eps * reach
    entering = np.empty(d + 2)
    for _ in range(50 * (d + 2) + 200):
        offsets = (sides * heights[members]) @ inverse
        rest = heights - plan @ offsets[:d]
        high, low = int(rest.argmax()), int(rest.argmin())
        above, below = float(rest[high] - offsets[d]), float(-rest[low] - offsets[d + 1])
        if above <= slack and below <= slack:
            inverse = fresh_inverse(plan, members, sides)
            offsets = (sides * heights[members]) @ inverse
            return Zone(members, sides, inverse, offsets[:d], float(offsets[d]), float(-offsets[d + 1]), breadth)
        new, side = (high, 1.0) if above >= below else (low, -1.0)
        entering[:d] = side * plan[new]
        entering[d:] = (1.0, 0.0) if side > 0.0 else (0.0, 1.0)
        share = inverse @ entering
        leave = leaving_row(share, weights)
        if leave < 0:
            return None
        members[leave], sides[leave] = new, side
        row = inverse[leave] / share[leave]
        share[leave] -= 1.0
        inverse -= share[:, None] * row
        weights = inverse @ target
    return None


def leaving_row(share: FloatArray, weights: FloatArray) -> int:
    """Return the contact whose weight reaches zero first as the entering point takes over, or -1."""
    best, leave = np.inf, -1
    for row, (part, weight) in enumerate(zip(share.tolist(), weights.tolist(), strict=True)):
        if part > LEAST_PIVOT and weight < best * part:
            best, leave = weight / part, row
    return leave
