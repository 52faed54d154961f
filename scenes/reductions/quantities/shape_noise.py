"""What errors do to a measure of many deviations: they only ever add to it, the more so the better the part.

The interval is that of ``reductions.noise``, for any measure.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...uncertainty.distributions import Shape
from ...uncertainty.propagate import Spread
from ...vectors import Floats
from ..noise import SCALES_TRIALS, Noise, noise_of_sizes, square_root
from .measures import Measure

__all__ = ["SLOW_SHARE", "drawn_deviations", "drawn_errors_of", "noise_of_measure", "values_of"]

TRIALS_AT_ONCE = 4_000

SLOW_SHARE = 0.2
"""Measures that take long get this share of the trials."""


def values_of(measure: Measure, shape: Floats, errors: Floats) -> Floats:
    """Values ``(t,)`` of the deviations ``shape`` (k,) with ``errors`` (k, t) added, in blocks of cache size."""
    return np.concatenate([
        measure.of_trials(shape[:, None] + errors[:, i : i + TRIALS_AT_ONCE])
        for i in range(0, errors.shape[1], TRIALS_AT_ONCE)
    ])  # fmt: skip


def drawn_deviations(spread: Spread, measure: Measure, rng: np.random.Generator, trials: int) -> Floats:
    """Errors ``(k, t)`` of deviations, each source by its distribution; fewer than ``trials`` for a slow measure."""
    return drawn_errors_of(spread, rng, trials if measure.quick else max(500, round(SLOW_SHARE * trials)))


def drawn_errors_of(spread: Spread, rng: np.random.Generator, count: int) -> Floats:
    """Errors ``(k, count)`` of the results of a spread, each source by its distribution.

    Normal errors add up to normal ones, so that their covariance is drawn from at once.
    """
    normal = tuple(effect for effect in spread.effects if effect.drawn.shape is Shape.NORMAL)
    covariance = replace(spread, effects=normal).covariance()
    result: Floats = square_root(covariance) @ rng.standard_normal((len(covariance), count))
    others = tuple(effect for effect in spread.effects if effect.drawn.shape is not Shape.NORMAL)
    if others:
        result += replace(spread, effects=others, others={}).draw(rng, count).T
    return result


def noise_of_measure(
    measure: Measure, value: float, shape: Floats, spread: Spread, rng: np.random.Generator, trials: int
) -> Noise:
    """Scatter, bias and interval of the measured ``value`` of the deviations ``shape`` (k,)."""
    errors = drawn_deviations(spread, measure, rng, trials)
    few = errors[:, : min(SCALES_TRIALS, errors.shape[1] // 2)]
    return noise_of_sizes(value, lambda sizes, some: _values_at_sizes(measure, shape, sizes, some), errors, few)


def _values_at_sizes(measure: Measure, shape: Floats, sizes: Floats, errors: Floats) -> Floats:
    """Values ``(m, t)`` of the deviations ``shape`` (k,) at ``sizes`` (m,), with the same errors (k, t) at each."""
    k, t = errors.shape
    at_once = max(1, TRIALS_AT_ONCE // t)
    parts = [sizes[i : i + at_once] for i in range(0, len(sizes), at_once)]
    return np.concatenate([
        values_of(measure, np.zeros(k), (np.outer(shape, part)[:, :, None] + errors[:, None]).reshape(k, -1))
        for part in parts
    ]).reshape(len(sizes), t)  # fmt: skip
