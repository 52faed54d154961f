"""Monte Carlo trials: coverage intervals, their tolerance, and when they are enough."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.uncertainty.formula import Input, evaluate_formula
from scenes.uncertainty.monte_carlo import adaptive_trials, coverage_intervals, fixed_trials, numerical_tolerance

seeds = st.integers(0, 2**32 - 1)
many = settings(max_examples=1000, deadline=None)


def test_intervals_of_counted_values():
    """1..1000 in any order: 950 values inside, the symmetric interval in the middle, all intervals equally short."""
    values = np.random.default_rng(0).permutation(np.arange(1.0, 1001.0))
    symmetric, shortest = coverage_intervals(values, 0.95)
    assert symmetric == (25.0, 975.0)
    assert shortest == (1.0, 951.0)
    skew = values**2
    assert coverage_intervals(skew, 0.95) == ((25.0**2, 975.0**2), (1.0, 951.0**2))
    for few in (1, 9):
        with pytest.raises(ValueError, match="too few"):
            coverage_intervals(values[:few], 0.95)


@many
@given(seeds, st.integers(30, 300), st.floats(0.05, 0.95))
def test_intervals_hold_their_share_and_the_shortest_is_no_longer(seed, count, probability):
    values = np.random.default_rng(seed).gamma(2.0, 1.0, count)
    symmetric, shortest = coverage_intervals(values, probability)
    for low, high in (symmetric, shortest):
        inside = np.count_nonzero((values >= low) & (values <= high))
        assert inside - 1 == int(probability * count + 0.5)
    assert np.diff(shortest)[0] <= np.diff(symmetric)[0]
    below, above = np.count_nonzero(values < symmetric[0]), np.count_nonzero(values > symmetric[1])
    assert abs(below - above) <= 1


def test_tolerance_is_half_a_unit_in_the_last_digit():
    cases = [
        (35.8, 2, 0.5),
        (2.0, 2, 0.05),
        (0.00035, 2, 0.5e-5),
        (0.00035, 1, 0.5e-4),
        (9.96, 2, 0.5),
        (1234.0, 1, 500.0),
    ]
    for u, digits, expected in cases:
        assert numerical_tolerance(u, digits) == pytest.approx(expected)
    assert numerical_tolerance(0.0) == 0.0
    assert numerical_tolerance(np.inf) == 0.0


def test_settled_figures_are_as_good_as_they_claim():
    """Adaptive runs on a known quantity: an end of the interval is off by more than the tolerance in 5 % of them."""
    truth = np.array([5.0 - 5.0 * 1.959964, 5.0 + 5.0 * 1.959964])
    runs = [adaptive_trials(lambda rng, t: rng.normal(5.0, 5.0, t), np.random.default_rng(i), 0.95) for i in range(30)]
    assert all(one.settled for one in runs)
    assert {one.tolerance for one in runs} <= {0.05, numerical_tolerance(4.99)}
    assert len({one.trials for one in runs}) > 3  # it is the trials that say when to stop
    off = sum(bool(np.any(np.abs(np.array(one.symmetric) - truth) > one.tolerance)) for one in runs)
    assert off <= 7  # of 30 at up to 10 % for both ends: more has a chance below 1 %


def test_trials_that_do_not_suffice_say_so():
    def draw(rng: np.random.Generator, trials: int) -> np.ndarray:
        return rng.normal(0.0, 1.0, trials)

    short = adaptive_trials(draw, np.random.default_rng(0), 0.95, digits=4, most=150_000)
    assert not short.settled
    assert short.trials == 150_000
    assert not fixed_trials(draw, np.random.default_rng(0), 0.95, 100).settled
    assert not fixed_trials(draw, np.random.default_rng(0), 0.95, 10_000, digits=3).settled
    assert fixed_trials(draw, np.random.default_rng(0), 0.95, 200_000, digits=1).settled
    same = [fixed_trials(draw, np.random.default_rng(3), 0.95, 50_000) for _ in range(2)]
    assert same[0] == same[1]


def test_without_a_standard_deviation_there_are_intervals_only():
    """Student t with 2 degrees of freedom: its trials have no standard deviation to converge to."""
    result = evaluate_formula(lambda x: x[:, 0], [Input("a", 0.0, 1.0, dof=2.0)], np.random.default_rng(2), digits=1)
    drawn = result.monte_carlo
    assert np.isinf(drawn.standard_uncertainty)
    assert np.isnan(drawn.mean)
    assert drawn.settled
    assert drawn.symmetric == pytest.approx([-4.3027, 4.3027], abs=drawn.tolerance)
    assert result.expanded_uncertainty == pytest.approx(4.3027, abs=5e-5)
