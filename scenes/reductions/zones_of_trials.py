"""Minimum zones of many trials over one fixed layout: the exchange of ``zone_exchange`` on all trials side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scenes.reductions.minimum_zone import minimum_zone
from scenes.reductions.spans import FloatArray
from scenes.reductions.zone_exchange import LEAST_PIVOT, NUDGES, WEIGHT_NOISE, contact_equations, nudged_target
from scenes.reductions.zone_proof import contact_reach, possible_excess

__all__ = ["TRIAL_DOUBT", "Layout", "extent", "minimum_zone_of_block"]

TRIAL_DOUBT = 1e-6
"""Share of its width by which a trial's zone may at most exceed the narrowest one before it is worked out singly.

It comes into play only where a contact has no weight at all (a low station midway between two high ones) and the zone
is thicker than about 1/1500 of the plan; all other trials are exact.
"""

EXCHANGES = 400


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


def extent(rest: FloatArray, slopes: FloatArray) -> FloatArray:
    """Return the orthogonal distance (t,) from highest to lowest of rests (n, t) over planes of slopes (d, t)."""
    return np.asarray((rest.max(axis=0) - rest.min(axis=0)) / np.sqrt(1.0 + np.sum(slopes**2, axis=0)))


def minimum_zone_of_block(layout: Layout, heights: FloatArray) -> FloatArray:
    """Return the orthogonal widths (t,) of the narrowest zones of heights (n, t)."""
    widths = np.empty(heights.shape[1])
    single = np.zeros(widths.size, dtype=bool)
    trials = np.arange(widths.size)
    state = Exchange.begin(layout, heights)
    for _ in range(EXCHANGES):
        open_ = state.step(layout)
        if np.count_nonzero(open_) > 0.75 * open_.size:
            continue
        closed = ~open_
        widths[trials[closed]], single[trials[closed]] = state.finish(layout, closed)
        trials = trials[open_]
        if trials.size == 0:
            break
        state = state.only(open_)
    single[trials] = True
    for trial in np.flatnonzero(single):
        points = np.column_stack((layout.plan, heights[:, trial]))
        deviations = minimum_zone(points).deviations
        widths[trial] = deviations.max() - deviations.min()
    return widths


@dataclass(slots=True, eq=False)
class Exchange:
    """Exchanges of t trials side by side; the meaning of each part is that in ``zone_exchange``.

    Attributes
    ----------
    heights : (n, t); members, sides, weights, offsets : (d + 2, t); inverse : (d + 2, d + 2, t); slack : (t,)
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
        inverse = np.linalg.inv(contact_equations(layout.plan, members, sides))
        weights = inverse @ nudged_target(layout.plan[layout.corners], NUDGES[0])
        return cls(
            heights,
            np.repeat(members[:, None], trials, axis=1),
            np.repeat(sides[:, None], trials, axis=1),
            np.repeat(inverse[:, :, None], trials, axis=2),
            np.repeat(weights[:, None], trials, axis=1),
            inverse.T @ (sides[:, None] * heights[members]),
            4.0 * np.finfo(float).eps * (heights.max(axis=0) - heights.min(axis=0)),
        )

    def only(self, kept: npt.NDArray[np.bool_]) -> Exchange:
        """Return the trials marked."""
        return Exchange(
            self.heights[:, kept],
            self.members[:, kept],
            self.sides[:, kept],
            self.inverse[:, :, kept],
            self.weights[:, kept],
            self.offsets[:, kept],
            self.slack[kept],
        )

    def step(self, layout: Layout) -> npt.NDArray[np.bool_]:
        """Exchange one contact in every trial and return which trials are still open; closed ones stay as they are."""
        d = layout.plan.shape[1]
        each = np.arange(self.slack.size)
        rest = self.heights - layout.plan @ self.offsets[:d]
        high, low = rest.argmax(axis=0), rest.argmin(axis=0)
        above, below = rest[high, each] - self.offsets[d], -rest[low, each] - self.offsets[d + 1]
        upward = above >= below
        beyond = np.where(upward, above, below)
        open_: npt.NDArray[np.bool_] = beyond > self.slack
        new, side = np.where(upward, high, low), np.where(upward, 1.0, -1.0)
        share = self.inverse[:, d] * upward + self.inverse[:, d + 1] * ~upward
        for axis in range(d):
            share += self.inverse[:, axis] * (side * layout.plan[new, axis])
        usable = share > LEAST_PIVOT
        ratios = np.where(usable, self.weights, np.inf) / np.where(usable, share, 1.0)
        leave = ratios.argmin(axis=0)
        passed = np.where(open_, ratios[leave, each], 0.0)
        row = self.inverse[leave, :, each].T * (open_ / share[leave, each])
        self.members[leave, each] = np.where(open_, new, self.members[leave, each])
        self.sides[leave, each] = np.where(open_, side, self.sides[leave, each])
        self.offsets += beyond * row
        self.weights -= share * passed
        self.weights[leave, each] += passed
        share[leave, each] -= 1.0
        self.inverse -= share[:, None, :] * row
        return open_

    def finish(self, layout: Layout, closed: npt.NDArray[np.bool_]) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
        """Return widths of the closed trials, and which of them have to be worked out singly."""
        d = layout.plan.shape[1]
        heights, inverse = self.heights[:, closed], self.inverse[:, :, closed]
        slopes = self.offsets[:d, closed]
        rest = heights - layout.plan @ slopes
        widths = extent(rest, slopes)
        lean = np.sqrt(np.sum(slopes**2, axis=0))
        weights = inverse[:, d] + inverse[:, d + 1]
        excess = possible_excess(widths * np.hypot(1.0, lean), lean, contact_reach(inverse, weights), layout.breadth)
        single = (weights.min(axis=0) < -WEIGHT_NOISE) | (excess > TRIAL_DOUBT * widths)
        return widths, single
