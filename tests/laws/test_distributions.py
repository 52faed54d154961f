"""Draws of errors: moments, limits and densities as stated."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from scenes.uncertainty.distributions import (
    ARCSINE,
    NORMAL,
    RECTANGULAR,
    TRIANGULAR,
    inexact_limits,
    student,
    trapezoidal,
)

SIGMAS = 6.0
"""Standard deviations of the sampling error that a mean over draws may be off: 2e-9 by chance."""

SHAPES = [NORMAL, RECTANGULAR, TRIANGULAR, ARCSINE, trapezoidal(0.3), inexact_limits(0.6)]
DRAWS = 200_000
DISTRIBUTIONS = [
    *SHAPES,
    trapezoidal(0.0),
    trapezoidal(1.0),
    inexact_limits(0.0),
    inexact_limits(1.0),
    trapezoidal(0.8),
]


@pytest.mark.parametrize("number", range(len(DISTRIBUTIONS)))
def test_draws_have_the_stated_moments_and_limits(number):
    one = DISTRIBUTIONS[number]
    x = one.draw(np.random.default_rng(number), (DRAWS, 1))[:, 0]
    for power, expected in ((1, 0.0), (2, 1.0), (3, 0.0), (4, one.fourth_moment)):
        assert abs(np.mean(x**power) - expected) <= SIGMAS * np.std(x**power) / np.sqrt(DRAWS), power
    if np.isfinite(one.half_width):
        reach = one.half_width * (1.0 + (one.parameter if one.shape == "inexact limits" else 0.0))
        assert np.abs(x).max() <= reach * (1.0 + 1e-15)
        assert np.abs(x).max() >= 0.9 * reach


def inexact_density(doubt: float) -> stats.rv_continuous:
    """Density of (1 + doubt U) V for U, V rectangular on -1..1: the mean of 1 / (2 w) over widths w that reach x."""

    class Curvilinear(stats.rv_continuous):
        def _pdf(self, x):
            low = np.maximum(np.abs(x), 1.0 - doubt)
            return np.log((1.0 + doubt) / low) / (4.0 * doubt)

    return Curvilinear(a=-1.0 - doubt, b=1.0 + doubt)


def test_draws_follow_their_densities():
    rng = np.random.default_rng(11)
    count, root = 20_000, np.sqrt
    cases = [
        (NORMAL, stats.norm()),
        (RECTANGULAR, stats.uniform(-root(3.0), 2.0 * root(3.0))),
        (TRIANGULAR, stats.triang(0.5, -root(6.0), 2.0 * root(6.0))),
        (ARCSINE, stats.arcsine(-root(2.0), 2.0 * root(2.0))),
        (student(4.0), stats.t(4.0)),
    ]
    half = trapezoidal(0.4).half_width
    cases.append((trapezoidal(0.4), stats.trapezoid(0.3, 0.7, -half, 2.0 * half)))
    for one, expected in cases:
        assert stats.kstest(one.draw(rng, (count, 1))[:, 0], expected.cdf).pvalue > 1e-4, one
        # The test tells them apart: none of them passes for the next best, a normal or a Student t of other freedom.
        other = stats.norm() if one is not NORMAL else stats.t(8.0)
        assert stats.kstest(one.draw(rng, (count, 1))[:, 0], other.cdf).pvalue < 1e-4, one
    one = inexact_limits(0.7)
    drawn = one.draw(rng, (2_000, 1))[:, 0] / one.half_width
    assert stats.kstest(drawn, inexact_density(0.7).cdf).pvalue > 1e-4


def test_one_estimate_makes_all_groups_of_a_student_t_too_small_together():
    x = student(6.0).draw(np.random.default_rng(5), (DRAWS, 2))
    product = x[:, 0] * x[:, 1]
    assert abs(product.mean()) <= SIGMAS * product.std() / np.sqrt(DRAWS)
    # Squares share an estimate: E x^2 y^2 = nu^2 / ((nu - 2) (nu - 4)) = 4.5; with one each (nu / (nu - 2))^2 = 2.25.
    assert np.mean(product**2) > 3.5
    alone = x[:, 0]
    assert np.std(alone) == pytest.approx(student(6.0).deviation, rel=0.02)


def test_shapes_that_cannot_be():
    for wrong in (-0.1, 1.1, np.nan):
        with pytest.raises(ValueError, match="0 to 1 times"):
            trapezoidal(wrong)
        with pytest.raises(ValueError, match="0 to 1 times"):
            inexact_limits(wrong)
    assert student(np.inf) == NORMAL
