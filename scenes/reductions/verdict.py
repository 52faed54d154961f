"""Verdicts: whether a measured value proves that the part conforms."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import erfc, inf, isfinite, sqrt

from scipy.special import stdtr, stdtrit

from ..errors import GeometryError
from ..model.survey import Rule

__all__ = ["GUARD_FACTOR", "RULES", "Verdict", "Word", "accepted_within", "decide", "guard_of",
           "probability_of_conformity", "probability_of_factor"]  # fmt: skip

GUARD_FACTOR = 1.6448536269514722
"""Standard uncertainties in the guard band at one limit: 95 % of a normal distribution lies below it."""


ONE_SIDED = 0.95
"""Probability behind ``GUARD_FACTOR``."""

RULES: dict[Rule, str] = {
    Rule.GUARD_BAND: "proven with 95 % at each limit: 1.65 standard uncertainties inside it (default of ISO 14253-1)",
    Rule.GUARD_BAND_U: "proven with U to spare: the value and its expanded uncertainty both keep the limit",
    Rule.SIMPLE: "the value alone is compared with the limit; both sides share the risk",
    Rule.RELAXED: "accepted unless it is proven with 95 % that the limit is not kept",
}
"""What each rule says.

Source: guard bands by ISO 14253-1:2017 (95 %) and by its earlier editions and ILAC-G8 (w = U); simple acceptance and
relaxed acceptance by JCGM 106:2012, clause 8. All quoted from memory; the documents were not seen.
"""


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
        How far from the limit the rule looks, on each side of it: width of its guard band.
    probability : float
        Probability that the true value keeps the limit, with a normal distribution (Student t) about the measured one.
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


def _below(z: float, dof: float) -> float:
    """Share of a normal distribution, or a Student t, below ``z`` standard deviations, exact far out on either side."""
    return float(stdtr(dof, z)) if isfinite(dof) else 0.5 * erfc(-z / sqrt(2.0))


def probability_of_conformity(
    value: float, u: float, upper: float, lower: float | None = None, dof: float = inf
) -> float:
    """Probability that the true value lies between the limits; any one unit.

    Source: JCGM 106:2012, clause 7, normal distribution; Student t where ``u`` has finite degrees of freedom.
    """
    if u < 0.0:
        raise GeometryError("a standard uncertainty cannot be negative")
    if u == 0.0:
        return float(value <= upper and (lower is None or value >= lower))
    above = _below((upper - value) / u, dof)
    return above if lower is None else above - _below((lower - value) / u, dof)


def probability_of_factor(k: float) -> float:
    """Share of a normal distribution within ``k`` standard deviations either way."""
    return 1.0 - 2.0 * _below(-k, inf)


def guard_of(rule: Rule, u: float, coverage_factor: float = 2.0, dof: float = inf) -> float:
    """Width of the band on each side of a limit that a rule looks at; in the unit of ``u``."""
    if rule is Rule.SIMPLE:
        return 0.0
    if rule is Rule.GUARD_BAND_U:
        return coverage_factor * u
    return (float(stdtrit(dof, ONE_SIDED)) if isfinite(dof) else GUARD_FACTOR) * u


def accepted_within(rule: Rule, u: float, coverage_factor: float = 2.0, dof: float = inf) -> float:
    """By how much the zone of values that conform is narrower than the limits, at each; negative where it is wider."""
    guard = guard_of(rule, u, coverage_factor, dof)
    return -guard if rule is Rule.RELAXED else guard


def decide(
    value: float, u: float, limit: float, rule: Rule = Rule.GUARD_BAND, lower: float | None = None,
    coverage_factor: float = 2.0, dof: float = inf,
) -> Verdict:  # fmt: skip
    """Verdict on a measured value with an upper (and perhaps a lower) limit; metres.

    With a guard band, conformity is proven only inside the limits shrunk by it, and non-conformity only outside the
    limits widened by it; between them nothing is proven. Simple acceptance compares the value with the limit. Relaxed
    acceptance calls all conforming that is not proven to be outside. `RULES` has the sources.

    Parameters
    ----------
    coverage_factor : float
        k of the expanded uncertainty, for the rule that looks at it.
    dof : float
        Degrees of freedom of ``u``.
    """
    guard = guard_of(rule, u, coverage_factor, dof)
    shrunk = accepted_within(rule, u, coverage_factor, dof)
    inside = value <= limit - shrunk and (lower is None or value >= lower + shrunk)
    outside = value > limit + guard or (lower is not None and value < lower - guard)
    word = Word.CONFORMS if inside else Word.DOES_NOT_CONFORM if outside else Word.NOT_PROVEN
    return Verdict(word, value, u, limit, rule, guard, probability_of_conformity(value, u, limit, lower, dof))
