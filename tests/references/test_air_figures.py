"""Index of air, its slopes, the drop of a beam and the round Earth, against figures from outside.

Tolerances are half a unit in the last printed digit.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from scenes.tracing.air import bend, gradient_of_weight
from scenes.tracing.air_index import air_density, index_slopes, refractive_index, vapour_pressure
from scenes.tracing.earth import EARTH_RADIUS, level_drop

RECORDS = Path(__file__).parents[2].parent / "shared" / "reference"
ZERO_CELSIUS = 273.15


def record(name: str) -> dict:
    path = RECORDS / f"{name}.json"
    if not path.exists():
        pytest.skip(f"the recorded figures {path.name} are not beside the repository")
    return json.loads(path.read_text(encoding="utf-8"))


def column(rows: list[dict], key: str) -> np.ndarray:
    return np.array([row[key] for row in rows])


def edlen(wavelength: np.ndarray, temperature: np.ndarray, pressure: np.ndarray, humidity: np.ndarray) -> np.ndarray:
    """Index of air by the other formula in use, which knows nothing of densities.

    Source: K. P. Birch and M. J. Downs, Metrologia 30 (1993) 155 and 31 (1994) 315, with the vapour term of Stone and
    Zimmerman, NIST Engineering Metrology Toolbox (constants from memory).
    """
    s, t = (1e-6 / wavelength) ** 2, temperature - ZERO_CELSIUS
    standard = 1e-8 * (8342.54 + 2406147.0 / (130.0 - s) + 15998.0 / (38.9 - s))
    dense = (1.0 + 1e-8 * (0.601 - 0.00972 * t) * pressure) / (1.0 + 0.003661 * t)
    vapour = humidity * vapour_pressure(temperature)
    return 1.0 + pressure * standard * dense / 96095.43 - 1e-10 * 292.75 / temperature * (3.7345 - 0.0401 * s) * vapour


def test_index_of_the_nist_tables() -> None:
    """Values of the NIST Engineering Metrology Toolbox (Stone and Zimmerman) as recorded, nine decimals."""
    rows = record("air-index-nist-a")["points"]
    air = (
        column(rows, "wavelength_nm") * 1e-9,
        column(rows, "t_C") + ZERO_CELSIUS,
        column(rows, "p_kPa") * 1e3,
        column(rows, "RH_percent") / 100.0,
    )
    assert len(rows) >= 9
    np.testing.assert_allclose(refractive_index(*air), column(rows, "n_ciddor"), rtol=0.0, atol=0.5e-9)
    # the other column checks the cross-check: the constants that stand here from memory
    np.testing.assert_allclose(edlen(*air), column(rows, "n_edlen_modified"), rtol=0.0, atol=0.5e-9)


def test_slopes_at_20_degrees() -> None:
    """As recorded: computed by an independent implementation of Ciddor's equation, four to five digits."""
    rows = record("air-index-sensitivities")["points"]
    wavelength = column(rows, "wavelength_nm") * 1e-9
    np.testing.assert_allclose(refractive_index(wavelength, 293.15), column(rows, "n"), rtol=0.0, atol=0.5e-9)
    slopes = index_slopes(wavelength, 293.15)
    np.testing.assert_allclose(slopes.per_kelvin, column(rows, "dn_dT"), rtol=0.0, atol=0.5e-11)
    np.testing.assert_allclose(slopes.per_pascal, column(rows, "dn_dp"), rtol=0.0, atol=0.5e-13)
    np.testing.assert_allclose(slopes.per_humidity / 100.0, column(rows, "dn_dRH"), rtol=0.0, atol=0.5e-12)


def test_drop_of_a_beam_in_one_kelvin_per_metre() -> None:
    """Drop and turn at 650 nm as recorded in air-index-sensitivities (there with the divisor n)."""
    said = record("air-index-sensitivities")["expected"]["beam_sag"]
    assert "0.477 um at 1 m, 11.9 um at 5 m, 47.7 um at 10 m, 190.8 um at 20 m; angle 9.54 urad after 10 m" in said
    curvature = bend(np.array([1.0, 0.0, 0.0]), np.array(1.0), 293.15, wavelength=650e-9)[2]
    drops = -0.5e6 * curvature * np.array([1.0, 5.0, 10.0, 20.0]) ** 2
    assert np.all(np.abs(drops - [0.477, 11.9, 47.7, 190.8]) <= [0.0005, 0.05, 0.05, 0.05])
    assert -10e6 * curvature == pytest.approx(9.54, abs=0.005)


