"""Trend: how fast a value or a station moves, how sure that is, and when a limit will be reached."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np

from ..reductions.quantities.definition import Kind
from ..reductions.quantities.measured import Measured
from ..vectors import Floats

__all__ = ["DAYS_OF_YEAR", "Dated", "Outlook", "Reach", "Trend"]

DAYS_OF_YEAR = 365.25


@dataclass(frozen=True, slots=True, eq=False)
class Dated:
    """A task at a dated visit.

    Attributes
    ----------
    date : date
    measured : Measured
    anew : tuple of str
        What was changed or certified anew since the visit before, as for `change`.
    adjusted : bool
        True where the machine was moved on purpose since the visit before: a trend starts anew here.
    """

    date: date
    measured: Measured
    anew: tuple[str, ...] = ()
    adjusted: bool = False


class Outlook(StrEnum):
    """What a trend says about a limit."""

    NO_TREND = "no trend proven"
    REACHED = "beyond the limit already"
    AWAY = "moves away from the limit"
    AHEAD = "will reach the limit"
    FAR = "will not reach the limit within a century"


@dataclass(frozen=True, slots=True)
class Reach:
    """When a limit will be reached if the trend goes on.

    Attributes
    ----------
    outlook : Outlook
    limit : float
        Metres or rad.
    when, earliest, latest : date, optional
        Best date, and the ends of its 95 % interval; None where the outlook is another one, or where it lies beyond a
        century.
    """

    outlook: Outlook
    limit: float
    when: date | None = None
    earliest: date | None = None
    latest: date | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Trend:
    """A straight line through the values of n dated visits; metres or rad, and years of 365.25 days.

    Attributes
    ----------
    task, of : str
        Task and component.
    station, component : str
        Empty for the value of a component itself.
    kind : Kind
    dates : tuple of date
    values, u : (n,) float
        With their standard uncertainties.
    start, slope : float
        Of the line at the first date, and its change in a year.
    covariance : (2, 2) float
        Of both.
    coverage_factor : float
        For 95 %: Student t where the visits scatter by more than their errors explain.
    scatter : float, optional
        Residual scatter against that expected of the errors; None of two visits.
    scatter_probability : float, optional
        That errors alone scatter so much or more.
    reach : tuple of Reach
        Of the limits of a component, the nearest first.
    """

    task: str
    of: str
    station: str
    component: str
    kind: Kind
    dates: tuple[date, ...]
    values: Floats
    u: Floats
    start: float
    slope: float
    covariance: Floats
    coverage_factor: float
    scatter: float | None = None
    scatter_probability: float | None = None
    reach: tuple[Reach, ...] = ()

    @property
    def slope_u(self) -> float:
        """Standard uncertainty of the slope."""
        return float(np.sqrt(self.covariance[1, 1]))

    @property
    def expanded_uncertainty(self) -> float:
        """Half-width of the 95 % interval of the slope."""
        return self.coverage_factor * self.slope_u

    @property
    def proven(self) -> bool:
        """Whether there is a trend, with 95 %."""
        return abs(self.slope) > self.expanded_uncertainty
