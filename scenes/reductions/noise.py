"""What errors of the readings do to a peak-to-valley value: they only ever add to it, the more so the flatter the part.

The measured value W of a surface z is one draw of W(z + e). Which true surfaces would give it? Those of the measured
shape, made larger or smaller by a factor s, are tried: the true value is s W, where W(s z + e) has the measured value
as its mean (best value) or at the ends of its 95 % range (ends of the interval). Far from noise this is the usual
interval; at a nearly perfect surface it reaches down to zero, as it must.

Source: an interval by inverting a test (any text on statistics), along the one-parameter family of scaled shapes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..vectors import Floats

__all__ = ["NORMAL_95", "SCALES_TRIALS", "TAIL", "Noise", "noise_of_sizes", "square_root"]

SCALES_TRIALS = 2_000
"""Trials for each tried size of the surface."""

TAIL = 0.025

NORMAL_95 = 1.959963984540054
"""Standard deviations from the middle to the ends of a 95 % interval of a normal distribution."""


@dataclass(frozen=True, slots=True)
class Noise:
    """Effect of reading errors on a value; metres.

    Attributes
    ----------
    scatter : float
        Standard deviation of the value at the measured surface.
    bias : float
        Measured value less the best true value: by how much errors are likely to have raised it.
    low, high : float
        95 % interval of the true value.
    """

    scatter: float
    bias: float
    low: float
    high: float


def square_root(covariance: Floats) -> Floats:
    """Matrix ``(n, n)`` whose product with its transpose is the covariance; rounding below zero is taken as zero."""
    values, vectors = np.linalg.eigh(covariance)
    result: Floats = vectors * np.sqrt(np.clip(values, 0.0, None))
    return result


def noise_of_sizes(value: float, values_at: Callable[[Floats, Floats], Floats], errors: Floats, few: Floats) -> Noise:
    """Scatter, bias and interval of a measured ``value``.

    Parameters
    ----------
    values_at : callable
        Sizes ``(m,)`` of the shape (1: as measured) and errors ``(n, t)`` -> values ``(m, t)``.
    errors, few : (n, t) float
        Errors of the readings for the scatter, and for each tried size.
    """
    at_measured = values_at(np.ones(1), errors)[0]
    scatter = float(at_measured.std())
    if scatter == 0.0 or value == 0.0:
        return Noise(scatter, value if scatter else 0.0, 0.0 if scatter else value, value + 2.0 * scatter)
    reach = 4.0 * scatter / value
    lift = float(at_measured.mean() - value) / value
    scales = np.unique(np.clip(np.concatenate([[0.0], np.linspace(1.0 - lift - 2 * reach, 1.0 + reach, 9)]), 0, None))
    curves = np.array([_summary(values) for values in values_at(scales, few)])
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