def test_the_two_formulas_agree_in_halls() -> None:
    """Ciddor's equation and that of Edlen, each known to 1e-8, agree within that; their slopes within 0.2 %.

    The slopes are what bends a beam. The equations share the vapour pressure and nothing else.
    """
    rng = np.random.default_rng(1)
    n = 2000
    light, t, p = rng.uniform(0.5e-6, 0.9e-6, n), rng.uniform(283.15, 308.15, n), rng.uniform(90e3, 105e3, n)
    rh = rng.uniform(0.1, 0.8, n)
    assert np.max(np.abs(refractive_index(light, t, p, rh) - edlen(light, t, p, rh))) < 1e-8
    step = 0.05
    slope = (edlen(light, t + step, p, rh) - edlen(light, t - step, p, rh)) / (2.0 * step)
    np.testing.assert_allclose(index_slopes(light, t, p, rh).per_kelvin, slope, rtol=2e-3)


def test_vapour_pressure() -> None:
    """IAPWS industrial formulation of 1997, table of check values of region 4; triple point of water (from memory)."""
    check = vapour_pressure(np.array([300.0, 500.0, 600.0]))
    assert np.all(np.abs(check - [3536.58941, 2638897.76, 12344314.6]) <= [0.5e-5, 0.5e-2, 0.5e-1])
    assert float(vapour_pressure(np.array(273.16))) == pytest.approx(611.657, abs=5e-4)
    # over ice and over water they meet at the triple point, 0.01 K above the change from one to the other
    below = float(vapour_pressure(np.array(np.nextafter(273.15, 0.0))))
    assert below == pytest.approx(float(vapour_pressure(np.array(273.15))), rel=1.5e-4)
    assert float(vapour_pressure(np.array(263.15))) == pytest.approx(259.9, abs=0.05)  # over ice, tables of meteorology


def test_density_and_lapse_of_air() -> None:
    """Dry air at 0 degC and 101.325 kPa, 1.293 kg/m^3; lapse at which its density is even, 34.2 K/km (textbooks)."""
    assert float(air_density(273.15, humidity=0.0)) == pytest.approx(1.293, abs=0.5e-3)
    # the lapse of the textbooks, g M / R, is that of an ideal gas, which thin air is; compressibility makes 0.2 %
    assert float(gradient_of_weight(293.15, pressure=10e3, humidity=0.0)) == pytest.approx(34.2e-3, abs=0.05e-3)
    assert float(gradient_of_weight(293.15, humidity=0.0)) == pytest.approx(9.80665 * 0.028964 / 8.3145, rel=3e-3)


def test_carbon_dioxide() -> None:
    """150 ppm more raise the index by 2 in 10^8 (Stone and Zimmerman, from memory).

    They take the place of oxygen: 44.0095 g instead of 31.9988 g per mole (atomic weights), of 28.96 g on the whole.
    """
    more = refractive_index(633e-9, 293.15, co2=600.0) - refractive_index(633e-9, 293.15)
    assert float(more) == pytest.approx(2e-8, abs=0.5e-8)
    heavier = air_density(293.15, humidity=0.0, co2=1450.0) / air_density(293.15, humidity=0.0) - 1.0
    assert float(heavier) == pytest.approx(1e-3 * (44.0095 - 31.9988) / 28.96, rel=2e-3)


def test_the_round_earth() -> None:
    """Mean radius 6371.0088 km (Moritz, GRS 80); 78.5 mm in 1 km and 8 inches in a mile, the rules of levelling."""
    axes = (2.0 * 6378137.0 + 6356752.3141) / 3.0
    assert [EARTH_RADIUS, axes] == pytest.approx([6371.0088e3] * 2, abs=0.05)
    assert float(level_drop(1000.0)) == pytest.approx(78.5e-3, abs=0.05e-3)
    assert float(level_drop(1609.344)) / 0.0254 == pytest.approx(8.0, abs=0.05)
