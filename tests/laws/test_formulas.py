"""Formulas: gains are gradients, and terms of second order are what trials show."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.errors import GeometryError
from scenes.uncertainty.distributions import ARCSINE, NORMAL, RECTANGULAR, TRIANGULAR, inexact_limits, trapezoidal
from scenes.uncertainty.formula import Input, effects_of_inputs, evaluate_formula, formula_spread
from scenes.uncertainty.propagate import Effect

SIGMAS = 6.0
"""Standard deviations of the sampling error that a mean over trials may be off: 2e-9 by chance."""

SHAPES = [NORMAL, RECTANGULAR, TRIANGULAR, ARCSINE, trapezoidal(0.3), inexact_limits(0.6)]
seeds = st.integers(0, 2**32 - 1)


@settings(max_examples=200, deadline=None)
@given(seeds)
def test_the_gain_of_a_formula_is_its_gradient(seed):
    """A quadratic with a sine, at values far larger than their uncertainties."""
    rng = np.random.default_rng(seed)
    k = int(rng.integers(1, 6))
    bend, slope = rng.normal(size=(k, k)), rng.normal(size=k)
    values, u = rng.normal(size=k), 10.0 ** rng.uniform(-6, -2, k)

    def formula(x: np.ndarray) -> np.ndarray:
        return np.einsum("ni,ij,nj->n", x, bend, x) + np.sin(x @ slope)

    expected = (bend + bend.T) @ values + slope * np.cos(values @ slope)
    results, spread = formula_spread(
        formula, values, effects_of_inputs([Input("x", v, s) for v, s in zip(values, u, strict=True)])
    )
    assert results[0] == pytest.approx(formula(values[None])[0])
    np.testing.assert_allclose(spread.gain[0], expected, rtol=1e-7, atol=2e-8)


@settings(max_examples=200, deadline=None)
@given(seeds)
def test_second_order_is_exact_for_quadratic_formulas(seed):
    """Variance of a'e + e'Be for independent symmetric e, worked out by hand from fourth moments."""
    rng = np.random.default_rng(seed)
    k = int(rng.integers(1, 5))
    kinds = [SHAPES[i] for i in rng.integers(0, len(SHAPES), k)]
    slope, bend, u = rng.normal(size=k), rng.normal(size=(k, k)), rng.uniform(0.5, 2.0, k)
    bend = bend + bend.T
    values = rng.normal(size=k)

    def formula(x: np.ndarray) -> np.ndarray:
        e = x - values
        return e @ slope + np.einsum("ni,ij,nj->n", e, bend, e)

    inputs = [
        Input(f"x{i}", v, s, distribution=kind) for i, (v, s, kind) in enumerate(zip(values, u, kinds, strict=True))
    ]
    result = evaluate_formula(formula, inputs, rng, trials=1000)
    scaled = bend * np.outer(u, u)
    fourth = np.array([kind.fourth_moment for kind in kinds])
    across = 2.0 * (np.sum(scaled**2) - np.sum(np.diag(scaled) ** 2))
    expected = np.sum((slope * u) ** 2) + np.sum((fourth - 1.0) * np.diag(scaled) ** 2) + across
    assert result.second_order_uncertainty**2 == pytest.approx(expected, rel=1e-9)
    assert result.second_order.shift == pytest.approx(np.trace(scaled), rel=1e-9, abs=1e-9)


def test_second_order_agrees_with_trials_where_linear_propagation_does_not():
    """A cosine at its top, a product of two errors, and a sine, whose term of third derivatives is below zero."""
    cases = [
        (lambda x: np.cos(x[:, 0]), [Input("a", 0.0, 0.1, distribution=RECTANGULAR)]),
        (lambda x: x[:, 0] * x[:, 1], [Input("a", 0.0, 1.0), Input("b", 0.0, 2.0, distribution=ARCSINE)]),
        (lambda x: np.sin(x[:, 0]), [Input("a", 0.0, 0.3)]),
    ]
    trials = 200_000
    for number, (formula, inputs) in enumerate(cases):
        result = evaluate_formula(formula, inputs, np.random.default_rng(number), trials=trials)
        drawn = result.monte_carlo
        # The next term is largest for the sine: 2/3 u^6 of u^2, 0.3 % of u; sampling adds 6 x 0.16 %.
        left_out = 0.01 * drawn.standard_uncertainty
        assert result.second_order_uncertainty == pytest.approx(drawn.standard_uncertainty, abs=left_out)
        doubt = SIGMAS * drawn.standard_uncertainty / np.sqrt(trials)
        assert result.value + result.second_order.shift == pytest.approx(drawn.mean, abs=left_out + doubt)
        assert abs(result.standard_uncertainty - drawn.standard_uncertainty) > 4.0 * left_out


def test_errors_that_inputs_share_go_through_a_formula():
    """The difference of two lengths under one scale error does not feel it; their sum feels it twice."""
    scale = Effect("scale", np.array([1e-3, 1e-3]), np.zeros(2, dtype=np.int64), 1, "")
    inputs = [Input("a", 1.0, 1e-4), Input("b", 1.0, 1e-4)]
    rng = np.random.default_rng(9)
    apart = evaluate_formula(lambda x: x[:, 0] - x[:, 1], inputs, rng, shared=(scale,), trials=20_000)
    added = evaluate_formula(lambda x: x[:, 0] + x[:, 1], inputs, rng, shared=(scale,), trials=20_000)
    assert apart.standard_uncertainty == pytest.approx(np.sqrt(2.0) * 1e-4, rel=1e-9)
    assert added.standard_uncertainty == pytest.approx(np.hypot(2e-3, np.sqrt(2.0) * 1e-4), rel=1e-9)
    for result in (apart, added):
        assert result.monte_carlo.standard_uncertainty == pytest.approx(result.standard_uncertainty, rel=SIGMAS / 200.0)
    square = evaluate_formula(lambda x: (x[:, 0] + x[:, 1]) ** 2, inputs, rng, shared=(scale,), trials=20_000)
    assert square.second_order.variances["scale", "scale"] == pytest.approx(0.5 * (2.0 * 2e-3**2) ** 2, rel=1e-5)


def test_exact_inputs_and_several_results():
    inputs = [Input("a", 2.0, 0.1), Input("zero", 0.0, 0.0)]
    values = np.array([2.0, 0.0])

    def both(x: np.ndarray) -> np.ndarray:
        return np.column_stack((x[:, 0] + x[:, 1], 3.0 * x[:, 0]))

    results, spread = formula_spread(both, values, effects_of_inputs(inputs))
    assert results.tolist() == [2.0, 6.0]
    np.testing.assert_allclose(spread.gain, [[1.0, 0.0], [3.0, 0.0]], rtol=1e-12)
    np.testing.assert_allclose(spread.correlation(), np.ones((2, 2)), rtol=1e-12)
    with pytest.raises(ValueError, match="one result was expected, not 2"):
        evaluate_formula(both, inputs, np.random.default_rng(0))
    certain = evaluate_formula(lambda x: x[:, 1], inputs[1:] * 2, np.random.default_rng(0))
    assert certain.standard_uncertainty == 0.0
    assert certain.monte_carlo.settled
    assert certain.linear_suffices


def test_formulas_that_cannot_be_evaluated_explain_themselves():
    rng = np.random.default_rng(0)
    with pytest.raises(GeometryError, match="no finite value for"), np.errstate(invalid="ignore"):
        evaluate_formula(lambda x: np.sqrt(x[:, 0]), [Input("a", 0.5, 0.3)], rng, trials=10_000)
    with pytest.raises(ValueError, match="one result, or one row of results"):
        evaluate_formula(lambda x: x.sum(), [Input("a", 0.5, 0.3)], rng)
