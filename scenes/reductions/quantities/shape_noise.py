"""What errors do to a measure of many deviations: they only ever add to it, the more so the better the part.

The measured value W of a shape z is one draw of W(z + e). Shapes of the measured form at other sizes s are tried: the
true value is s W, where W(s z + e) has the measured value as its mean or at the ends of its 95 % range. The same idea
as in ``reductions.noise``, for any measure.

Source: an interval by inverting a test (any text on statistics), along the one-parameter family of scaled shapes.
"""

from __future__ import annotations

import numpy as np

from ...vectors import Floats
from ..noise import NORMAL_95, Noise, square_root
from .measures import Measure

__all__ = ["SLOW_SHARE", "drawn_deviations", "noise_of_measure", "values_of"]

TRIALS_AT_ONCE = 4_000
SCALES_TRIALS = 2_000
"""Trials for each tried size of the shape."""

SLOW_SHARE = 0.2
"""Measures that take long get this share of the trials."""

TAIL = 0.025


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
    at_measured = values_of(measure, shape, errors)
    scatter = float(at_measured.std())
    if scatter == 0.0 or value == 0.0:
        return Noise(scatter, value if scatter else 0.0, 0.0 if scatter else value, value + 2.0 * scatter)
    few = errors[:, : min(SCALES_TRIALS, errors.shape[1] // 2)]
    reach = 4.0 * scatter / value
    lift = float(at_measured.mean() - value) / value
    scales = np.unique(np.clip(np.concatenate([[0.0], np.linspace(1.0 - lift - 2 * reach, 1.0 + reach, 9)]), 0, None))
    curves = np.array([_summary(values_of(measure, s * shape, few)) for s in scales])
    low, best, high = (
        float(np.interp(value, np.maximum.accumulate(curves[:, column]), scales)) for column in (2, 1, 0)
    )
    # The measured shape holds noise already, so that its scaled copies put the upper end too low when noise is large.
    upper = max(value * high, value + NORMAL_95 * scatter)
    return Noise(scatter, value * max(0.0, 1.0 - best), value * low, upper)


def _summary(values: Floats) -> Floats:
    """Lower end, mean and upper end of the 95 % range."""
    low, high = np.quantile(values, [TAIL, 1.0 - TAIL])
    return np.array([low, values.mean(), high])
