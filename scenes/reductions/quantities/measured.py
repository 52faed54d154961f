"""Measured: what readings say about a task, with its uncertainty, interval, budget and verdict."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...model.finding import Finding
from ...model.survey import Limit
from ...uncertainty.propagate import budget_of
from ...vectors import Floats, Indices
from ..consistency import Consistency
from ..noise import NORMAL_95
from ..verdict import Verdict, Word, decide
from .definition import Definition, Kind, Linear, Profile, Unreached, Zone
from .evidence import Evidence
from .measures import Stand
from .shape_noise import noise_of_measure

__all__ = ["Component", "Deviations", "Measured", "bounds_of", "component_of", "deviations_of",
           "distance_from_limit"]  # fmt: skip

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
        Of a zone: the longer side of the interval, divided by 1.96, so that U reaches all of it.
    coverage_factor, expanded_uncertainty : float
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
    """

    of: str
    stations: tuple[str, ...]
    components: tuple[str, ...]
    places: Floats
    directions: Floats
    values: Floats
    u: Floats
    kind: Kind


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
        words = {each.verdict.word for each in self.components if each.verdict is not None}
        if self.unreached:
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


def _verdict(
    evidence: Evidence, limit: Limit | None, value: float, u: float, signed: bool, hold: str
) -> Verdict | None:
    if limit is None:
        return None
    upper, lower = bounds_of(limit, signed)
    verdict = decide(value, u, upper, evidence.task.rule, lower)
    if hold and verdict.word is Word.CONFORMS:
        return replace(verdict, word=Word.NOT_PROVEN, reason=hold)
    return verdict


def component_of(
    evidence: Evidence, asked: Linear | Zone, hold: str, rng: np.random.Generator, trials: int
) -> tuple[Component, Deviations | None]:
    """Value of one component, and for a zone its deviations.

    Parameters
    ----------
    hold : str
        Why a value that keeps its limit proves nothing all the same; else empty.
    """
    if isinstance(asked, Linear):
        return _linear(evidence, asked, hold), None
    return _zone(evidence, asked, hold, rng, trials)


def _linear(evidence: Evidence, asked: Linear, hold: str) -> Component:
    network, k = evidence.network, evidence.task.coverage_factor
    value = asked.nominal + float(asked.functional @ network.values)
    spread = network.spread_of(asked.functional[None, :])
    u = float(spread.standard_uncertainty()[0])
    return Component(
        name=asked.name,
        kind=asked.kind,
        value=value,
        standard_uncertainty=u,
        coverage_factor=k,
        expanded_uncertainty=k * u,
        interval=(value - NORMAL_95 * u, value + NORMAL_95 * u),
        noise_bias=0.0,
        linear_u=u,
        budget=budget_of(spread),
        limit=asked.limit,
        verdict=_verdict(evidence, asked.limit, value, u, True, hold),
        lower=None if asked.limit is None else bounds_of(asked.limit, True)[1],
        plus=asked.plus,
    )


def shape_of(evidence: Evidence, zone: Zone) -> tuple[Floats, Floats]:
    """Deviations ``(k,)`` of a zone and their change ``(k, p)``, without what its measure does not see."""
    profile = zone.profile
    z = profile.offsets + profile.jacobian @ evidence.network.values
    unseen = zone.measure.unseen(len(z))
    if not unseen.shape[1]:
        return z, profile.jacobian
    inverse = np.linalg.pinv(unseen)
    return z - unseen @ (inverse @ z), profile.jacobian - unseen @ (inverse @ profile.jacobian)


def _zone(
    evidence: Evidence, asked: Zone, hold: str, rng: np.random.Generator, trials: int
) -> tuple[Component, Deviations | None]:
    z, jacobian = shape_of(evidence, asked)
    stand, k = asked.measure.at(z), evidence.task.coverage_factor
    spread = evidence.network.spread_of(jacobian)
    through = spread.through(stand.gradient[None, :])
    noise = noise_of_measure(asked.measure, stand.value, z, spread.covariance(), rng, trials)
    u = max(stand.value - noise.low, noise.high - stand.value) / NORMAL_95
    names = asked.profile.stations
    component = Component(
        name=asked.name,
        kind=asked.kind,
        value=stand.value,
        standard_uncertainty=u,
        coverage_factor=k,
        expanded_uncertainty=k * u,
        interval=(noise.low, noise.high),
        noise_bias=noise.bias,
        linear_u=float(through.standard_uncertainty()[0]),
        budget=budget_of(through),
        limit=asked.limit,
        verdict=_verdict(evidence, asked.limit, stand.value, u, False, hold),
        high=_distinct(names, stand.high),
        low=_distinct(names, stand.low),
        datum=_distinct(names, stand.datum),
    )
    if not asked.tells_deviations:
        return component, None
    return component, _stood(asked, stand, spread.through(stand.gain).standard_uncertainty())


def _distinct(names: tuple[str, ...], numbers: Indices) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names[i] for i in numbers))


def _stood(asked: Zone, stand: Stand, u: Floats) -> Deviations:
    p = asked.profile
    return Deviations(asked.name, p.stations, p.components, p.places, p.directions, stand.deviations, u, p.kind)


def deviations_of(evidence: Evidence, profile: Profile) -> Deviations:
    """Deviations that belong to linear components."""
    network = evidence.network
    return Deviations(
        "", profile.stations, profile.components, profile.places, profile.directions,
        profile.offsets + profile.jacobian @ network.values,
        network.spread_of(profile.jacobian).standard_uncertainty(), profile.kind,
    )  # fmt: skip
