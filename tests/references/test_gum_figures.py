"""Uncertainties of the published examples, through the same Effect and Spread that surveys use.

Source: JCGM 100:2008 (GUM), annex H, as recorded in gum-h1-end-gauge.json and gum-h3-line-fit.json, which say what was
seen and what is from memory. Where a figure stands below without a record, it is from memory. Tolerances are half a
unit in the last printed digit. The general-purpose libraries `uncertainties` and `GTC` are asked for the same figures.
"""

from __future__ import annotations

import json
from pathlib import Path

import GTC
import numpy as np
import pytest
import uncertainties
from uncertainties import umath

from scenes.uncertainty.degrees import coverage_factor, effective_dof
from scenes.uncertainty.distributions import ARCSINE, RECTANGULAR, dof_of_doubt
from scenes.uncertainty.formula import Input, effects_of_inputs, evaluate_formula, formula_spread
from scenes.uncertainty.propagate import Effect, Spread

RECORDS = Path(__file__).parents[2].parent / "shared" / "reference"
FEW_TRIALS = 1_000  # where only the linear figures are looked at
ROUNDING = 12.0 * float(np.spacing(5e7))
"""Of slopes times u in H.1: spacing of float64 at 5e7 nm, times 18 / 12 over a step of an eighth of u."""


def record(name: str) -> dict:
    path = RECORDS / f"{name}.json"
    if not path.exists():
        pytest.skip(f"the recorded figures {path.name} are not beside the repository")
    return json.loads(path.read_text(encoding="utf-8"))


def end_gauge(x: np.ndarray) -> np.ndarray:
    """H.1: length of a gauge from its difference to a standard, with their expansion; nm, 1/K, K."""
    standard, difference, expansion_apart, warm, expansion, warm_apart = x.T
    return standard + difference - standard * (expansion_apart * warm + expansion * warm_apart)


def recorded_inputs(figure: dict) -> list[Input]:
    given = {name: row for name, row in figure["readings"].items() if name != "columns"}
    return [Input(name, value, u, np.inf if dof is None else dof) for name, (value, u, dof) in given.items()]


def test_h1_end_gauge() -> None:
    figure = record("gum-h1-end-gauge")
    expected = figure["expected"]
    rng = np.random.default_rng(1)
    result = evaluate_formula(end_gauge, recorded_inputs(figure), rng, probability=0.99, trials=FEW_TRIALS)
    assert result.value == pytest.approx(expected["l_nm"], abs=0.5)
    assert result.standard_uncertainty == pytest.approx(expected["u_c_nm"], abs=0.5)
    assert int(result.effective_dof) == expected["nu_eff"]
    assert result.coverage_factor == pytest.approx(expected["t99"], abs=0.005)
    assert result.expanded_uncertainty == pytest.approx(expected["U99_nm"], abs=0.5)
    assert result.second_order_uncertainty == pytest.approx(expected["u_c_with_second_order_nm"], abs=0.5)
    printed = record("jcgm101-9.5-gauge-block")["expected"]["GUF"]["interval99"]  # the same example, as a deviation
    assert np.array(result.interval) - 50e6 == pytest.approx(printed, abs=0.5)
    again = figure["computed_here"]  # a second evaluation of the recorded, rounded inputs, to its printed digits
    assert result.standard_uncertainty == pytest.approx(again["u_c_nm"], abs=ROUNDING)
    # Third differences of rounded values, 8 spacings over 2 / 8^3, times the slope of 25 nm, in a variance of 34^2.
    doubt = 25.0 * 8.0 * float(np.spacing(5e7)) / (2.0 / 8.0**3) / (2.0 * 34.0)
    assert result.second_order_uncertainty == pytest.approx(again["u_c_2nd_nm"], abs=doubt)
    assert result.effective_dof == pytest.approx(again["nu_eff"], abs=0.5e-3)
    assert [name for name, _ in result.budget] == ["ls", "dtheta", "d", "dalpha"]


