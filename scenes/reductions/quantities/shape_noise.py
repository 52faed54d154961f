"""What errors do to a measure of many deviations: they only ever add to it, the more so the better the part.

The interval is that of ``reductions.noise``, for any measure.
"""

from __future__ import annotations

import numpy as np

from ...vectors import Floats
from ..noise import SCALES_TRIALS, Noise, noise_of_sizes, square_root
from .measures import Measure

__all__ = ["SLOW_SHARE", "drawn_deviations", "noise_of_measure", "values_of"]

TRIALS_AT_ONCE = 4_000

SLOW_SHARE = 0.2
"""Measures that take long get this share of the trials."""


def values_of(measure: Measure, shape: Floats, errors: Floats) -> Floats:
    """Values ``(t,)`` of the deviations ``shape`` (k,) with ``errors`` (k, t) added, in blocks of cache size."""
    return np.concatenate([
        measure.of_trials(shape[:, None] + errors[:, i : i + TRIALS_AT_ONCE])
        for i in range(0, errors.shape[1], TRIALS_AT_ONCE)
    ])  # fmt: skip


def drawn_deviations(covariance: Floats, measure: Measure, rng: np.random.Generator, trials: int) -> Floats:
    """Errors ``(k, t)`` of deviations with a covariance ``(k, k)``; fewer than ``trials`` for a slow measure."""
    count = trials if measure.quick else max(500, round(SLOW_SHARE * trials))
    result: Floats = square_root(covariance) @ rng.standard_normal((len(covariance), count))
    return result


def noise_of_measure(
    measure: Measure, value: float, shape: Floats, covariance: Floats, rng: np.random.Generator, trials: int
) -> Noise:
    """Scatter, bias and interval of the measured ``value`` of the deviations ``shape`` (k,)."""
    errors = drawn_deviations(covariance, measure, rng, trials)
    few = errors[:, : min(SCALES_TRIALS, errors.shape[1] // 2)]
    return noise_of_sizes(value, lambda size, some: values_of(measure, size * shape, some), errors, few)
