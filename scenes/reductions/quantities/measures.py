"""Measures: the one number that is made of many deviations, such as their range or the cylinder about them.

A measure takes z, k deviations of stations, one column per trial, and gives a value per column. What it does not see,
such as the slope of a profile, is named by ``unseen``, so that nothing else has to be known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ...vectors import Flags, Floats, Indices
from ..form import FormResult, Reference, flatness, flatness_of_trials, straightness, straightness_of_trials
from .cylinder import smallest_cylinders

__all__ = ["CylinderForm", "LargestOffset", "LocalForm", "Measure", "PlaneForm", "ProfileForm", "Range", "Stand"]

TRIAL_GAP = 1e-4
"""Squares of radii in trials may be too large by this share: far below what the scatter of trials tells."""


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """A value with what it rests on; k deviations.

    Attributes
    ----------
    value : float
    deviations : (k,) float
        From the reference that the measure finds.
    gain : (k, k) float
        Their change with the deviations put in.
    gradient : (k,) float
        Change of the value.
    high, low, datum : (.,) int
        Entries that hold the value, and those that the reference goes through.
    """

    value: float
    deviations: Floats
    gain: Floats
    gradient: Floats
    high: Indices
    low: Indices
    datum: Indices


class Measure(Protocol):
    """One number from many deviations."""

    @property
    def quick(self) -> bool:
        """Whether ten thousand trials take no more than a moment."""

    @property
    def steady(self) -> bool:
        """Whether deviations change with those put in by the same gain, whatever the shape."""

    def unseen(self, k: int) -> Floats:
        """Shapes ``(k, r)`` that the value does not depend on."""

    def at(self, z: Floats) -> Stand:
        """Value of deviations ``(k,)`` with what it rests on."""

    def of_trials(self, z: Floats) -> Floats:
        """Values ``(t,)`` of deviations ``(k, t)``."""


NONE = np.zeros(0, dtype=np.int64)


def _through(design: Floats, result: FormResult) -> Floats:
    """Change ``(k, k)`` of the deviations from a fitted line or plane with the heights.

    That of a minimum zone follows its contacts: its coefficients and half the width make their heights.
    """
    k, width = design.shape
    fit = np.zeros((width, k))
    if result.reference is Reference.LEAST_SQUARES:
        fit[:] = np.linalg.pinv(design)
    elif result.reference is Reference.MINIMUM_ZONE:
        contacts = np.concatenate([result.high, result.low])
        side = np.concatenate([np.ones(len(result.high)), -np.ones(len(result.low))])
        fit[:, contacts] = np.linalg.pinv(np.column_stack([design[contacts], side]))[:width]
    else:
        fit[:, result.datum] = np.linalg.pinv(design[result.datum])
    gain: Floats = np.eye(k) - design @ fit
    return gain


def _of_form(result: FormResult, design: Floats) -> Stand:
    return Stand(
        result.value, np.array(result.deviations), _through(design, result), np.array(result.gradient),
        np.asarray(result.high, dtype=np.int64), np.asarray(result.low, dtype=np.int64),
        np.asarray(result.datum, dtype=np.int64),
    )  # fmt: skip


def _centred(places: Floats) -> Floats:
    """Design ``(k, 1 + d)`` of places ``(k, d)``: one, and the places about their middle in units of their size."""
    off = places - places.mean(axis=0)
    return np.column_stack([np.ones(len(places)), off / (np.abs(off).max() or 1.0)])


@dataclass(frozen=True, slots=True, eq=False)
class ProfileForm:
    """Straightness of a profile at ``positions`` (k,) [m]."""

    positions: Floats
    reference: Reference
    quick: bool = True

    @property
    def steady(self) -> bool:
        """Only a minimum zone follows the shape."""
        return self.reference is not Reference.MINIMUM_ZONE

    def unseen(self, k: int) -> Floats:
        """An offset and a slope."""
        return _centred(self.positions.reshape(k, 1))

    def at(self, z: Floats) -> Stand:
        """Straightness, orthogonal to the reference."""
        result = straightness(np.column_stack([self.positions, z]), self.reference)
        return _of_form(result, self.unseen(len(z)))

    def of_trials(self, z: Floats) -> Floats:
        """Straightness of every column."""
        return straightness_of_trials(self.positions, z, self.reference)


@dataclass(frozen=True, slots=True, eq=False)
class PlaneForm:
    """Flatness of a surface at ``places`` (k, 2) [m]; ``datum`` carries a three-point reference."""

    places: Floats
    reference: Reference
    datum: Indices | None = None
    quick: bool = True

    @property
    def steady(self) -> bool:
        """Only a minimum zone follows the shape."""
        return self.reference is not Reference.MINIMUM_ZONE

    def unseen(self, k: int) -> Floats:
        """An offset and two slopes."""
        return _centred(self.places.reshape(k, 2))

    def at(self, z: Floats) -> Stand:
        """Flatness, orthogonal to the reference."""
        result = flatness(np.column_stack([self.places, z]), self.reference, datum=self.datum)
        return _of_form(result, self.unseen(len(z)))

    def of_trials(self, z: Floats) -> Floats:
        """Flatness of every column."""
        return flatness_of_trials(self.places, z, self.reference, datum=self.datum)


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
    ends.
    """

    positions: Floats
    reference: Reference
    quick: bool = False

    @property
    def steady(self) -> bool:
        """Only a minimum zone follows the shape."""
        return self.reference is not Reference.MINIMUM_ZONE

    @property
    def _smallest(self) -> bool:
        return self.reference is Reference.MINIMUM_ZONE

    def unseen(self, k: int) -> Floats:
        """An offset and a slope in each direction."""
        return np.kron(_centred(self.positions.reshape(k // 2, 1)), np.eye(2)).astype(np.float64)

    def _fitted(self) -> Floats:
        """Change ``(n, n)`` of what stays of one direction with its deviations."""
        design = _centred(self.positions.reshape(-1, 1))
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
            held = LargestOffset(2, 2.0).at(gain @ z)
            return Stand(held.value, held.deviations, gain, held.gradient @ gain, held.high, NONE, NONE)
        found = smallest_cylinders(self.positions, rows[None])
        off, radius, weights = found.off[0], float(found.radius[0]), found.weights[0]
        if radius == 0.0:
            return Stand(0.0, off.ravel(), np.eye(len(z)), np.zeros(len(z)), NONE, NONE, NONE)
        design = np.kron(np.column_stack([np.ones(len(rows)), self.positions]), np.eye(2))
        gain = np.eye(len(z)) - design @ found.axis_gain(self.positions)
        held_by = np.nonzero(weights > CONTACT)[0]
        gradient = 2.0 * weights[:, None] * off / radius
        high = (2 * held_by[:, None] + np.arange(2)).ravel()
        return Stand(2.0 * radius, off.ravel(), gain, gradient.ravel(), high, NONE, NONE)

    def of_trials(self, z: Floats) -> Floats:
        """Diameter for every column."""
        if not self._smallest:
            gain = self._fitted()
            rest = np.einsum("ij,jct->ict", gain, z.reshape(len(gain), 2, -1))
            return LargestOffset(2, 2.0).of_trials(rest.reshape(z.shape))
        sets = np.moveaxis(z.reshape(-1, 2, z.shape[1]), 2, 0)
        result: Floats = 2.0 * smallest_cylinders(self.positions, sets, TRIAL_GAP).radius
        return result


CONTACT = 1e-5
"""Points with a smaller weight do not hold a cylinder."""


@dataclass(frozen=True, slots=True, eq=False)
class LocalForm:
    """Largest straightness of the pieces of a profile that ``pieces`` (w, k) mark."""

    positions: Floats
    reference: Reference
    pieces: Flags
    quick: bool = False
    steady: bool = True

    def unseen(self, k: int) -> Floats:
        """An offset and a slope."""
        return _centred(self.positions.reshape(k, 1))

    def _each(self, piece: Flags) -> ProfileForm:
        return ProfileForm(self.positions[piece], self.reference)

    def at(self, z: Floats) -> Stand:
        """Straightness of the worst piece; deviations are those of the whole from its least-squares line."""
        stands = [self._each(piece).at(z[piece]) for piece in self.pieces]
        worst = int(np.argmax([stand.value for stand in stands]))
        index, stand = np.nonzero(self.pieces[worst])[0], stands[worst]
        gradient = np.zeros(len(z))
        gradient[index] = stand.gradient
        whole = ProfileForm(self.positions, Reference.LEAST_SQUARES).at(z)
        return Stand(
            stand.value, whole.deviations, whole.gain, gradient, index[stand.high], index[stand.low], index[stand.datum]
        )

    def of_trials(self, z: Floats) -> Floats:
        """Straightness of the worst piece of every column."""
        result: Floats = np.max([self._each(piece).of_trials(z[piece]) for piece in self.pieces], axis=0)
        return result
