"""Consistency: whether readings that should agree do, and which one stands out if not.

Nothing is dropped: a reading that stands out is named, with the size that its error would have.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincc

from ..vectors import Floats
from .elimination import Elimination
from .network import Network

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

    @property
    def probability(self) -> float:
        """Share of sound surveys whose chi-square is as large; 1 where nothing is controlled."""
        return float(gammaincc(0.5 * self.redundancy, 0.5 * self.chi_square)) if self.redundancy else 1.0


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
    system : Elimination
        The adjustment by the stated covariance alone.
    push : (o,) float
        Weighted residuals.
    redundancy : int
    chi_square : float
    """

    system: Elimination
    push: Floats
    redundancy: int
    chi_square: float

    @property
    def weight(self) -> Floats:
        """Inverse ``(o, o)`` of the covariance of the observations, written out."""
        blocks, eye = self.system.blocks, np.eye(len(self.push))
        return blocks.unwhite(blocks.weighted(blocks.white(eye)).T)

    @property
    def share(self) -> Floats:
        """Part ``(o, o)`` of the weight that shows in the residuals, written out."""
        return self.shown(np.eye(len(self.push))).T

    def shown(self, columns: Floats) -> Floats:
        """What errors ``(o, q)`` show in the weighted residuals ``(o, q)``."""
        blocks = self.system.blocks
        return blocks.unwhite(self.system.left(blocks.white(columns)).T).T

    def explained(self, columns: Floats) -> Explained | None:
        """What errors of the shape ``columns`` (o, q) would explain; None where no residual would show them.

        Source: C. R. Rao's score test, here exact since the model is linear near its solution.
        """
        white = self.system.blocks.white(columns)
        inner = white.T @ self.system.left(white)
        whole = np.einsum("oq,oq->q", white, self.system.blocks.weighted(white))
        seen = np.divide(np.diag(inner), whole, out=np.zeros(len(whole)), where=whole > 0.0)
        scale = np.sqrt(np.where(np.diag(inner) > 0.0, np.diag(inner), 1.0))
        unit = inner / np.outer(scale, scale)
        if np.any(seen <= CONTROLLED) or np.linalg.matrix_rank(unit, tol=CONTROLLED) < len(unit):
            return None
        covariance = np.linalg.inv(unit) / np.outer(scale, scale)
        told = columns.T @ self.push
        size = covariance @ told
        return Explained(size, covariance, float(told @ size), seen)


def control_of(network: Network) -> Control | None:
    """How the observations of a network control each other; None where none is controlled."""
    system = network.control
    if network.redundancy <= 0 or not system.blocks.complete or not network.effects:
        return None
    white = system.blocks.white(network.residual[:, None])
    left = system.left(white)
    return Control(system, system.blocks.unwhite(left.T)[0], network.redundancy, float(np.sum(white * left)))


def consistency_of(network: Network) -> Consistency:
    """Test of every reading against all others, by the error that it would have to hold alone.

    Source: W. Baarda, A testing procedure for use in geodetic networks (1968), for correlated readings.
    """
    control = control_of(network)
    if control is None:
        return Consistency(max(0, network.redundancy), 0.0, 0.0, ())
    return Consistency(control.redundancy, control.chi_square, *_named(control))


def _named(control: Control) -> tuple[float, tuple[Outlier, ...]]:
    """Largest normalised residual, and the readings that stand out one after the other."""
    largest, outliers = 0.0, []
    push, share = control.push, control.system.seen_alone()
    weight = control.system.blocks.weights_alone()
    taken: list[tuple[Floats, float]] = []
    for _ in range(MOST_NAMED):
        held = share > CONTROLLED * weight
        test = np.where(held, push / np.sqrt(np.where(held, share, 1.0)), 0.0)
        row = int(np.argmax(np.abs(test)))
        largest = max(largest, float(abs(test[row])))
        if abs(test[row]) <= UNLIKELY:
            break
        one = np.zeros((len(push), 1))
        one[row] = 1.0
        column = control.shown(one)[:, 0]
        for before, size in taken:
            column = column - before * (before[row] / size)
        own = float(column[row])
        error = float(push[row] / own)
        outliers.append(Outlier(row, error, float(1.0 / np.sqrt(own)), float(abs(test[row]))))
        push = push - column * error
        share = share - column**2 / own
        taken.append((column, own))
    return largest, tuple(outliers)
