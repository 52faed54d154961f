"""Consistency: whether readings that should agree do, and which one stands out if not.

Nothing is dropped: a reading that stands out is named, with the size that its error would have.
"""

from __future__ import annotations

from collections.abc import Sized
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ..uncertainty.propagate import Effect, reading_covariance
from ..vectors import Floats

__all__ = ["UNLIKELY", "Consistency", "Control", "Explained", "Outlier", "consistency_of", "control_of"]

UNLIKELY = 3.290526731491895
"""Normalised residuals beyond this are named; one reading in a thousand goes beyond it by chance."""

MOST_NAMED = 5
CONTROLLED = 1e-6
"""Readings whose error would show in the residuals by less than this share are not controlled by any other."""


@dataclass(frozen=True, slots=True)
class Outlier:
    """A reading that does not agree with the others.

    Attributes
    ----------
    row : int
    error, standard_uncertainty : float
        By how much it is off if all others are right, metres.
    normalised : float
        The test value: that error in standard uncertainties.
    """

    row: int
    error: float
    standard_uncertainty: float
    normalised: float


@dataclass(frozen=True, slots=True)
class Consistency:
    """How well the readings of an adjustment agree.

    Attributes
    ----------
    redundancy : int
        Readings beyond those that the unknowns need; 0: nothing is controlled.
    chi_square : float
        Weighted sum of squared residuals; about ``redundancy`` where all is well.
    largest : float
        Largest normalised residual.
    outliers : tuple of Outlier
        Readings that stand out, each found with those before it set aside.
    """

    redundancy: int
    chi_square: float
    largest: float
    outliers: tuple[Outlier, ...]


class Residuals(Protocol):
    """What is left of m readings after an adjustment or a network."""

    @property
    def residual(self) -> Floats:
        """Reading less model ``(m,)``."""

    @property
    def residual_gain(self) -> Floats:
        """Its change ``(m, m)`` with the readings."""

    @property
    def redundancy(self) -> int:
        """Readings beyond those that the unknowns need."""


@dataclass(frozen=True, slots=True, eq=False)
class Explained:
    """What adding q further unknowns to an adjustment would do.

    Attributes
    ----------
    size : (q,) float
        Their best values, in the unit of which one made the column.
    covariance : (q, q) float
        Of those values, from the errors of the readings alone.
    drop : float
        By how much chi-square falls; where nothing is wrong it is drawn from a chi-square distribution of ``q``
        degrees of freedom.
    seen : (q,) float
        Share of each column, 0 to 1, that the unknowns of the adjustment do not take up by themselves.
    """

    size: Floats
    covariance: Floats
    drop: float
    seen: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Control:
    """What o observations say about each other.

    Attributes
    ----------
    weight : (o, o) float
        Inverse of the covariance of the observations.
    push : (o,) float
        Weighted residuals.
    share : (o, o) float
        Part of the weight that shows in the residuals.
    redundancy : int
    chi_square : float
    """

    weight: Floats
    push: Floats
    share: Floats
    redundancy: int
    chi_square: float

    def explained(self, columns: Floats) -> Explained | None:
        """What errors of the shape ``columns`` (o, q) would explain; None where no residual would show them.

        Source: C. R. Rao's score test, here exact since the model is linear near its solution.
        """
        inner = columns.T @ self.share @ columns
        whole = np.einsum("oq,op,pq->q", columns, self.weight, columns)
        seen = np.divide(np.diag(inner), whole, out=np.zeros(len(whole)), where=whole > 0.0)
        scale = np.sqrt(np.where(np.diag(inner) > 0.0, np.diag(inner), 1.0))
        unit = inner / np.outer(scale, scale)
        if np.any(seen <= CONTROLLED) or np.linalg.matrix_rank(unit, tol=CONTROLLED) < len(unit):
            return None
        covariance = np.linalg.inv(unit) / np.outer(scale, scale)
        told = columns.T @ self.push
        size = covariance @ told
        return Explained(size, covariance, float(told @ size), seen)


def control_of(adjustment: Residuals, effects: tuple[Effect, ...], m: int) -> Control | None:
    """How the observations of an adjustment control each other; None where none is controlled.

    Parameters
    ----------
    adjustment : Adjustment or Network
    effects : tuple of Effect
        Of the sources on the m observations; those of fitted cones left out.
    """
    alone = sum((effect.size**2 for effect in effects if effect.apart), np.zeros(m))
    if adjustment.redundancy <= 0 or not np.all(alone > 0.0):
        return None
    weight = np.asarray(np.linalg.inv(reading_covariance(effects, m)), dtype=np.float64)
    push = weight @ adjustment.residual
    shown: Floats = weight @ adjustment.residual_gain
    return Control(weight, push, 0.5 * (shown + shown.T), adjustment.redundancy, float(adjustment.residual @ push))


def consistency_of(adjustment: Residuals, effects: tuple[Effect, ...], rows: Sized) -> Consistency:
    """Test of every reading against all others, by the error that it would have to hold alone.

    Parameters
    ----------
    adjustment : Adjustment or Network
    rows : Sized
        The m readings.
    effects : tuple of Effect
        Of the sources on the readings; those of fitted cones left out.

    Source: W. Baarda, A testing procedure for use in geodetic networks (1968), for correlated readings.
    """
    control = control_of(adjustment, effects, len(rows))
    if control is None:
        return Consistency(max(0, adjustment.redundancy), 0.0, 0.0, ())
    return Consistency(control.redundancy, control.chi_square, *_named(control.push, control.share, control.weight))


def _named(push: Floats, share: Floats, weight: Floats) -> tuple[float, tuple[Outlier, ...]]:
    """Largest normalised residual, and the readings that stand out one after the other."""
    largest, outliers = 0.0, []
    for _ in range(MOST_NAMED):
        held = np.diag(share) > CONTROLLED * np.diag(weight)
        test = np.where(held, push / np.sqrt(np.where(held, np.diag(share), 1.0)), 0.0)
        row = int(np.argmax(np.abs(test)))
        largest = max(largest, float(abs(test[row])))
        if abs(test[row]) <= UNLIKELY:
            break
        error = float(push[row] / share[row, row])
        outliers.append(Outlier(row, error, float(1.0 / np.sqrt(share[row, row])), float(abs(test[row]))))
        push = push - share[:, row] * error
        share = share - np.outer(share[:, row], share[row]) / share[row, row]
    return largest, tuple(outliers)