def test_h1_from_its_limits_and_its_reliabilities() -> None:
    """The inputs as they are stated there, before rounding: limits, distributions, reliabilities (from memory)."""
    expected = record("gum-h1-end-gauge")["expected"]
    # Five readings with a pooled scatter of 13 nm; a comparator sure to 0.01 um at 95 % from six calibrations, and to
    # 0.02 um at three standard uncertainties, which is reliable to 25 %.
    u = np.array([13.0 / np.sqrt(5.0), 10.0 / float(coverage_factor(0.95, 5)), 20.0 / 3.0])
    dof = np.array([24.0, 5.0, dof_of_doubt(0.25)])
    assert u == pytest.approx([5.8, 3.9, 6.7], abs=0.05)
    difference, freedom = float(np.sqrt(np.sum(u**2))), float(effective_dof(u[:, None] ** 2, dof)[0])
    assert difference == pytest.approx(9.7, abs=0.05)
    assert freedom == pytest.approx(25.6, abs=0.05)
    warm = float(np.hypot(0.2, 0.5 / ARCSINE.half_width))
    assert warm == pytest.approx(0.41, abs=0.005)

    def limits(name: str, value: float, half_width: float, doubt: float = 0.0) -> Input:
        return Input(name, value, half_width / RECTANGULAR.half_width, dof_of_doubt(doubt), RECTANGULAR)

    inputs = [
        Input("ls", 50_000_623.0, 25.0, 18.0),
        Input("d", 215.0, difference, freedom),
        limits("dalpha", 0.0, 1e-6, 0.1),
        Input("theta", -0.1, warm),
        limits("alpha_s", 11.5e-6, 2e-6),
        limits("dtheta", 0.0, 0.05, 0.5),
    ]
    result = evaluate_formula(end_gauge, inputs, np.random.default_rng(2), probability=0.99, trials=FEW_TRIALS)
    assert [inputs[i].dof for i in (2, 5)] == pytest.approx([50.0, 2.0])
    assert result.standard_uncertainty == pytest.approx(expected["u_c_nm"], abs=0.5)
    assert int(result.effective_dof) == expected["nu_eff"]
    terms = [np.sqrt(result.second_order.variances[pair]) for pair in (("dalpha", "theta"), ("alpha_s", "dtheta"))]
    assert terms == pytest.approx(expected["second_order_terms_nm"], abs=0.05)
    assert result.second_order_uncertainty == pytest.approx(expected["u_c_with_second_order_nm"], abs=0.5)


SIMULTANEOUS = {  # V [V], I [A], phase [rad]: five sets read together
    "V": [5.007, 4.994, 5.005, 4.990, 4.999],
    "I": [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
    "phi": [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
}


def impedance(x: np.ndarray) -> np.ndarray:
    """H.2: resistance, reactance and impedance, ohm."""
    voltage, current, phase = x.T
    ratio = voltage / current
    return np.column_stack((ratio * np.cos(phase), ratio * np.sin(phase), ratio))


def test_h2_correlated_inputs_and_results() -> None:
    """Readings and figures of H.2 (tables H.2 and H.3) from memory.

    Sets that were read together make correlated means: each set is one effect that moves all three of them. The
    uncertainty of X is printed as 0.295 in our memory, where the libraries find 0.2956 as we do, so that its relative
    form is checked instead.
    """
    readings = np.array(list(SIMULTANEOUS.values()))
    count = readings.shape[1]
    off = (readings - readings.mean(axis=1, keepdims=True)) / np.sqrt(count * (count - 1))
    together = np.zeros(3, dtype=np.int64)
    effects = tuple(Effect(f"set {i + 1}", off[:, i], together, 1, "five sets", count - 1.0) for i in range(count))
    inputs = Spread(np.eye(3), effects, {})
    assert inputs.standard_uncertainty() == pytest.approx([0.0032, 0.0095e-3, 0.00075], rel=0.01)
    r = inputs.correlation()
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.36, 0.86, -0.65], abs=0.005)

    values, spread = formula_spread(impedance, readings.mean(axis=1), effects)
    assert values == pytest.approx([127.732, 219.847, 254.260], abs=0.0005)
    u = spread.standard_uncertainty()
    assert [u[0], u[2]] == pytest.approx([0.071, 0.236], abs=0.0005)
    assert u / values == pytest.approx([0.06e-2, 0.13e-2, 0.09e-2], abs=0.005e-2)
    r = spread.correlation()
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.588, -0.485, 0.993], abs=0.0005)

    v, i, phi = uncertainties.correlated_values(readings.mean(axis=1), np.cov(readings) / count)
    same = uncertainties.covariance_matrix([v / i * umath.cos(phi), v / i * umath.sin(phi), v / i])
    np.testing.assert_allclose(spread.covariance(), same, rtol=1e-8)


