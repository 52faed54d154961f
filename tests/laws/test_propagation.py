"""Law 18: linear propagation and Monte Carlo agree; and what propagation by source keeps to, whatever is measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from scenes.uncertainty.degrees import coverage_factor, effective_dof
from scenes.uncertainty.distributions import (
    ARCSINE,
    NORMAL,
    RECTANGULAR,
    TRIANGULAR,
    Distribution,
    inexact_limits,
    student,
    trapezoidal,
)
from scenes.uncertainty.propagate import Effect, Spread, drawn_errors

SHAPES = [NORMAL, RECTANGULAR, TRIANGULAR, ARCSINE, trapezoidal(0.3), inexact_limits(0.6)]
SIGMAS = 6.0
"""Standard deviations of the sampling error that a mean over trials may be off: 2e-9 by chance."""

seeds = st.integers(0, 2**32 - 1)
many = settings(max_examples=1000, deadline=None)


def some_spread(rng: np.random.Generator, distributions: list[Distribution] | None = None) -> Spread:
    """A random spread: private and shared effects, numbers of groups with gaps, names used twice, errors beside."""
    n, m = int(rng.integers(1, 5)), int(rng.integers(1, 9))
    effects = []
    for i in range(int(rng.integers(1, 6))):
        kind = rng.integers(3)
        group = [np.arange(m), np.zeros(m, dtype=np.int64), rng.integers(0, m + 2, m)][kind]
        one = NORMAL if distributions is None else distributions[rng.integers(len(distributions))]
        size = rng.normal(0.0, 10.0 ** rng.uniform(-1, 1), m) * (rng.random(m) < 0.9)
        effects.append(Effect(f"source {i % 4}", size, group, int(group.max()) + 1, "", one.dof, one))
    others = {"beside": rng.normal(size=(n, 2))} if rng.random() < 0.5 else {}
    return Spread(rng.normal(size=(n, m)), tuple(effects), others)


def test_linear_propagation_and_monte_carlo_agree():
    """Means of products of drawn errors against J S J^T, in sampling errors of those means."""
    trials, wide = 20_000, [*SHAPES, student(12.0)]
    for seed in range(60):
        rng = np.random.default_rng(seed)
        spread = some_spread(rng, wide)
        drawn = spread.draw(rng, trials)
        assert np.all(np.abs(drawn.mean(axis=0)) <= SIGMAS * drawn.std(axis=0) / np.sqrt(trials))
        # Linear propagation carries the scale of a Student t; its draws are wider by a known factor.
        widened = tuple(replace(one, size=one.size * one.drawn.deviation) for one in spread.effects)
        off, doubt = departure(drawn, replace(spread, effects=widened))
        assert np.all(off <= SIGMAS * doubt)


def departure(drawn: np.ndarray, spread: Spread) -> tuple[np.ndarray, np.ndarray]:
    """How far mean products of drawn errors are from the covariance, and the standard deviation of those means."""
    products = drawn[:, :, None] * drawn[:, None, :]
    return np.abs(products.mean(axis=0) - spread.covariance()), products.std(axis=0) / np.sqrt(len(drawn)) + 1e-300


def test_the_agreement_would_not_survive_a_shared_error_taken_as_private():
    rng = np.random.default_rng(1)
    m, size = 6, np.full(6, 2.0)
    shared = Effect("drift", size, np.zeros(m, dtype=np.int64), 1, "")
    private = replace(shared, group=np.arange(m), groups=m)
    gain = rng.normal(size=(3, m))
    drawn = Spread(gain, (shared,), {}).draw(rng, 20_000)
    off, doubt = departure(drawn, Spread(gain, (private,), {}))
    assert np.max(off / doubt) > 5.0 * SIGMAS


@many
@given(seeds)
def test_variances_by_source_are_the_diagonal_of_the_covariance(seed):
    spread = some_spread(np.random.default_rng(seed))
    covariance = spread.covariance()
    total = np.diag(covariance)
    np.testing.assert_allclose(sum(spread.variances().values()), total, rtol=1e-9, atol=1e-12 * np.max(total))
    np.testing.assert_allclose(spread.standard_uncertainty() ** 2, total, rtol=1e-9, atol=1e-12 * np.max(total))
    assert set(spread.variances()) == set(spread.names)
    r = spread.correlation()
    assert np.all(np.diag(r) == 1.0)
    u = spread.standard_uncertainty()
    np.testing.assert_allclose(r * np.outer(u, u), covariance, atol=1e-9 * np.max(total) + 1e-300)
    assert np.linalg.eigvalsh(r).min() > -1e-9


@many
@given(seeds)
def test_results_of_results_follow_their_jacobian(seed):
    rng = np.random.default_rng(seed)
    spread = some_spread(rng)
    first = rng.normal(size=(3, len(spread.gain)))
    second = rng.normal(size=(2, 3))
    expected = first @ spread.covariance() @ first.T
    scale = np.linalg.norm(first, axis=1).max() ** 2 * np.trace(spread.covariance())
    np.testing.assert_allclose(spread.through(first).covariance(), expected, rtol=1e-9, atol=1e-12 * scale)
    once, twice = spread.through(second @ first), spread.through(first).through(second)
    np.testing.assert_allclose(twice.covariance(), once.covariance(), rtol=1e-9, atol=1e-11 * scale)
    same = np.eye(len(spread.gain))
    np.testing.assert_array_equal(spread.through(same).covariance(), spread.covariance())


@many
@given(seeds)
def test_one_more_effect_never_lowers_a_variance(seed):
    rng = np.random.default_rng(seed)
    spread = some_spread(rng)
    more = some_spread(np.random.default_rng(seed + 1)).effects[0]
    m = spread.gain.shape[1]
    more = replace(more, size=np.resize(more.size, m), group=np.resize(more.group, m))
    grown = replace(spread, effects=(*spread.effects, more))
    assert np.all(grown.standard_uncertainty() >= spread.standard_uncertainty())
    added = grown.covariance() - spread.covariance()
    assert np.linalg.eigvalsh(added).min() >= -1e-9 * np.trace(grown.covariance())


@many
@given(seeds)
def test_what_rows_share_cancels_in_their_differences(seed):
    """Exactly for one difference; to rounding for all results whose gains sum to zero within each group."""
    rng = np.random.default_rng(seed)
    m = int(rng.integers(2, 10))
    shared = Effect("drift", np.full(m, 10.0 ** rng.uniform(-6, 3)), np.full(m, 7), 8, "")
    difference = np.zeros((1, m))
    difference[0, :2] = 1.0, -1.0
    assert Spread(difference, (shared,), {}).standard_uncertainty()[0] == 0.0
    assert Spread(difference, (shared,), {}).covariance()[0, 0] == 0.0
    assert np.all(Spread(difference, (shared,), {}).draw(rng, 5) == 0.0)
    group = rng.integers(0, 3, m)
    gain = rng.normal(size=(3, m))
    sums = np.zeros((3, 3))
    np.add.at(sums.T, group, gain.T)
    gain -= sums[:, group] / np.bincount(group, minlength=3)[group]
    set_ups = replace(shared, group=group, groups=3)
    assert np.all(Spread(gain, (set_ups,), {}).standard_uncertainty() <= 1e-13 * m * shared.size[0])
    apart = replace(shared, group=np.arange(m), groups=m)
    assert Spread(difference, (apart,), {}).standard_uncertainty()[0] == pytest.approx(np.sqrt(2.0) * shared.size[0])


@many
@given(seeds)
def test_numbers_of_groups_have_no_meaning(seed):
    """Renumbered, also with gaps and up to the very number of rows, a source does what it did."""
    rng = np.random.default_rng(seed)
    spread = some_spread(rng)
    label = rng.permutation(50)
    renamed = tuple(replace(one, group=label[one.group], groups=50) for one in spread.effects)
    again = replace(spread, effects=renamed)
    scale = np.trace(spread.covariance())
    np.testing.assert_allclose(again.covariance(), spread.covariance(), rtol=1e-12, atol=1e-13 * scale)
    np.testing.assert_allclose(again.standard_uncertainty(), spread.standard_uncertainty(), rtol=1e-12)
    assert [one.apart for one in renamed] == [one.apart for one in spread.effects]
    m = spread.gain.shape[1]
    last = Effect("drift", np.ones(m), np.full(m, m - 1), m, "")
    assert last.apart == (m == 1)


@many
@given(seeds)
def test_a_source_in_two_halves_counts_as_before(seed):
    rng = np.random.default_rng(seed)
    spread = some_spread(rng)
    halves = tuple(replace(one, size=one.size * np.sqrt(0.5)) for one in spread.effects for _ in range(2))
    again = replace(spread, effects=halves)
    for name, part in spread.variances().items():
        np.testing.assert_allclose(again.variances()[name], part, rtol=1e-12)


# Degrees of freedom


@many
@given(seeds)
def test_effective_degrees_of_freedom_lie_between_the_least_and_the_sum(seed):
    rng = np.random.default_rng(seed)
    q = int(rng.integers(1, 6))
    variances, dof = 10.0 ** rng.uniform(-12, 6, (q, 3)), rng.uniform(1.0, 50.0, q)
    nu = effective_dof(variances, dof)
    assert np.all(nu >= dof.min() * (1.0 - 1e-12))
    assert np.all(nu <= dof.sum() * (1.0 + 1e-12))
    np.testing.assert_allclose(effective_dof(1e-9 * variances, dof), nu, rtol=1e-12)
    assert np.all(effective_dof(np.vstack((variances, variances[:1])), np.append(dof, np.inf)) >= nu)
    np.testing.assert_allclose(effective_dof(variances[:1], dof[:1]), dof[0])


def test_one_estimate_behind_many_readings_keeps_its_degrees_of_freedom():
    """Readings with one pooled scatter: every result has the degrees of freedom of that scatter, not their sum."""
    rng = np.random.default_rng(3)
    scatter = Effect("scatter", np.full(8, 0.3), np.arange(8), 8, "", 5.0)
    spread = Spread(rng.normal(size=(4, 8)), (scatter,), {})
    np.testing.assert_allclose(spread.effective_dof(), 5.0)
    np.testing.assert_array_equal(
        spread.expanded_uncertainty(0.95), coverage_factor(0.95, 5) * spread.standard_uncertainty()
    )
    exact = Spread(np.zeros((1, 8)), (scatter,), {})
    assert exact.effective_dof()[0] == np.inf
    assert exact.expanded_uncertainty(0.95)[0] == 0.0
    assert Spread(np.zeros((2, 0)), (), {}).effective_dof().tolist() == [np.inf, np.inf]
    beside = Spread(np.zeros((1, 8)), (scatter,), {"beside": np.ones((1, 1))})
    assert beside.effective_dof()[0] == np.inf


@settings(max_examples=300, deadline=None)
@given(st.floats(0.01, 0.999), st.floats(0.1, 1e6), st.floats(1.0, 10.0))
def test_more_degrees_of_freedom_never_widen_an_interval(probability, dof, grown):
    assert coverage_factor(probability, dof * grown) <= coverage_factor(probability, dof) * (1.0 + 1e-12)
    assert coverage_factor(probability) <= coverage_factor(probability, dof) * (1.0 + 1e-12)
    assert coverage_factor(probability) == pytest.approx(stats.norm.ppf(0.5 + probability / 2.0), rel=1e-12)
    whole = np.floor(dof) if dof > 1.0 else dof
    assert coverage_factor(probability, dof) == pytest.approx(stats.t.ppf(0.5 + probability / 2.0, whole), rel=1e-9)


def test_degrees_of_freedom_that_cannot_be():
    for wrong in (0.0, -1.0, np.nan):
        with pytest.raises(ValueError, match="above 0"):
            coverage_factor(0.95, wrong)
        with pytest.raises(ValueError, match="above 0"):
            student(wrong)
    for wrong in (0.0, 1.0, -0.5):
        with pytest.raises(ValueError, match="between 0 and 1"):
            coverage_factor(wrong)


# Draws


def test_a_normal_error_with_few_degrees_of_freedom_is_drawn_wider():
    effect = Effect("scatter", np.ones(1), np.zeros(1, dtype=np.int64), 1, "", 5.0)
    assert effect.drawn == student(5.0)
    assert replace(effect, dof=np.inf).drawn == NORMAL
    assert replace(effect, distribution=RECTANGULAR).drawn == RECTANGULAR
    stated = replace(effect, dof=np.inf, distribution=student(7.0))
    assert (stated.drawn, stated.freedom) == (student(7.0), 7.0)
    assert Spread(np.ones((1, 1)), (stated,), {}).effective_dof()[0] == pytest.approx(7.0)


def test_errors_are_drawn_row_by_row_from_their_groups():
    rng = np.random.default_rng(4)
    group = np.array([3, 0, 3, 9])
    effect = Effect("seat", np.array([1.0, 2.0, -3.0, 0.0]), group, 10, "")
    errors = drawn_errors((effect,), 4, rng, 1000)
    assert errors.shape == (1000, 4)
    np.testing.assert_allclose(errors[:, 2], -3.0 * errors[:, 0])
    assert np.all(errors[:, 3] == 0.0)
    assert abs(np.corrcoef(errors[:, 0], errors[:, 1])[0, 1]) < 0.2
