"""Minimum zones of many trials over one fixed layout: the exchange of ``zone_exchange`` on all trials side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scenes.reductions.minimum_zone import minimum_zone
from scenes.reductions.spans import FloatArray
from scenes.reductions.zone_exchange import LEAST_PIVOT, NUDGES, WEIGHT_NOISE, contact_equations, nudged_target
from scenes.reductions.zone_proof import contact_reach, excess_by_lean, open_side, possible_excess, steepest_lean

__all__ = ["TRIAL_DOUBT", "Layout", "minimum_zone_of_block"]

TRIAL_DOUBT = 1e-6
"""Share of its width by which a trial's zone may at most exceed the narrowest one before it is worked out singly.

It comes into play only where a contact has no weight at all (a low station midway between two high ones): the zone may
lean about such a line of contacts at first without growing. All other trials are exact.
"""

SAFE = 0.9
"""Share of the doubt that is made use of."""

EXCHANGES = 400

CROWDED = 0.75
"""Share of open trials above which closed ones are carried along instead of being taken out."""


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Stations in plan, centred and of unit size.

    Attributes
    ----------
    plan : (n, d) float
        Along the principal axes of the stations.
    size : float
        Unit of ``plan`` and of the heights worked on.
    corners : (d + 1,) int
        Stations that span the plan.
    breadth : float
        Least breadth of their triangle.
    """

    plan: FloatArray
    size: float
    corners: npt.NDArray[np.intp]
    breadth: float


def minimum_zone_of_block(
    layout: Layout, heights: FloatArray, scratch: FloatArray, slopes: FloatArray | None = None
) -> FloatArray:
    """Return the orthogonal widths (t,) of the narrowest zones of heights (n, t); ``scratch`` is overwritten.

    The slopes (d, t) of the zones along the axes of the plan are put into ``slopes`` where it is given.
    """
    widths = np.empty(heights.shape[1])
    slopes = np.empty((layout.plan.shape[1], widths.size)) if slopes is None else slopes
    single = np.zeros(widths.size, dtype=bool)
    trials = np.arange(widths.size)
    state = Exchange.begin(layout, heights)
    for _ in range(EXCHANGES):
        open_ = state.step(layout, scratch.ravel())
        if np.count_nonzero(open_) > CROWDED * open_.size:
            continue
        closed = np.flatnonzero(~open_)
        at = trials[closed]
        widths[at], slopes[:, at], single[at] = state.only(closed).widths(layout)
        trials = trials[open_]
        if trials.size == 0:
            break
        state = state.only(np.flatnonzero(open_))
    single[trials] = True
    for trial in np.flatnonzero(single):
        points = np.column_stack((layout.plan, heights[:, trial]))
        zone = minimum_zone(points)
        widths[trial], slopes[:, trial] = zone.width, -zone.normal[:-1] / zone.normal[-1]
    return widths


def least_row(rows: FloatArray) -> npt.NDArray[np.intp]:
    """Return the row (t,) in which each column of a few rows is least; of equal ones the first."""
    least, at = rows[0].copy(), np.zeros(rows.shape[1], dtype=np.intp)
    for index in range(1, len(rows)):
        less = rows[index] < least
        np.copyto(least, rows[index], where=less)
        np.copyto(at, index, where=less)
    return at


