"""Components: the value of one number of a task, with its uncertainty, interval, budget, contacts and verdict."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from ...model.survey import Limit
from ...uncertainty.degrees import coverage_factor
from ...uncertainty.distributions import Shape
from ...uncertainty.propagate import Spread, budget_of
from ...vectors import Floats, Indices
from ..noise import NORMAL_95, TAIL
from ..verdict import Verdict, Word, decide, probability_of_factor
from .definition import Definition, Linear, Profile, Zone
from .evidence import Evidence
from .measured import Component, Deviations, bounds_of, shape_of
from .measures import Stand
from .shape_noise import drawn_errors_of, noise_of_measure

__all__ = ["component_of", "deviations_of", "hold_of", "linear_spread", "missing_of"]

NINETY_FIVE = 0.95


def missing_of(evidence: Evidence) -> tuple[str, ...]:
    """Stations of the task without a reading."""
    read = set(evidence.stations)
    return tuple(name for name in evidence.task.stations if name not in read)


def hold_of(evidence: Evidence, definition: Definition) -> str:
    """Why a value that keeps its limit proves nothing all the same; else empty."""
    missing = missing_of(evidence)
    if missing and definition.form and not definition.held:
        return f"{len(missing)} of {len(evidence.task.stations)} stations were not read, and it may be worse there"
    return definition.held


def _freedom(evidence: Evidence, spread: Spread) -> tuple[float, float, float]:
    """Degrees of freedom, factor of the 95 % interval, and coverage factor of the task, of a single result.

    Few degrees of freedom ask for larger factors at the same probability: those of Student t.
    """
    dof, asked = float(spread.effective_dof()[0]), evidence.task.coverage_factor
    if not np.isfinite(dof):
        return dof, NORMAL_95, asked
    return dof, float(coverage_factor(NINETY_FIVE, dof)), float(coverage_factor(probability_of_factor(asked), dof))


def _verdict(
    evidence: Evidence, limit: Limit | None, value: float, u: float, signed: bool, hold: str, dof: float, k: float
) -> Verdict | None:
    if limit is None:
        return None
    upper, lower = bounds_of(limit, signed)
    verdict = decide(value, u, upper, evidence.task.rule, lower, k, dof)
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
        return _linear(evidence, asked, hold, rng, trials), None
    return _zone(evidence, asked, hold, rng, trials)


def linear_spread(spread_of: Callable[[Floats], Spread], asked: Linear) -> Spread:
    """Errors by source of a linear component, those included that do not come through light."""
    spread = spread_of(asked.functional[None, :])
    return replace(spread, others={**spread.others, **{name: np.array([[u]]) for name, u in asked.others}})


def _ends(spread: Spread, reach: float, rng: np.random.Generator, trials: int) -> tuple[float, float]:
    """Ends of the 95 % range of the error of a single result: drawn where any source is other than normal."""
    if all(effect.drawn.shape in (Shape.NORMAL, Shape.STUDENT) for effect in spread.effects):
        half = reach * float(spread.standard_uncertainty()[0])
        return -half, half
    low, high = np.quantile(drawn_errors_of(spread, rng, trials)[0], [TAIL, 1.0 - TAIL])
    return float(low), float(high)


def _linear(evidence: Evidence, asked: Linear, hold: str, rng: np.random.Generator, trials: int) -> Component:
    network = evidence.network
    value = asked.nominal + float(asked.functional @ network.values)
    spread = linear_spread(network.spread_of, asked)
    u = float(spread.standard_uncertainty()[0])
    dof, reach, k = _freedom(evidence, spread)
    low, high = _ends(spread, reach, rng, trials)
    return Component(
        name=asked.name,
        kind=asked.kind,
        value=value,
        standard_uncertainty=u,
        coverage_factor=k,
        expanded_uncertainty=k * u,
        interval=(value - high, value - low),
        noise_bias=0.0,
        linear_u=u,
        budget=budget_of(spread),
        limit=asked.limit,
        verdict=_verdict(evidence, asked.limit, value, u, True, hold, dof, k),
        lower=None if asked.limit is None else bounds_of(asked.limit, True)[1],
        plus=asked.plus,
        dof=dof,
    )


def _zone(
    evidence: Evidence, asked: Zone, hold: str, rng: np.random.Generator, trials: int
) -> tuple[Component, Deviations | None]:
    z, jacobian = shape_of(evidence, asked)
    stand = asked.measure.at(z)
    spread = evidence.network.spread_of(jacobian)
    through = spread.through(stand.gradient[None, :])
    dof, reach, k = _freedom(evidence, through)
    noise = noise_of_measure(asked.measure, stand.value, z, spread, rng, trials)
    u = max(stand.value - noise.low, noise.high - stand.value) / reach
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
        verdict=_verdict(evidence, asked.limit, stand.value, u, False, hold, dof, k),
        high=_distinct(names, stand.high),
        low=_distinct(names, stand.low),
        datum=_distinct(names, stand.datum),
        dof=dof,
    )
    if not asked.tells_deviations:
        return component, None
    return component, _stood(asked, stand, spread.through(stand.gain).standard_uncertainty())


def _distinct(names: tuple[str, ...], numbers: Indices) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names[i] for i in numbers))


def _stood(asked: Zone, stand: Stand, u: Floats) -> Deviations:
    p = asked.profile
    return Deviations(
        asked.name, p.stations, p.components, p.places, p.directions, stand.deviations, u, p.kind, stand.leverage
    )


def deviations_of(evidence: Evidence, profile: Profile) -> Deviations:
    """Deviations that belong to linear components."""
    network = evidence.network
    return Deviations(
        "", profile.stations, profile.components, profile.places, profile.directions,
        profile.offsets + profile.jacobian @ network.values,
        network.spread_of(profile.jacobian).standard_uncertainty(), profile.kind,
    )  # fmt: skip
