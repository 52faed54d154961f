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

__all__ = ["NONE", "LocalForm", "Measure", "PlaneForm", "ProfileForm", "Stand", "centred"]


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

    @property
    def leverage(self) -> Floats:
        """Share ``(k,)`` of every entry in the reference at its own place; they add up to the parameters of that."""
        result: Floats = 1.0 - np.diag(self.gain)
        return result


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
"""No entry."""


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


def centred(places: Floats) -> Floats:
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
        return centred(self.positions.reshape(k, 1))

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
        return centred(self.places.reshape(k, 2))

    def at(self, z: Floats) -> Stand:
        """Flatness, orthogonal to the reference."""
        result = flatness(np.column_stack([self.places, z]), self.reference, datum=self.datum)
        return _of_form(result, self.unseen(len(z)))

    def of_trials(self, z: Floats) -> Floats:
        """Flatness of every column."""
        return flatness_of_trials(self.places, z, self.reference, datum=self.datum)


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
        return centred(self.positions.reshape(k, 1))

    def _each(self, piece: Flags) -> ProfileForm:
        return ProfileForm(self.positions[piece], self.reference)

    def worst(self, z: Floats) -> tuple[Flags, Stand]:
        """The worst piece ``(k,)`` of deviations ``(k,)``, and how its own stations stand."""
        stands = [self._each(piece).at(z[piece]) for piece in self.pieces]
        worst = int(np.argmax([stand.value for stand in stands]))
        return self.pieces[worst], stands[worst]

    def at(self, z: Floats) -> Stand:
        """Straightness of the worst piece; deviations are those of the whole from its least-squares line."""
        piece, stand = self.worst(z)
        index = np.nonzero(piece)[0]
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
