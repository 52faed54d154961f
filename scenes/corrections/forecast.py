"""Forecast: values and deviations as left, with the uncertainty of the readings, of the moves and of the influence."""

from __future__ import annotations

import numpy as np

from ..model.survey import Rule
from ..reductions.noise import NORMAL_95
from ..reductions.quantities.measured import bounds_of
from ..reductions.verdict import Verdict, decide
from ..vectors import Floats
from .movers import Movers
from .response import Answer, Shape

__all__ = ["Foreseen", "foreseen", "move_errors", "stood_deviations", "uncertainty_as_left"]

TRIALS = 2000
SLOW_TRIALS = 400
"""For measures that take their time, such as cylinders."""

Foreseen = tuple[float, float, tuple[float, float], float | None, Verdict | None]
"""Value, standard uncertainty, 95 % interval, probability of conformity, verdict."""


def move_errors(movers: Movers, lifts: Floats, moves: Floats, bent: Floats) -> Floats:
    """Independent errors of deviations ``(k, 2 m)`` from the moves themselves and from the influence, one per column.

    A mover that stays has none. Each column of the influence may be off by its own share of what bends.
    """
    moved = np.abs(lifts) > 0.0
    return np.hstack([moves * (movers.known_to * moved), bent * (movers.influence_known_to * lifts)])


def _stand_gain(answers: tuple[Answer, ...], shape: Shape, lifts: Floats) -> tuple[Floats, Floats]:
    """Deviations ``(k,)`` from their reference after moves, and their change ``(k, k)`` with those put in."""
    after = shape.found + shape.moves @ lifts
    measure = next((each.measure for each in answers if each.shape is shape and each.measure is not None), None)
    if measure is None:
        return after, np.eye(len(after))
    stand = measure.at(after)
    return stand.deviations, stand.gain


def stood_deviations(answers: tuple[Answer, ...], shape: Shape, lifts: Floats) -> Floats:
    """Deviations ``(k,)`` of a shape from its reference after moves, metres or rad."""
    return _stand_gain(answers, shape, lifts)[0]


def uncertainty_as_left(
    answers: tuple[Answer, ...], shape: Shape, movers: Movers, lifts: Floats
) -> tuple[Floats, Floats]:
    """Deviations as left ``(k,)`` and their standard uncertainties."""
    deviations, gain = _stand_gain(answers, shape, lifts)
    errors = gain @ move_errors(movers, lifts, shape.moves, shape.bent)
    variance = np.einsum("ij,jk,ik->i", gain, shape.covariance, gain) + np.sum(errors**2, axis=1)
    return deviations, np.sqrt(np.maximum(variance, 0.0))


def foreseen(answer: Answer, movers: Movers, lifts: Floats, rule: Rule, rng: np.random.Generator) -> Foreseen:
    """Value of a component as left, with its uncertainty, interval and prospects."""
    if answer.shape is None or answer.measure is None:
        return _linear(answer, movers, lifts, rule)
    shape, measure = answer.shape, answer.measure
    after = shape.found + shape.moves @ lifts
    size, axes = np.linalg.eigh(0.5 * (shape.covariance + shape.covariance.T))
    root = np.hstack([axes * np.sqrt(np.maximum(size, 0.0)), move_errors(movers, lifts, shape.moves, shape.bent)])
    drawn = rng.standard_normal((root.shape[1], TRIALS if measure.quick else SLOW_TRIALS))
    values = measure.of_trials(after[:, None] + root @ drawn)
    value = float(measure.at(after).value)
    low, high = (float(each) for each in np.quantile(values, [0.025, 0.975]))
    low, high = min(low, value), max(high, value)
    u = max(value - low, high - value) / NORMAL_95
    if answer.limit is None:
        return value, u, (low, high), None, None
    upper, _ = bounds_of(answer.limit, False)
    kept = float(np.mean(values <= upper))
    return value, u, (low, high), kept, decide(value, u, upper, rule)


def _linear(answer: Answer, movers: Movers, lifts: Floats, rule: Rule) -> Foreseen:
    moved = np.abs(lifts) > 0.0
    value = answer.value(lifts)
    u = float(np.hypot(answer.component.standard_uncertainty, np.linalg.norm(answer.moves * movers.known_to * moved)))
    interval = (value - NORMAL_95 * u, value + NORMAL_95 * u)
    if answer.limit is None:
        return value, u, interval, None, None
    upper, lower = bounds_of(answer.limit, True)
    verdict = decide(value, u, upper, rule, lower)
    return value, u, interval, verdict.probability, verdict
