"""Verdicts: whether a measured value proves that the part conforms."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import erfc, sqrt

from ..errors import GeometryError
from ..model.survey import Rule

__all__ = ["GUARD_FACTOR", "Verdict", "Word", "decide", "probability_of_conformity"]

GUARD_FACTOR = 1.6448536269514722
"""Standard uncertainties in the guard band at one limit: 95 % of a normal distribution lies below it."""


class Word(StrEnum):
    """The verdict in words."""

    CONFORMS = "conforms"
    NOT_PROVEN = "not proven"
    DOES_NOT_CONFORM = "does not conform"


@dataclass(frozen=True, slots=True)
class Verdict:
    """A verdict and what it rests on; lengths in metres.

    Attributes
    ----------
    guard : float
        Width of the guard band on each side of the limit.
    probability : float
        Probability that the true value keeps the limit, with a normal distribution about the measured one.
    reason : str
        Why a value that keeps its distance from the limit proves nothing all the same; else empty.
    """

    word: Word
    value: float
    standard_uncertainty: float
    limit: float
    rule: Rule
    guard: float
    probability: float
    reason: str = ""


def _below(z: float) -> float:
    """Share of a normal distribution below ``z`` standard deviations, exact far out on either side."""
    return 0.5 * erfc(-z / sqrt(2.0))


def probability_of_conformity(value: float, u: float, upper: float, lower: float | None = None) -> float:
    """Probability that the true value lies between the limits; any one unit.

    Source: JCGM 106:2012, clause 7, normal distribution.
    """
    if u < 0.0:
        raise GeometryError("a standard uncertainty cannot be negative")
    if u == 0.0:
        return float(value <= upper and (lower is None or value >= lower))
    above = _below((upper - value) / u)
    return above if lower is None else above - _below((lower - value) / u)


def decide(value: float, u: float, limit: float, rule: Rule = Rule.GUARD_BAND, lower: float | None = None) -> Verdict:
    """Verdict on a measured value with an upper (and perhaps a lower) limit; metres.

    With the guard band, conformity is proven only inside the limits shrunk by 1.65 u, and non-conformity only outside
    the limits widened by 1.65 u; between them nothing is proven. Simple acceptance compares the value with the limit.

    Source: the default rule of ISO 14253-1:2017 (95 % at one limit), quoted from memory; the standard was not seen.
    """
    guard = GUARD_FACTOR * u if rule is Rule.GUARD_BAND else 0.0
    inside = value <= limit - guard and (lower is None or value >= lower + guard)
    outside = value > limit + guard or (lower is not None and value < lower - guard)
    word = Word.CONFORMS if inside else Word.DOES_NOT_CONFORM if outside else Word.NOT_PROVEN
    return Verdict(word, value, u, limit, rule, guard, probability_of_conformity(value, u, limit, lower))
