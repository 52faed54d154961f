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
SETTLING_PIVOT = 1e-9
SETTLING = 30
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
    """Return the right side of the contact equations with the high centre moved toward corners 2 and 3 by ``nudge``.

    ``corners`` (d, d + 1) are the places of the corners.
    """
    d = len(corners)
    target = np.ones(d + 2)
    target[:d] = nudge * ((corners[:, 1:] - corners[:, :1]) @ UNEQUAL[:d])
    return target


ALL_ROUNDING = 64.0 * np.finfo(float).eps
"""Heights in a smaller range are the rounding of points on one line or plane."""


def contact_equations(plan: FloatArray, members: npt.NDArray[np.intp], sides: FloatArray) -> FloatArray:
    """Return the matrix (d + 2, d + 2) whose columns are contacts over a plan (d, n)."""
    size = members.size
    columns = np.empty((size, size))
    columns[:-2] = plan[:, members] * sides
    columns[-2] = sides > 0.0
    columns[-1] = sides < 0.0
    return columns


def fresh_inverse(plan: FloatArray, members: npt.NDArray[np.intp], sides: FloatArray) -> FloatArray:
    """Return the inverse of the contact equations."""
    return np.asarray(np.linalg.inv(contact_equations(plan, members, sides)), dtype=np.float64)


def exchange(local: FloatArray, corners: npt.NDArray[np.intp], breadth: float) -> Zone | None:
    """Return the narrowest vertical zone of points, or None when rounding keeps it from closing.

    Parameters
    ----------
    local : (d + 1, n) float
        Positions in plan and, last, heights; centred and of about unit size.
    corners : (d + 1,) int
        Indices of points that span the plan; the exchange starts from them.
    breadth : float
        Least breadth of the plan.
    """
    plan, heights = local[:-1], local[-1]
    reach = float(heights.max()) - float(heights.min())
    slack = float(4.0 * np.finfo(float).eps * reach * max(1.0, 1.0 / breadth))
    if reach < ALL_ROUNDING:  # heights are nothing but rounding of coordinates of size one
        slack = max(slack, float(np.finfo(float).eps))
    for nudge in NUDGES:
        contacts = exchange_nudged(local, corners, nudge, slack)
        inverse = None if contacts is None else settle(plan, heights, *contacts)
        if contacts is not None and inverse is not None:
            members, sides = contacts
            offsets = (sides * heights[members]) @ inverse
            d = len(plan)
            return Zone(members, sides, inverse, offsets[:d], float(offsets[d]), float(-offsets[d + 1]), breadth)
    return None


def exchange_nudged(
    local: FloatArray, corners: npt.NDArray[np.intp], nudge: float, slack: float
) -> tuple[npt.NDArray[np.intp], FloatArray] | None:
    """Return members and sides of contacts from which no point sticks out, found with nudged weights."""
    plan, heights = local[:-1], local[-1]
    d = len(plan)
    members = np.append(corners, corners[0])
    sides = np.ones(d + 2)
    sides[-1] = -1.0
    inverse = fresh_inverse(plan, members, sides)
    target = nudged_target(plan[:, corners], nudge)
    weights = inverse @ target
    entering, rest = np.empty(d + 2), np.empty(heights.size)
    for _ in range(50 * (d + 2) + 200):
        offsets = (sides * heights[members]) @ inverse
        heights_over(local, offsets[:d], rest)
        high, low = int(rest.argmax()), int(rest.argmin())
        above, below = float(rest[high] - offsets[d]), float(-rest[low] - offsets[d + 1])
        if above <= slack and below <= slack:
            return members, sides
        new, side = (high, 1.0) if above >= below else (low, -1.0)
        entering[:d] = side * plan[:, new]
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


def settle(
    plan: FloatArray, heights: FloatArray, members: npt.NDArray[np.intp], sides: FloatArray
) -> FloatArray | None:
    """Exchange contacts in place until all weights hold without the nudge, and return the inverse; None if they do not.

    A contact of negative weight leaves, and the point that the tilting zone meets first takes its place (dual
    simplex method), so that no point ever sticks out.
    """
    d = len(plan)
    for _ in range(SETTLING):
        inverse = fresh_inverse(plan, members, sides)
        weights = inverse[:, d] + inverse[:, d + 1]
        leave = int(weights.argmin())
        if weights[leave] >= -WEIGHT_NOISE:
            return inverse
        offsets = (sides * heights[members]) @ inverse
        rest = heights - offsets[:d] @ plan
        tilt = inverse[leave, :d] @ plan
        gaps = np.concatenate((offsets[d] - rest, rest + offsets[d + 1]))
        falls = -np.concatenate((inverse[leave, d] + tilt, inverse[leave, d + 1] - tilt))
        meets = falls > SETTLING_PIVOT
        if not meets.any():
            return None
        first = int(np.where(meets, np.clip(gaps, 0.0, None) / np.where(meets, falls, 1.0), np.inf).argmin())
        members[leave], sides[leave] = first % heights.size, 1.0 if first < heights.size else -1.0
    return None


def heights_over(local: FloatArray, slopes: FloatArray, out: FloatArray) -> None:
    """Write the heights over a line or plane of the slopes given, through the origin, to ``out`` (n,)."""
    if slopes.size == 1:
        np.multiply(local[0], slopes[0], out=out)
        np.subtract(local[1], out, out=out)
    else:
        np.dot(np.append(-slopes, 1.0), local, out=out)


def leaving_row(share: FloatArray, weights: FloatArray) -> int:
    """Return the contact whose weight reaches zero first as the entering point takes over, or -1."""
    best, leave = np.inf, -1
    for row, (part, weight) in enumerate(zip(share.tolist(), weights.tolist(), strict=True)):
        if part > LEAST_PIVOT and weight < best * part:
            best, leave = weight / part, row
    return leave
