"""Influence models against closed forms, and their answers to wrong input."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from scenes.corrections.beam import beam_influence, torsion_constant
from scenes.corrections.elastic import held_at_feet
from scenes.corrections.influence import Influence, measured_influence, rigid_influence
from scenes.corrections.plate import _plate_system, flexural_rigidity, plate_influence
from scenes.errors import GeometryError, InputError
from scenes.model.materials import MATERIALS, material_named

IRON = (110e9, 0.25, 7200.0)
SIX = np.array([[x, y] for y in (-0.8, 0.8) for x in (-1.4, 0.0, 1.4)])
GRID = np.array([[x, y] for x in np.linspace(-1.4, 1.4, 7) for y in np.linspace(-0.8, 0.8, 5)])


@pytest.fixture(scope="module")
def plate() -> Influence:
    return plate_influence(SIX, GRID, 3.0, 1.8, 0.1, *IRON)


def test_twist_by_one_corner_has_the_exact_corner_forces() -> None:
    """A plate on its four corners takes the shape w = xy; its corner force is 2 (1 - nu) D w_xy."""
    a, b, lift = 3.0, 1.8, np.array([1.0, 0.0, 0.0, 0.0])
    corners = np.array([[a, b], [-a, b], [-a, -b], [a, -b]]) / 2.0
    bed = plate_influence(corners, GRID, a, b, 0.1, *IRON)
    force = 2.0 * (1.0 - 0.25) * flexural_rigidity(110e9, 0.25, 0.1) / (a * b)
    np.testing.assert_allclose(bed.load_change @ lift, force * np.array([1, -1, 1, -1]), rtol=1e-8)
    expected = 0.25 * (1.0 + 2.0 * GRID[:, 0] / a) * (1.0 + 2.0 * GRID[:, 1] / b)
    np.testing.assert_allclose(bed.matrix @ lift, expected, atol=1e-8)


def test_narrow_plate_without_cross_contraction_is_a_beam() -> None:
    """Lifting both middle feet: 48 E I / L^3; own loads 3/16, 10/16, 3/16 of the weight."""
    length, width, thickness, modulus = 2.0, 0.05, 0.05, 110e9
    feet = np.array([[x, y] for y in (-0.025, 0.025) for x in (-1.0, 0.0, 1.0)])
    bed = plate_influence(feet, [[0.5, 0.0]], length, width, thickness, modulus, 0.0, 7200.0)
    middle = np.array([0.0, 1.0, 0.0, 0.0, 1.0, 0.0])
    stiffness = 48.0 * modulus * width * thickness**3 / 12.0 / length**3
    assert middle @ bed.load_change @ middle == pytest.approx(stiffness, rel=1e-3)
    shares = bed.own_loads.reshape(2, 3).sum(axis=0) / bed.own_loads.sum()
    np.testing.assert_allclose(shares, [3 / 16, 10 / 16, 3 / 16], rtol=1e-4)
    # beam, simply supported, quarter span: w / w_mid = (3 L^2 x - 4 x^3) / L^3 = 11/16
    assert (bed.matrix @ middle)[0] == pytest.approx(11 / 16, rel=1e-4)


def test_the_mesh_is_fine_enough(monkeypatch: pytest.MonkeyPatch, plate: Influence) -> None:
    monkeypatch.setattr("scenes.corrections.plate.PIECES", 44)
    monkeypatch.setattr("scenes.corrections.plate.FEWEST_PIECES", 24)
    fine = plate_influence(SIX, GRID, 3.0, 1.8, 0.1, *IRON)
    assert np.abs(fine.matrix - plate.matrix).max() < 2e-4
    np.testing.assert_allclose(plate.load_change, fine.load_change, atol=1e-3 * np.abs(fine.load_change).max())
    np.testing.assert_allclose(plate.own_loads, fine.own_loads, rtol=1e-3)


def test_the_solver_itself_knows_planes() -> None:
    """Before the planes are put in exactly, the elements reproduce them to rounding."""
    stiffness, load, probe = _plate_system(SIX, 3.0, 1.8, 0.25)
    rise, own, change = held_at_feet(stiffness, load, probe(SIX), probe(GRID))
    at_feet, at_stations = np.column_stack([np.ones(6), SIX]), np.column_stack([np.ones(len(GRID)), GRID])
    np.testing.assert_allclose(rise @ at_feet, at_stations, atol=1e-6)
    np.testing.assert_allclose(at_feet.T @ change, 0.0, atol=1e-6 * np.abs(change).max())
    np.testing.assert_allclose(at_feet.T @ own, [1.0, 0.0, 0.0], atol=1e-6)


def test_effective_thickness_changes_loads_by_its_cube_and_the_shape_not_at_all(plate: Influence) -> None:
    thick = plate_influence(SIX, GRID, 3.0, 1.8, 0.1, *IRON, effective_thickness=0.2)
    np.testing.assert_allclose(thick.matrix, plate.matrix, atol=1e-12)
    np.testing.assert_allclose(thick.load_change, 8.0 * plate.load_change, rtol=1e-9)
    np.testing.assert_allclose(thick.own_loads, plate.own_loads)
    assert "shear" in plate_influence(SIX, GRID, 3.0, 1.8, 0.35, *IRON).note
    assert "shear" not in plate.note


def test_stated_weight_rests_on_the_feet() -> None:
    bed = plate_influence(SIX, GRID, 3.0, 1.8, 0.1, *IRON, weight=50e3)
    assert bed.own_loads.sum() == pytest.approx(50e3, rel=1e-6)


def test_beam_in_one_row_is_the_natural_spline() -> None:
    """The beam held at points is the natural cubic spline through them, straight outside: an independent oracle."""
    feet = np.array([-1.3, -0.6, 0.1, 0.9])
    stations = np.linspace(-1.45, 1.45, 30)
    bed = beam_influence(
        np.column_stack([feet, 0 * feet]), np.column_stack([stations, 0 * stations]), 3.0, 0.2, 0.2, *IRON
    )
    spline = CubicSpline(feet, np.eye(4), bc_type="natural")
    expected = spline(stations)
    for end, side in ((feet[0], stations < feet[0]), (feet[-1], stations > feet[-1])):
        expected[side] = spline(end) + (stations[side] - end)[:, None] * spline(end, 1)
    np.testing.assert_allclose(bed.matrix, expected, atol=1e-9)
    middle = beam_influence([[-1, 0], [0, 0], [1, 0]], [[0, 0]], 2.0, 0.1, 0.1, *IRON)
    assert middle.load_change[1, 1] == pytest.approx(48.0 * 110e9 * 0.1**4 / 12.0 / 8.0, rel=1e-9)


def test_beam_on_corners_twists_by_its_torsion_constant() -> None:
    """One corner up by d turns the end by d / (2 y); the torque G J angle / L is a pair of forces at +-y."""
    y, length = 0.1, 2.0
    feet = np.array([[1.0, y], [-1.0, y], [-1.0, -y], [1.0, -y]])
    bed = beam_influence(feet, [[0.0, 0.0]], length, 0.2, 0.1, *IRON)
    shear = 110e9 / 2.5
    # a quarter of the lift is pure twist: +d/4 at two corners, -d/4 at the others; angle between the ends d / (2 y)
    force = shear * torsion_constant(0.2, 0.1) * (1.0 / (2.0 * y)) / length / (2.0 * y)
    np.testing.assert_allclose(bed.load_change[:, 0], force * np.array([1, -1, 1, -1]), rtol=1e-8)


def test_narrow_plate_and_beam_agree() -> None:
    feet = np.array([[x, y] for y in (-0.1, 0.1) for x in (-1.4, -0.3, 1.4)])
    stations = np.array([[x, y] for y in (-0.1, 0.0, 0.1) for x in np.linspace(-1.5, 1.5, 9)])
    narrow = plate_influence(feet, stations, 3.0, 0.2, 0.01, 110e9, 0.0, 7200.0)
    beam = beam_influence(feet, stations, 3.0, 0.2, 0.01, 110e9, 0.0, 7200.0)
    assert np.abs(narrow.matrix - beam.matrix).max() < 0.02


def test_own_load_of_a_tripod_is_plain_statics() -> None:
    bed = rigid_influence([[-1, -1], [1, -1], [0, 1]], [[0, 0]], weight=1000.0)
    np.testing.assert_allclose(bed.own_loads, [250.0, 250.0, 500.0])


@pytest.mark.parametrize(
    ("feet", "words"),
    [
        ([], "no feet"),
        ([[0.0, 0.0], [1.0, 0.5]], "too few"),
        ([[-1.0, -0.5], [0.0, 0.0], [1.0, 0.5]], "one line"),
        ([[0.0, 0.0], [0.0, 0.0], [1.0, 0.5]], "same place"),
        ([[0.0, 0.0], [1.0, 0.0], [1.6, 0.5]], "Foot 3 at x = 1.6 m"),
    ],
)
def test_feet_that_hold_no_bed_are_explained(feet: list[list[float]], words: str) -> None:
    with pytest.raises(GeometryError, match=words):
        plate_influence(feet, GRID, 3.0, 1.8, 0.1, *IRON)


def test_other_wrong_input_is_explained() -> None:
    with pytest.raises(GeometryError, match="no stations"):
        plate_influence(SIX, [], 3.0, 1.8, 0.1, *IRON)
    with pytest.raises(GeometryError, match="greater than zero"):
        plate_influence(SIX, GRID, 3.0, 1.8, 0.0, *IRON)
    with pytest.raises(GeometryError, match="Poisson"):
        plate_influence(SIX, GRID, 3.0, 1.8, 0.1, 110e9, 0.6, 7200.0)
    with pytest.raises(GeometryError, match="effective thickness"):
        plate_influence(SIX, GRID, 3.0, 1.8, 0.1, *IRON, effective_thickness=0.0)
    with pytest.raises(GeometryError, match="three feet"):
        rigid_influence(SIX, GRID)
    with pytest.raises(GeometryError, match="across the beam"):
        beam_influence([[0, -0.1], [0, 0.1]], [[0, 0]], 3.0, 0.2, 0.1, *IRON)
    with pytest.raises(GeometryError, match="13 feet"):
        measured_influence(np.ones((4, 13)))


def test_materials_know_where_they_come_from() -> None:
    for material in MATERIALS.values():
        for part in (material.youngs_modulus, material.poisson, material.density, material.expansion):
            assert part.origin
            assert 0.0 < part.half_width < part.value
    assert material_named("Grey  Cast Iron") is MATERIALS["cast iron"]
    with pytest.raises(InputError, match="did you mean cast iron"):
        material_named("cast irn")
