"""Measured: what readings say about a task, with its uncertainty, interval, budget and verdict."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...model.finding import Finding
from ...model.survey import Limit
from ...vectors import Floats
from ..consistency import Consistency
from ..verdict import Verdict, Word
from .definition import Definition, Kind, Unreached, Zone
from .evidence import Evidence

__all__ = ["Component", "Deviations", "Measured", "bounds_of", "distance_from_limit", "shape_of", "word_of"]

_WORST = (Word.DOES_NOT_CONFORM, Word.NOT_PROVEN, Word.CONFORMS)


@dataclass(frozen=True, slots=True, eq=False)
class Component:
    """One number of a task; metres, or rad where ``kind`` is an angle.

    Attributes
    ----------
    name : str
        Empty where there is only one.
    kind : Kind
    value : float
    standard_uncertainty : float
        Of a zone: the longer side of the interval, divided by 1.96 (Student t), so that U reaches all of it.
    coverage_factor, expanded_uncertainty : float
        The factor of the task, or the larger one that few degrees of freedom ask for at the same probability.
    interval : (low, high)
        95 % interval of the true value.
    noise_bias : float
        By how much errors of the readings are likely to have raised a zone; it is stated, not taken off.
    linear_u : float
        Standard uncertainty by propagation (of a zone: through what holds it).
    budget : tuple of (source, contribution)
        Of ``linear_u``, the largest first.
    limit : Limit, optional
    lower : float, optional
        Lower bound of the value that follows from the limit; the upper one stands in the verdict.
    verdict : Verdict, optional
        None where nothing is asked of it.
    high, low, datum : tuple of str
        Stations that hold a zone, and those that its reference goes through.
    plus : str
        What a positive sign means.
    dof : float
        Effective degrees of freedom of the standard uncertainty.
    """

    name: str
    kind: Kind
    value: float
    standard_uncertainty: float
    coverage_factor: float
    expanded_uncertainty: float
    interval: tuple[float, float]
    noise_bias: float
    linear_u: float
    budget: tuple[tuple[str, float], ...]
    limit: Limit | None
    verdict: Verdict | None
    lower: float | None = None
    high: tuple[str, ...] = ()
    low: tuple[str, ...] = ()
    datum: tuple[str, ...] = ()
    plus: str = ""
    dof: float = float("inf")


@dataclass(frozen=True, slots=True, eq=False)
class Deviations:
    """Deviations of stations from the reference of a component; k entries of one station and one direction each.

    Attributes
    ----------
    of : str
        Name of the component that they belong to.
    stations, components : tuple of str
        Components such as ``up`` and ``side``.
    places, directions : (k, 3) float
        Where on the nominal surface, and the direction in which a deviation counts, world, metres.
    values, u : (k,) float
        Metres, or rad where ``kind`` is an angle.
    kind : Kind
    leverage : (k,) float, optional
        Share of each entry's own deviation in the reference there; they add up to the parameters of the reference, and
        an entry of leverage one is checked by no other. None where no reference was fitted to the entries.
    """

    of: str
    stations: tuple[str, ...]
    components: tuple[str, ...]
    places: Floats
    directions: Floats
    values: Floats
    u: Floats
    kind: Kind
    leverage: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """All that one visit says about one task.

    Attributes
    ----------
    evidence : Evidence
        Task, visit and the solved network.
    definition : Definition
        What was asked, with reference and method in words.
    components : tuple of Component
    deviations : tuple of Deviations
    unreached : tuple of Unreached
        Components that the readings do not tell, each with its reason.
    missing : tuple of str
        Stations of the task without a reading.
    consistency : Consistency
        How well readings that should agree do.
    findings : tuple of Finding
    remarks : tuple of str
    records : tuple of str
        Where the record of each row of the network stands, in words; empty where it was planned.
    """

    evidence: Evidence
    definition: Definition
    components: tuple[Component, ...]
    deviations: tuple[Deviations, ...]
    unreached: tuple[Unreached, ...]
    missing: tuple[str, ...]
    consistency: Consistency
    findings: tuple[Finding, ...]
    remarks: tuple[str, ...]
    records: tuple[str, ...] = ()

    @property
    def points(self) -> int:
        """Number of stations that it rests on."""
        return len({name for each in self.deviations for name in each.stations})

    @property
    def worst(self) -> Component | None:
        """The judged component that is farthest from conformity; None where none is judged."""
        judged = [each for each in self.components if each.verdict is not None]
        return min(judged, key=distance_from_limit, default=None)

    @property
    def word(self) -> Word | None:
        """Verdict on the task as a whole; None where nothing is judged."""
        return word_of(self.components, self.unreached)


def word_of(components: tuple[Component, ...], unreached: tuple[Unreached, ...]) -> Word | None:
    """The worst verdict among components; what stays open is not proven. None where nothing is judged."""
    words = {each.verdict.word for each in components if each.verdict is not None}
    if unreached:
        words.add(Word.NOT_PROVEN)
    return next((word for word in _WORST if word in words), None)


def distance_from_limit(component: Component) -> tuple[int, float]:
    """Order of judged components: the worst word first, then the smallest share of the limit that is left."""
    if component.verdict is None:
        return len(_WORST), 0.0
    upper, lower = component.verdict.limit, component.lower
    room, left = upper, upper - component.value
    if lower is not None:
        room, left = 0.5 * (upper - lower), min(left, component.value - lower)
    return _WORST.index(component.verdict.word), left / room if room > 0.0 else left


def bounds_of(limit: Limit, signed: bool) -> tuple[float, float | None]:
    """Upper and lower bound of a component, metres or rad; None where it has no lower one.

    A signed value keeps a limit of which only the size is stated both ways.
    """
    scale = 1.0 / limit.over if limit.over > 0.0 else 1.0
    if not signed:
        return scale * limit.upper, None
    return scale * limit.upper, scale * (-limit.upper if limit.lower is None else limit.lower)


def shape_of(evidence: Evidence, zone: Zone) -> tuple[Floats, Floats]:
    """Deviations ``(k,)`` of a zone and their change ``(k, p)``, without what its measure does not see."""
    profile = zone.profile
    z = profile.offsets + profile.jacobian @ evidence.network.values
    unseen = zone.measure.unseen(len(z))
    if not unseen.shape[1]:
        return z, profile.jacobian
    inverse = np.linalg.pinv(unseen)
    return z - unseen @ (inverse @ z), profile.jacobian - unseen @ (inverse @ profile.jacobian)
