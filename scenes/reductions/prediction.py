"""From a planned task to what its plan promises: propagation and trials side by side."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..uncertainty.propagate import NEGLIGIBLE, Spread, budget_of
from ..vectors import Floats
from .noise import NORMAL_95
from .planned_tasks import Planned
from .predicted import Predicted, PredictedComponent, StationUncertainty
from .quantities.components import linear_spread
from .quantities.definition import Linear, Profile, Zone
from .quantities.shape_noise import drawn_deviations, values_of
from .verdict import accepted_within

__all__ = ["predict"]

SHAPES = 24
"""Shapes, drawn at random, that tell how uncertain a zone of some size is on average."""


def predict(
    planned: Planned,
    rng: np.random.Generator,
    trials: int,
    gum_trials: int = 4_000,
    progress: Callable[[int], object] | None = None,
) -> Predicted:
    """What a plan promises for its task.

    Parameters
    ----------
    trials : int
        Monte Carlo trials through the traced model; 0: none.
    gum_trials : int
        Draws from the covariance for zones, which only errors make.
    progress : callable, optional
        Is told how many trials have been done, block by block.
    """
    errors = planned.drawn(rng, trials, progress) if trials else None
    definition = planned.definition
    found = [_component(planned, asked, errors, rng, gum_trials) for asked in definition.values]
    zones = [asked for asked in definition.values if isinstance(asked, Zone) and asked.tells_deviations]
    profiles = [(asked.name, asked.profile, asked) for asked in zones]
    shown = [_stations(planned, name, profile, zone, errors) for name, profile, zone in profiles]
    shown += [_stations(planned, "", profile, None, errors) for profile in definition.shown]
    return Predicted(
        task=planned.task,
        reference=definition.reference,
        method=definition.method,
        components=tuple(found),
        stations=tuple(shown),
        unreached=definition.unreached,
        missing=planned.missing,
        remarks=definition.remarks,
        held=definition.held,
        trials=trials,
    )


def _seen_by(zone: Zone | None, jacobian: Floats) -> Floats:
    """A Jacobian without what the measure of a zone does not see."""
    if zone is None:
        return jacobian
    unseen = zone.measure.unseen(len(jacobian))
    return jacobian - unseen @ (np.linalg.pinv(unseen) @ jacobian) if unseen.shape[1] else jacobian


def _stations(
    planned: Planned, name: str, profile: Profile, zone: Zone | None, errors: Floats | None
) -> StationUncertainty:
    jacobian = _seen_by(zone, profile.jacobian)
    if zone is not None and zone.measure.steady:
        jacobian = zone.measure.at(np.linspace(-1e-3, 1e-3, len(jacobian)) ** 3).gain @ jacobian
    u = planned.spread_of(jacobian).standard_uncertainty()
    trial_u = np.full(len(u), np.nan) if errors is None else (errors @ jacobian.T).std(axis=0)
    return StationUncertainty(
        name, profile.stations, profile.components, profile.places, profile.directions, u, trial_u, profile.kind
    )


def _component(
    planned: Planned, asked: Linear | Zone, errors: Floats | None, rng: np.random.Generator, gum_trials: int
) -> PredictedComponent:
    if isinstance(asked, Linear):
        return _linear(planned, asked, errors)
    return _zone(planned, asked, errors, rng, gum_trials)


def _interval(values: Floats) -> tuple[float, float]:
    low, high = np.quantile(values, [0.025, 0.975])
    return float(low), float(high)


NO_TRIALS = (float("nan"), float("nan"))


def _linear(planned: Planned, asked: Linear, errors: Floats | None) -> PredictedComponent:
    spread = linear_spread(planned.spread_of, asked)
    u = float(spread.standard_uncertainty()[0])
    values = None if errors is None else asked.nominal + errors @ asked.functional
    guard = accepted_within(planned.task.rule, u, planned.task.coverage_factor)
    upper, lower = (None, None) if asked.limit is None else planned.bounds(asked.limit, True)
    largest = smallest = None
    if upper is not None and lower is not None and lower + guard <= upper - guard:
        largest, smallest = upper - guard, lower + guard
    return PredictedComponent(
        name=asked.name,
        kind=asked.kind,
        is_zone=False,
        nominal=asked.nominal,
        standard_uncertainty=u,
        empty_value=asked.nominal,
        empty_scatter=u,
        trial_mean=float("nan") if values is None else float(values.mean()),
        trial_u=float("nan") if values is None else float(values.std()),
        trial_interval=NO_TRIALS if values is None else _interval(values),
        limit=asked.limit,
        upper=upper,
        lower=lower,
        provable=max(guard, 0.0),
        largest=largest,
        smallest=smallest,
        budget=budget_of(spread),
        plus=asked.plus,
    )


def _zone(
    planned: Planned, asked: Zone, errors: Floats | None, rng: np.random.Generator, gum_trials: int
) -> PredictedComponent:
    jacobian = _seen_by(asked, asked.profile.jacobian)
    shape = _seen_by(asked, asked.profile.offsets[:, None])[:, 0]
    spread = planned.spread_of(jacobian)
    empty = values_of(asked.measure, shape, drawn_deviations(spread, asked.measure, rng, gum_trials))
    mean, scatter = float(empty.mean()), float(empty.std())
    values = None if errors is None else values_of(asked.measure, shape, (_few(asked, errors) @ jacobian.T).T)
    u, budget = _large(asked, spread, rng)
    rule, k = planned.task.rule, planned.task.coverage_factor
    upper = None if asked.limit is None else planned.bounds(asked.limit, False)[0]
    provable = max(0.0, mean + accepted_within(rule, max(mean / NORMAL_95, scatter), k))
    largest = None
    if upper is not None and provable <= upper:
        largest = max(mean, upper - accepted_within(rule, max(u, scatter), k))
    return PredictedComponent(
        name=asked.name,
        kind=asked.kind,
        is_zone=True,
        nominal=0.0,
        standard_uncertainty=u,
        empty_value=mean,
        empty_scatter=scatter,
        trial_mean=float("nan") if values is None else float(values.mean()),
        trial_u=float("nan") if values is None else float(values.std()),
        trial_interval=NO_TRIALS if values is None else _interval(values),
        limit=asked.limit,
        upper=upper,
        lower=None,
        provable=provable,
        largest=largest,
        smallest=None if largest is None else 0.0,
        budget=budget,
        plus="",
    )


MOST_SLOW = 4_000


def _few(asked: Zone, errors: Floats) -> Floats:
    """Not too many trials of a measure that takes long."""
    return errors if asked.measure.quick else errors[:MOST_SLOW]


def _large(asked: Zone, spread: Spread, rng: np.random.Generator) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Standard uncertainty of a zone that is large against the errors, on average over shapes, and its budget."""
    k = len(asked.profile.stations)
    gradients = np.array([asked.measure.at(rng.standard_normal(k) * 1e-3).gradient for _ in range(SHAPES)])
    variances = {name: float(np.mean(part)) for name, part in spread.through(gradients).variances().items()}
    parts = [(name, float(np.sqrt(part))) for name, part in variances.items() if part > NEGLIGIBLE**2]
    return float(np.sqrt(sum(variances.values()))), tuple(sorted(parts, key=lambda part: -part[1]))
