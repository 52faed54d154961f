"""Plate and material figures from outside."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from scenes.corrections.plate import flexural_rigidity, plate_influence
from scenes.model.materials import material_named

RECORDS = Path(__file__).parents[2].parent / "shared" / "reference"


def test_square_plate_on_its_corners_sags_as_in_the_textbook() -> None:
    """Sag of the centre 0.0257 q a^4 / D for nu = 0.25.

    S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells (1959), plates supported at the corners
    (from memory). The sag follows from the load that a fifth foot in the middle carries and its change per lift.
    """
    a, thickness, modulus, density = 2.0, 0.05, 200e9, 7850.0
    feet = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [0, 0]]) * a / 2.0
    bed = plate_influence(feet, [[0.0, 0.0]], a, a, thickness, modulus, 0.25, density)
    sag = bed.own_loads[4] / bed.load_change[4, 4]
    pressure = density * thickness * 9.80665
    assert sag * flexural_rigidity(modulus, 0.25, thickness) / pressure / a**4 == pytest.approx(0.0257, abs=5e-5)


def test_expansion_agrees_with_the_recorded_handbook_values() -> None:
    record = RECORDS / "cte-handbook.json"
    if not record.exists():
        pytest.skip("the recorded handbook values are not beside the repository")
    expected = json.loads(record.read_text(encoding="utf-8"))["expected"]
    names = {"steel_gauge_block": "steel", "gray_cast_iron": "cast iron"}
    for key, value in expected.items():
        expansion = material_named(names.get(key, key)).expansion
        assert abs(expansion.value - value * 1e-6) <= expansion.half_width + 1e-12, key
