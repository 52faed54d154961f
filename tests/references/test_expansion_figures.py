"""Thermal growth of machine parts against figures from outside."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from scenes.model.materials import material_named
from scenes.tracing.growth import REFERENCE_TEMPERATURE, bow, column_growth, plate_growth, relative_growth

RECORDS = Path(__file__).parents[2].parent / "shared" / "reference"
MICROMETRE = 1e-6


def record(name: str) -> dict:
    path = RECORDS / f"{name}.json"
    if not path.exists():
        pytest.skip(f"the recorded figures {path.name} are not beside the repository")
    return json.loads(path.read_text(encoding="utf-8"))


def test_growth_of_the_handbook() -> None:
    """Expansions and lengths as recorded in cte-handbook.json; tolerance half a unit in the last printed digit."""
    figures = record("cte-handbook")
    expansion, said = figures["expected"], figures["computed_here"]
    one_metre = float(relative_growth(expansion["steel_gauge_block"] * 1e-6, REFERENCE_TEMPERATURE + 1.0)) * 1.0
    column = float(relative_growth(expansion["gray_cast_iron"] * 1e-6, REFERENCE_TEMPERATURE + 2.0)) * 3.0
    for name, grown in (("1 m steel, 1 K", one_metre), ("3 m cast iron column, 2 K", column)):
        value, unit = said[name].split()
        assert unit == "um"
        assert grown / MICROMETRE == pytest.approx(float(value), abs=0.05)


def test_the_material_table_gives_the_same_growth() -> None:
    """Tables in general use: 11.5 um per metre and kelvin of steel (GUM, H.1), 10.8 of grey cast iron (recorded)."""
    steel, iron = (material_named(name).expansion.value for name in ("steel", "cast iron"))
    assert float(relative_growth(steel, 294.15)) == pytest.approx(11.5e-6, rel=1e-12)
    assert 3.0 * float(relative_growth(iron, 295.15)) == pytest.approx(64.8e-6, rel=1e-12)


def test_steel_gauge_of_gum_h1() -> None:
    """GUM H.1: a gauge of 50 mm at 19.9 degC is shorter by l alpha theta = 50 mm x 11.5e-6/K x 0.1 K = 57.5 nm."""
    shorter = 50.000623e-3 * float(relative_growth(11.5e-6, 293.05))
    assert shorter * 1e9 == pytest.approx(-57.5, abs=0.05)


def test_bow_of_a_strip_as_in_the_bimetal_formula() -> None:
    """Timoshenko's bimetal strip (J. Opt. Soc. Am. 11 (1925) 233, from memory) cut into many thin layers of one metal.

    A strip of two equal layers whose strains differ by e curves by 3 e / (2 t). Layers at their own temperatures, made
    to stay together, are solved here by the balance of force and moment; many of them approach an even change.
    """
    expansion, across, thickness, distance = 10.8e-6, 2.0, 0.35, 1.5

    def curvature(layers: int) -> float:
        middle = (np.arange(layers) + 0.5) / layers - 0.5
        strain = expansion * across * middle
        # the moment of strain - curvature z over the section is zero; each layer has 1/12 of its cube of its own
        first = strain @ middle / layers
        second = middle @ middle / layers + 1.0 / (12.0 * layers**2)
        return float(first / (second * thickness))

    halves = curvature(2)
    assert halves == pytest.approx(1.5 * (0.5 * expansion * across) / thickness, rel=1e-12)
    many = 1000
    even = -2.0 * float(bow(distance, thickness, expansion, across)) / distance**2
    assert curvature(many) == pytest.approx(even, rel=2.0 / many**2)


def test_figures_of_a_bed_and_a_column() -> None:
    """Worked by hand: cast iron 3 m x 0.3 m, top 2 K warmer: 10.8e-6 x 2 x 1.5^2 / (2 x 0.3) = 81 um at the ends.

    A column 3 m high and 0.5 m deep with one side 1 K warmer leans 10.8e-6 x 9 / (2 x 0.5) = 97.2 um.
    """
    plate = plate_growth([[0.0, 0.0], [1.5, 0.0], [0.0, -0.9]], 0.3, 10.8e-6, REFERENCE_TEMPERATURE, 2.0)
    assert plate / MICROMETRE == pytest.approx([0.0, -81.0, -29.16], abs=1e-9)
    column = column_growth([[0.25, 0.0, 3.0]], 0.5, 10.8e-6, REFERENCE_TEMPERATURE, 1.0)
    assert column / MICROMETRE == pytest.approx([-97.2], abs=1e-9)