def test_h3_line_fit() -> None:
    figure = record("gum-h3-line-fit")
    data, expected = figure["readings"], figure["expected"]
    t, b = np.array(data["t_k"]) - data["t0"], np.array(data["b_k"])
    design = np.column_stack((np.ones(len(t)), t))
    gain = np.linalg.pinv(design)
    y = gain @ b
    residual = b - design @ y
    freedom = len(t) - 2
    s = float(np.sqrt(residual @ residual / freedom))
    scatter = Effect("scatter", np.full(len(t), s), np.arange(len(t)), len(t), "residuals", freedom)
    line = Spread(gain, (scatter,), {})
    at_30 = np.array([[1.0, 30.0 - data["t0"]]])
    predicted = line.through(at_30)
    u = line.standard_uncertainty()

    assert s == pytest.approx(expected["s"], abs=0.5e-4)
    assert (y[0], u[0]) == pytest.approx(expected["y1"], abs=0.5e-4)
    assert (y[1], u[1]) == pytest.approx(expected["y2"], abs=0.5e-5)
    assert line.correlation()[0, 1] == pytest.approx(expected["r"], abs=0.005)
    assert (float(at_30[0] @ y), predicted.standard_uncertainty()[0]) == pytest.approx(expected["b(30)"], abs=0.5e-4)
    assert [*line.effective_dof(), *predicted.effective_dof()] == pytest.approx([9.0] * 3)
    again = figure["computed_here"]
    assert (y[0], u[0]) == pytest.approx(again["y1"], abs=0.5e-7)
    assert line.correlation()[0, 1] == pytest.approx(again["r"], abs=0.5e-7)


def test_h3_line_fit_agrees_with_gtc() -> None:
    data = record("gum-h3-line-fit")["readings"]
    t, b = np.array(data["t_k"]) - data["t0"], np.array(data["b_k"])
    intercept, slope = GTC.type_a.line_fit(t.tolist(), b.tolist()).a_b
    design = np.column_stack((np.ones(len(t)), t))
    gain = np.linalg.pinv(design)
    residual = b - design @ gain @ b
    s = np.sqrt(residual @ residual / (len(t) - 2))
    line = Spread(gain, (Effect("scatter", np.full(len(t), s), np.arange(len(t)), len(t), "", len(t) - 2),), {})
    asked = [intercept, slope, intercept + 10.0 * slope]
    ours = line.through(np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 10.0]]))
    np.testing.assert_allclose(ours.standard_uncertainty(), [one.u for one in asked], rtol=1e-9)
    np.testing.assert_allclose(ours.effective_dof(), [one.df for one in asked], rtol=1e-9)
    assert ours.correlation()[0, 1] == pytest.approx(GTC.get_correlation(intercept, slope), abs=1e-9)


def test_coverage_factors_of_table_g2() -> None:
    """JCGM 100:2008, table G.2: Student t for 95 %, 95.45 % and 99 % (from memory)."""
    table = {1: (12.71, 13.97, 63.66), 4: (2.78, 2.87, 4.60), 9: (2.26, 2.32, 3.25), 16: (2.12, 2.17, 2.92),
             50: (2.01, 2.05, 2.68), np.inf: (1.960, 2.000, 2.576)}  # fmt: skip
    for dof, factors in table.items():
        for probability, factor in zip((0.95, 0.9545, 0.99), factors, strict=True):
            assert float(coverage_factor(probability, dof)) == pytest.approx(factor, abs=0.005)


FORMULAS = [
    # (a numpy formula, the same one for the libraries)
    (lambda x: x[:, 0] * x[:, 1] / x[:, 2], lambda _, a, b, c: a * b / c),
    (lambda x: np.sqrt(x[:, 0] ** 2 + x[:, 1] ** 2) - x[:, 2], lambda m, a, b, c: m.sqrt(a**2 + b**2) - c),
    (lambda x: np.exp(-x[:, 0] / x[:, 1]) * np.sin(x[:, 2]), lambda m, a, b, c: m.exp(-a / b) * m.sin(c)),
    (lambda x: np.arctan2(x[:, 0], x[:, 1]) + np.log(x[:, 2]), lambda m, a, b, c: m.atan2(a, b) + m.log(c)),
]


@pytest.mark.parametrize("number", range(len(FORMULAS)))
def test_formulas_agree_with_uncertainties_and_gtc(number: int) -> None:
    ours, theirs = FORMULAS[number]
    rng = np.random.default_rng(number)
    for _ in range(50):
        values, u, dof = rng.uniform(0.5, 3.0, 3), 10.0 ** rng.uniform(-9.0, -2.0, 3), rng.integers(2, 40, 3)
        inputs = [Input(name, *rest) for name, *rest in zip("abc", values, u, dof.astype(float), strict=True)]
        result, spread = formula_spread(ours, values, effects_of_inputs(inputs))
        one = theirs(umath, *(uncertainties.ufloat(*pair) for pair in zip(values, u, strict=True)))
        # Differences of numbers near 1 are rounded at 1e-16, against steps of an eighth of u = 1e-9 and more.
        assert result[0] == pytest.approx(one.n, rel=1e-12)
        assert spread.standard_uncertainty()[0] == pytest.approx(one.s, rel=1e-5)
        other = theirs(GTC, *(GTC.ureal(float(a), float(b), float(c)) for a, b, c in zip(values, u, dof, strict=True)))
        assert spread.standard_uncertainty()[0] == pytest.approx(other.u, rel=1e-5)
        assert spread.effective_dof()[0] == pytest.approx(other.df, rel=1e-4)
