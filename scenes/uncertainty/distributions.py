"""Distributions of errors: draws in standard uncertainties, and what limits and degrees of freedom make of them.

Source: JCGM 100:2008 (GUM), clauses 4.3 and G.4.2; JCGM 101:2008, clause 6.4. Both clauses quoted from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from ..vectors import Floats

__all__ = ["ARCSINE", "NORMAL", "RECTANGULAR", "TRIANGULAR", "Distribution", "Shape", "dof_of_doubt",
           "inexact_limits", "student", "trapezoidal"]  # fmt: skip


class Shape(StrEnum):
    """Shape of a density."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    TRAPEZOIDAL = "trapezoidal"
    INEXACT_LIMITS = "inexact limits"
    ARCSINE = "arcsine"
    STUDENT = "Student t"


@dataclass(frozen=True, slots=True)
class Distribution:
    """Distribution of an error about zero, in units of its standard uncertainty.

    Attributes
    ----------
    shape : Shape
    parameter : float
        Trapezoidal: top over base; inexact limits: how far the limits may be off over the half-width between them;
        Student t: degrees of freedom. No meaning for the others.
    """

    shape: Shape
    parameter: float = 0.0

    @property
    def dof(self) -> float:
        """Degrees of freedom that the standard uncertainty was estimated with: those of a Student t, else infinite."""
        return self.parameter if self.shape is Shape.STUDENT else float("inf")

    @property
    def deviation(self) -> float:
        """Standard deviation of the draws: 1, and more for Student t, infinite up to 2 degrees of freedom.

        A standard uncertainty from nu + 1 observations is the scale of a Student t, whose standard deviation is larger
        by sqrt(nu / (nu - 2)): JCGM 101:2008, 6.4.9.
        """
        if self.shape is not Shape.STUDENT:
            return 1.0
        return float(np.sqrt(self.parameter / (self.parameter - 2.0))) if self.parameter > 2.0 else float("inf")

    @property
    def half_width(self) -> float:
        """Half-width between the (stated) limits in standard uncertainties; infinite where there are no limits.

        An error known by its limits alone has the standard uncertainty half-width / ``half_width``.
        """
        match self.shape:
            case Shape.RECTANGULAR:
                squared = 3.0
            case Shape.TRIANGULAR:
                squared = 6.0
            case Shape.TRAPEZOIDAL:
                squared = 6.0 / (1.0 + self.parameter**2)
            case Shape.INEXACT_LIMITS:
                squared = 9.0 / (3.0 + self.parameter**2)
            case Shape.ARCSINE:
                squared = 2.0
            case _:
                squared = np.inf
        return float(np.sqrt(squared))

    @property
    def fourth_moment(self) -> float:
        """Mean fourth power of the error in standard uncertainties: 3 for a normal distribution.

        A Student t counts as normal here, as it does wherever degrees of freedom are carried beside the uncertainty.
        """
        part = self.parameter
        match self.shape:
            case Shape.RECTANGULAR:
                return 1.8
            case Shape.TRIANGULAR:
                return 2.4
            case Shape.TRAPEZOIDAL:
                return 2.4 * (1.0 + part**2 + part**4) / (1.0 + part**2) ** 2
            case Shape.INEXACT_LIMITS:
                return 81.0 * (0.2 + 0.4 * part**2 + 0.04 * part**4) / (3.0 + part**2) ** 2
            case Shape.ARCSINE:
                return 1.5
        return 3.0

    def draw(self, rng: np.random.Generator, shape: tuple[int, int]) -> Floats:
        """Draws ``shape`` = (trials, groups) in standard uncertainties, independent.

        One estimate of the standard uncertainty serves all groups of a Student t: within a trial they are off in size
        together, each of them has the stated t distribution, and trials are independent.
        """
        drawn: Floats
        match self.shape:
            case Shape.NORMAL:
                return rng.standard_normal(shape)
            case Shape.STUDENT:
                estimated = np.sqrt(rng.chisquare(self.parameter, (shape[0], 1)) / self.parameter)
                drawn = rng.standard_normal(shape) / estimated
                return drawn
            case Shape.RECTANGULAR:
                drawn = rng.uniform(-1.0, 1.0, shape)
            case Shape.TRIANGULAR:
                drawn = rng.random(shape) - rng.random(shape)
            case Shape.TRAPEZOIDAL:
                wide, narrow = 0.5 * (1.0 + self.parameter), 0.5 * (1.0 - self.parameter)
                drawn = wide * rng.uniform(-1.0, 1.0, shape) + narrow * rng.uniform(-1.0, 1.0, shape)
            case Shape.INEXACT_LIMITS:
                drawn = (1.0 + self.parameter * rng.uniform(-1.0, 1.0, shape)) * rng.uniform(-1.0, 1.0, shape)
            case Shape.ARCSINE:
                drawn = np.sin(rng.uniform(-np.pi, np.pi, shape))
        drawn *= self.half_width
        return drawn


NORMAL = Distribution(Shape.NORMAL)
RECTANGULAR = Distribution(Shape.RECTANGULAR)
TRIANGULAR = Distribution(Shape.TRIANGULAR)
ARCSINE = Distribution(Shape.ARCSINE)
"""U-shaped: the error of something that swings as a sine and is met at any time."""


def trapezoidal(top: float) -> Distribution:
    """Trapezoid whose top is ``top`` times its base: 0 is a triangle, 1 a rectangle."""
    if not 0.0 <= top <= 1.0:
        raise ValueError(f"the top of a trapezoid is 0 to 1 times its base, not {top}")
    return Distribution(Shape.TRAPEZOIDAL, float(top))


def inexact_limits(doubt: float) -> Distribution:
    """Rectangle whose half-width is itself only known to +- ``doubt`` times itself (curvilinear trapezoid)."""
    if not 0.0 <= doubt <= 1.0:
        raise ValueError(f"limits may be off by 0 to 1 times the half-width between them, not {doubt}")
    return Distribution(Shape.INEXACT_LIMITS, float(doubt))


def student(dof: float) -> Distribution:
    """Student t: of an error whose standard uncertainty was itself estimated with ``dof`` degrees of freedom."""
    if not dof > 0.0:
        raise ValueError(f"degrees of freedom are above 0, not {dof}")
    return NORMAL if np.isinf(dof) else Distribution(Shape.STUDENT, float(dof))


def dof_of_doubt(relative: float) -> float:
    """Degrees of freedom of a standard uncertainty that is known to ``relative`` of itself: 1 / (2 relative^2).

    Source: JCGM 100:2008 (GUM), G.4.2, formula (G.3), from memory.
    """
    if not relative >= 0.0:
        raise ValueError(f"a relative uncertainty is not negative, unlike {relative}")
    return float("inf") if relative == 0.0 else 0.5 / relative**2