@dataclass(slots=True, eq=False)
class Exchange:
    """Exchanges of t trials side by side; the meaning of each part is that in ``zone_exchange``.

    Attributes
    ----------
    heights : (n, t); members, sides, weights, offsets : (d + 2, t); slack : (t,)
    inverse : (d + 2, d + 2, t)
        Transposed: the first axis runs over the columns of the inverse.
    """

    heights: FloatArray
    members: npt.NDArray[np.intp]
    sides: FloatArray
    inverse: FloatArray
    weights: FloatArray
    offsets: FloatArray
    slack: FloatArray

    @classmethod
    def begin(cls, layout: Layout, heights: FloatArray) -> Exchange:
        """Return all trials at the same first contacts: the corners high, the first of them low as well."""
        trials = heights.shape[1]
        members = np.append(layout.corners, layout.corners[0])
        sides = np.ones(members.size)
        sides[-1] = -1.0
        inverse = np.linalg.inv(contact_equations(layout.plan.T, members, sides))
        weights = inverse @ nudged_target(layout.plan[layout.corners].T, NUDGES[0])
        return cls(
            heights,
            np.repeat(members[:, None], trials, axis=1),
            np.repeat(sides[:, None], trials, axis=1),
            np.repeat(inverse.T[:, :, None], trials, axis=2),
            np.repeat(weights[:, None], trials, axis=1),
            inverse.T @ (sides[:, None] * heights[members]),
            4.0 * np.finfo(float).eps * (heights.max(axis=0) - heights.min(axis=0)),
        )

    def only(self, kept: npt.NDArray[np.intp]) -> Exchange:
        """Return the trials at the indices given; ``take`` keeps every part in C order, which ``step`` relies on."""
        return Exchange(
            self.heights.take(kept, axis=1),
            self.members.take(kept, axis=1),
            self.sides.take(kept, axis=1),
            self.inverse.take(kept, axis=2),
            self.weights.take(kept, axis=1),
            self.offsets.take(kept, axis=1),
            self.slack.take(kept),
        )

    def step(self, layout: Layout, scratch: FloatArray) -> npt.NDArray[np.bool_]:
        """Exchange one contact in every trial and return which trials are still open; closed ones stay as they are.

        ``scratch`` holds at least as many numbers as the heights: memory that is asked for anew costs more than the
        arithmetic.
        """
        d, trials = layout.plan.shape[1], self.slack.size
        each = np.arange(trials)
        rest = scratch[: self.heights.size].reshape(self.heights.shape)
        np.matmul(layout.plan, self.offsets[:d], out=rest)
        np.subtract(self.heights, rest, out=rest)
        high, low = rest.argmax(axis=0), rest.argmin(axis=0)
        above = rest.ravel().take(high * trials + each) - self.offsets[d]
        below = -rest.ravel().take(low * trials + each) - self.offsets[d + 1]
        upward = above >= below
        beyond = np.where(upward, above, below)
        open_: npt.NDArray[np.bool_] = beyond > self.slack
        new, side = np.where(upward, high, low), np.where(upward, 1.0, -1.0)
        share = np.where(upward, self.inverse[d], self.inverse[d + 1])
        for axis in range(d):
            share += self.inverse[axis] * (side * layout.plan[:, axis].take(new))
        ratios = np.where(share > LEAST_PIVOT, self.weights, np.inf)
        ratios /= np.maximum(share, LEAST_PIVOT)
        leave = least_row(ratios)
        at = leave * trials + each
        passed = np.where(open_, ratios.ravel().take(at), 0.0)
        row = self.inverse.reshape(d + 2, -1).take(at, axis=1)
        row *= open_ / share.ravel().take(at)
        self.members.ravel()[at] = np.where(open_, new, self.members.ravel().take(at))
        self.sides.ravel()[at] = np.where(open_, side, self.sides.ravel().take(at))
        self.offsets += beyond * row
        self.weights -= share * passed
        self.weights.ravel()[at] += passed
        share.ravel()[at] -= 1.0
        for axis in range(d + 2):
            self.inverse[axis] -= share * row[axis]
        return open_

    def widths(self, layout: Layout) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]:
        """Return widths and slopes of trials that are all closed, and which of them have to be worked out singly."""
        d, each = layout.plan.shape[1], np.arange(self.slack.size)
        inverse = self.inverse.transpose(1, 0, 2)
        offsets = self.offsets
        # Many exchanges add up rounding: what the contacts miss the zone by is taken out once at the end.
        touch = np.where(self.sides > 0.0, offsets[d], -offsets[d + 1])
        for axis in range(d):
            touch += layout.plan[:, axis].take(self.members) * offsets[axis]
        missed = self.sides * (self.heights[self.members, each] - touch)
        offsets = offsets + np.sum(self.inverse * missed, axis=1)
        slopes, upright = offsets[:d], offsets[d] + offsets[d + 1]
        lean = np.sqrt(np.sum(slopes**2, axis=0))
        weights = inverse[:, d] + inverse[:, d + 1]
        excess = possible_excess(upright, lean, contact_reach(inverse, weights), layout.breadth)
        widths = upright / np.sqrt(1.0 + lean**2)
        negative = weights.min(axis=0) < -WEIGHT_NOISE
        doubtful = np.flatnonzero((excess > TRIAL_DOUBT * widths) & ~negative)
        single = negative
        if doubtful.size:
            parts = inverse.take(doubtful, axis=2), weights.take(doubtful, axis=1), slopes.take(doubtful, axis=1)
            single[doubtful] = ~stays(layout, self.heights.take(doubtful, axis=1), upright[doubtful], *parts)
        return widths, slopes, single


def stays(
    layout: Layout,
    heights: FloatArray,
    upright: FloatArray,
    inverse: FloatArray,
    weights: FloatArray,
    slopes: FloatArray,
) -> npt.NDArray[np.bool_]:
    """Return which trials (t,) have no zone narrower by ``TRIAL_DOUBT``, although one may lean freely to one side.

    The zone has the least vertical width W, so that a narrower one leans more, and its vertical width is at most W + e
    with the lean that the plan allows. Its contacts hold it on all sides but one to within e over their reach. On the
    open side, heights over the zone leant by the step that the doubt allows are looked at: when they take more than
    W + e, no narrower zone lies beyond, because vertical width is a convex function of the slopes.
    """
    lean = np.sqrt(np.sum(slopes**2, axis=0))
    steepest = steepest_lean(upright, lean, layout.breadth)
    spare = upright * (np.sqrt((1.0 + steepest**2) / (1.0 + lean**2)) - 1.0)
    toward, back, across = open_side(inverse, weights)
    aside = spare / across
    step = np.sqrt(lean**2 + 2.0 * SAFE * TRIAL_DOUBT) - lean
    leant = heights - layout.plan @ (slopes + step * toward)
    extent = leant.max(axis=0) - leant.min(axis=0)
    farthest = 2.0 * float(np.sqrt(np.sum(layout.plan**2, axis=1).max()))
    stopped = extent - farthest * aside > upright + spare
    reached = lean + np.hypot(np.maximum(step, spare / back), aside)
    width = upright / np.sqrt(1.0 + lean**2)
    return np.asarray(stopped & (excess_by_lean(upright, lean, reached) <= TRIAL_DOUBT * width))
