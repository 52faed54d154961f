"""Measures of deviations from a datum, and of an axis in space: range, largest offset, cylinder."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...vectors import Floats
from ..form import Reference
from .cylinder import smallest_cylinders
from .measures import NONE, Stand, centred

__all__ = ["CylinderForm", "LargestOffset", "Range"]

TRIAL_GAP = 1e-4
"""Squares of radii in trials may be too large by this share: far below what the scatter of trials tells."""

CONTACT = 1e-5
"""Points with a smaller weight do not hold a cylinder."""


@dataclass(frozen=True, slots=True, eq=False)
class Range:
    """Difference of the highest and the lowest of deviations from a datum that stands by itself."""

    quick: bool = True
    steady: bool = False

    def unseen(self, k: int) -> Floats:
        """An offset."""
        return np.ones((k, 1))

    def at(self, z: Floats) -> Stand:
        """Range; deviations count from the middle."""
        high, low = int(np.argmax(z)), int(np.argmin(z))
        gradient, middle = np.zeros(len(z)), np.zeros(len(z))
        gradient[high] += 1.0
        gradient[low] -= 1.0
        middle[[high, low]] += 0.5
        deviations = z - 0.5 * (z[high] + z[low])
        return Stand(
            float(z[high] - z[low]), deviations, np.eye(len(z)) - middle[None, :], gradient,
            np.array([high]), np.array([low]), NONE,
        )  # fmt: skip

    def of_trials(self, z: Floats) -> Floats:
        """Range of every column."""
        result: Floats = z.max(axis=0) - z.min(axis=0)
        return result


@dataclass(frozen=True, slots=True, eq=False)
class LargestOffset:
    """Largest distance of points from a datum, times ``factor`` (2: the diameter of a zone about it).

    Deviations are those of each point in ``parts`` directions, point by point.
    """

    parts: int
    factor: float
    quick: bool = True
    steady: bool = True

    def unseen(self, k: int) -> Floats:
        """Nothing: the datum stands by itself."""
        return np.zeros((k, 0))

    def at(self, z: Floats) -> Stand:
        """Largest distance."""
        rows = z.reshape(-1, self.parts)
        distance = np.sqrt(np.sum(rows**2, axis=1))
        worst = int(np.argmax(distance))
        gradient = np.zeros_like(rows)
        gradient[worst] = self.factor * (rows[worst] / distance[worst] if distance[worst] > 0.0 else 1.0 / self.parts)
        high = np.arange(worst * self.parts, (worst + 1) * self.parts)
        return Stand(self.factor * float(distance[worst]), z, np.eye(len(z)), gradient.ravel(), high, NONE, NONE)

    def of_trials(self, z: Floats) -> Floats:
        """Largest distance of every column."""
        rows = z.reshape(-1, self.parts, z.shape[1])
        result: Floats = self.factor * np.sqrt(np.sum(rows**2, axis=1)).max(axis=0)
        return result


@dataclass(frozen=True, slots=True, eq=False)
class CylinderForm:
    """Diameter of the cylinder about an axis read at ``positions`` (n,) in two directions, point by point.

    The cylinder is the smallest one of all, or the smallest about the least-squares axis or about the line through both
    ends. ``factor`` times its radius is the value: 1 for the largest distance from the axis.
    """

    positions: Floats
    reference: Reference
    factor: float = 2.0
    quick: bool = False

    @property
    def steady(self) -> bool:
        """Only a minimum zone follows the shape."""
        return not self._smallest

    @property
    def _smallest(self) -> bool:
        return self.reference in (Reference.MINIMUM_ZONE, Reference.MINIMUM_CYLINDER)

    def unseen(self, k: int) -> Floats:
        """An offset and a slope in each direction."""
        return np.kron(centred(self.positions.reshape(k // 2, 1)), np.eye(2)).astype(np.float64)

    def _fitted(self) -> Floats:
        """Change ``(n, n)`` of what stays of one direction with its deviations."""
        design = centred(self.positions.reshape(-1, 1))
        fit = np.zeros((2, len(design)))
        if self.reference is Reference.END_POINTS:
            ends = [int(np.argmin(self.positions)), int(np.argmax(self.positions))]
            fit[:, ends] = np.linalg.inv(design[ends])
        else:
            fit[:] = np.linalg.pinv(design)
        gain: Floats = np.eye(len(design)) - design @ fit
        return gain

    def at(self, z: Floats) -> Stand:
        """Diameter of the cylinder."""
        rows = z.reshape(-1, 2)
        if not self._smallest:
            gain: Floats = np.kron(self._fitted(), np.eye(2)).astype(np.float64)
            held = LargestOffset(2, self.factor).at(gain @ z)
            return Stand(held.value, held.deviations, gain, held.gradient @ gain, held.high, NONE, NONE)
        found = smallest_cylinders(self.positions, rows[None])
        off, radius, weights = found.off[0], float(found.radius[0]), found.weights[0]
        if radius == 0.0:
            return Stand(0.0, off.ravel(), np.eye(len(z)), np.zeros(len(z)), NONE, NONE, NONE)
        design = np.kron(np.column_stack([np.ones(len(rows)), self.positions]), np.eye(2))
        axis = found.axis_gain(self.positions)
        # A shift or tilt of all points takes the axis along; solving for it takes out what the softened contacts left.
        gain = np.eye(len(z)) - design @ np.linalg.solve(axis @ design, axis)
        held_by = np.nonzero(weights > CONTACT)[0]
        gradient = self.factor * weights[:, None] * off / radius
        high = (2 * held_by[:, None] + np.arange(2)).ravel()
        return Stand(self.factor * radius, off.ravel(), gain, gradient.ravel(), high, NONE, NONE)

    def of_trials(self, z: Floats) -> Floats:
        """Diameter for every column."""
        if not self._smallest:
            gain = self._fitted()
            rest = np.einsum("ij,jct->ict", gain, z.reshape(len(gain), 2, -1))
            return LargestOffset(2, self.factor).of_trials(rest.reshape(z.shape))
        sets = np.moveaxis(z.reshape(-1, 2, z.shape[1]), 2, 0)
        result: Floats = self.factor * smallest_cylinders(self.positions, sets, TRIAL_GAP).radius
        return result
