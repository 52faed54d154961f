"""Change between two visits: what it is made of, with its own uncertainty, and whether anything moved at all."""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import isfinite

import numpy as np

from ..reductions.quantities.definition import Kind
from ..reductions.quantities.measured import Measured
from ..reductions.verdict import Word
from ..vectors import Flags, Floats

__all__ = ["Change", "ChangedDeviations", "ChangedValue", "NothingMoved", "SharedSource"]


@dataclass(frozen=True, slots=True)
class SharedSource:
    """An error source that acts on both visits with the same draw; standard uncertainties, metres or rad.

    Attributes
    ----------
    one, two : float
        What it does to either visit.
    left : float
        What is left of it in the change.
    """

    name: str
    one: float
    two: float
    left: float


@dataclass(frozen=True, slots=True, eq=False)
class ChangedValue:
    """Change of one number of a task; metres, or rad where ``kind`` is an angle.

    Attributes
    ----------
    name : str
        Of the component; empty where there is only one.
    before, after, change : float
    standard_uncertainty : float
        Of the change: shared errors cancel.
    apart : float
        The root sum of squares of both visits, as if they shared nothing.
    coverage_factor, expanded_uncertainty, dof : float
    budget : tuple of (source, contribution)
    shared : tuple of SharedSource
    words : (before, after)
        Verdicts of the visits.
    plus : str
        What a positive sign of the value means; empty for a zone, which is never negative.
    """

    name: str
    kind: Kind
    before: float
    after: float
    change: float
    standard_uncertainty: float
    apart: float
    coverage_factor: float
    expanded_uncertainty: float
    dof: float
    budget: tuple[tuple[str, float], ...]
    shared: tuple[SharedSource, ...]
    words: tuple[Word | None, Word | None]
    plus: str = ""

    @property
    def proven(self) -> bool:
        """Whether the change is larger than its expanded uncertainty."""
        return abs(self.change) > self.expanded_uncertainty


@dataclass(frozen=True, slots=True)
class NothingMoved:
    """Test of the hypothesis that no station moved against the others: chi-square of the changes with their covariance.

    Attributes
    ----------
    chi_square : float
    rank : int
        Independent changes: entries less what is about the datum.
    probability : float
        That errors alone give so much or more.
    """

    chi_square: float
    rank: int
    probability: float

    @property
    def rejected(self) -> bool:
        """Whether something moved, with 95 %."""
        return self.probability < SIGNIFICANCE


SIGNIFICANCE = 0.05
"""Share of undisturbed machines that the test calls changed."""


@dataclass(frozen=True, slots=True, eq=False)
class ChangedDeviations:
    """Changes of deviations about one datum; k entries of one station and one direction each.

    Attributes
    ----------
    of : str
        Name of the component that they belong to.
    stations, components : tuple of str
    places, directions : (k, 3) float
        World, metres.
    before, after, change : (k,) float
        Deviations of both visits about the same datum, and their difference; metres, or rad where ``kind`` is an angle.
    u, apart : (k,) float
        Standard uncertainty of the change, and the same as if the visits shared nothing.
    coverage_factor : float
    covariance : (k, k) float
        Of the change.
    kind : Kind
    datum : str
        What the changes count from, in words.
    test : NothingMoved
    dropped : tuple of str
        Stations that only one of the visits reads.
    """

    of: str
    stations: tuple[str, ...]
    components: tuple[str, ...]
    places: Floats
    directions: Floats
    before: Floats
    after: Floats
    change: Floats
    u: Floats
    apart: Floats
    coverage_factor: float
    covariance: Floats
    kind: Kind
    datum: str
    test: NothingMoved
    dropped: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        for each in fields(self):
            part = getattr(self, each.name)
            if isinstance(part, np.ndarray):
                copied = part.copy()
                copied.setflags(write=False)
                object.__setattr__(self, each.name, copied)

    @property
    def name(self) -> str:
        """What they are called: their component, or the directions in which they count."""
        return self.of or ", ".join(dict.fromkeys(self.components)) or "deviations"

    @property
    def moved(self) -> Flags:
        """Entries ``(k,)`` that changed by more than their expanded uncertainty."""
        result: Flags = np.abs(self.change) > self.coverage_factor * self.u
        return result


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """All that happened to one task between two visits.

    Attributes
    ----------
    task, one, two : str
        Names of the task and of both visits.
    before, after : Measured
        ``before`` is None where the first is a forecast by itself.
    values : tuple of ChangedValue
    deviations : tuple of ChangedDeviations
    common : tuple of str
        Error sources that both visits share, by their names.
    anew : tuple of str
        What was changed or certified anew in between.
    expected : bool
        True where changes are counted from a forecast: nothing is left where it came true.
    remarks : tuple of str
    """

    task: str
    one: str
    two: str
    before: Measured | None
    after: Measured
    values: tuple[ChangedValue, ...]
    deviations: tuple[ChangedDeviations, ...]
    common: tuple[str, ...]
    anew: tuple[str, ...] = ()
    expected: bool = False
    remarks: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """What happened, in one plain sentence."""
        if not self.deviations:
            proven = [each.name or "the value" for each in self.values if each.proven]
            return f"proven to have changed: {', '.join(proven)}" if proven else "no change is proven"
        told = [_sentence_of(each, self.expected) for each in self.deviations]
        if len(told) == 1:
            return told[0]
        named = [f"{each.name}: {text}" for each, text in zip(self.deviations, told, strict=True)]
        return "; ".join(named)


def _sentence_of(each: ChangedDeviations, expected: bool) -> str:
    odds = f"errors alone give as much with a probability of {_percent(each.test.probability)}"
    places = list(dict.fromkeys(each.stations[i] for i in np.flatnonzero(each.moved)))
    if not each.test.rejected:
        quiet = "the forecast came true as far as the readings tell" if expected else "nothing is proven to have moved"
        chance = f"; {len(places)} of {len(each.stations)} beyond U is what chance brings" if places else ""
        return f"{quiet} ({odds}{chance})"
    what = "it did not come out as forecast" if expected else "it changed its shape"
    worst = sorted(
        (i for i in range(len(each.stations)) if each.moved[i]),
        key=lambda i: -abs(float(each.change[i])) / max(float(each.u[i]), 1e-300),
    )
    names = list(dict.fromkeys(each.stations[i] for i in worst))
    where = f", most of all at {', '.join(names[:MOST_NAMED])}" if names else ", though no station alone proves it"
    return f"{what}{where} ({odds})"


MOST_NAMED = 4


def _percent(probability: float) -> str:
    if not isfinite(probability):
        return "100 %"
    return "less than 0.01 %" if probability < 1e-4 else f"{100.0 * probability:.3g} %"
