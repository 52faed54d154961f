"""Form values against outside figures; the source of each stands beside it in form_figures.json.

The figures are never regenerated from this code.
"""

import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from scenes.reductions.form import Reference, flatness, straightness

FIGURES = json.loads((Path(__file__).parent / "form_figures.json").read_text(encoding="utf-8"))
MM, UM, INCH = 1e-3, 1e-6, 0.0254

ROUNDING = 1e-14
"""Metres: float64 rounding of heights of tens of um over plans of metres, some tens of units in the last place."""


def slope_loss(slope: float, value: float) -> float:
    """What a value along z loses when it is counted square to a plane of this slope; the sets state values along z."""
    return value * slope**2


def turn_of_fit(slope: float, deviations: np.ndarray, positions: np.ndarray) -> float:
    """By how much the ends part between least squares along z and orthogonal: slope x (scatter / spread)^2 x length."""
    return slope * float(np.var(deviations) / np.var(positions) * np.ptp(positions))


@pytest.mark.parametrize("name", ["flat_5x5", "flat_37"])
def test_constructed_surface(name: str) -> None:
    figure = FIGURES[name]
    points = np.array(figure["points"]) * [MM, MM, UM]
    zone = flatness(points, Reference.MINIMUM_ZONE)
    along_z = zone.value / zone.normal[2]
    assert along_z == pytest.approx(figure["minimum_zone"] * UM, abs=ROUNDING)
    assert zone.criterion == figure["criterion"]
    assert sorted(zone.high) == figure["high"]
    assert sorted(zone.low) == figure["low"]
    for found, weights, expected, at in (
        (zone.high, zone.high_weights, figure["high_weights"], figure["high"]),
        (zone.low, zone.low_weights, figure["low_weights"], figure["low"]),
    ):
        exact = dict(zip(at, map(Fraction, expected), strict=True))
        # Weights are convex in the plane of the zone, the figures in plan: apart by slope x zone / spacing < 1e-8.
        assert dict(zip(found.tolist(), weights, strict=True)) == pytest.approx(
            {k: float(v) for k, v in exact.items()}, abs=1e-8
        )
    fit = flatness(points, Reference.LEAST_SQUARES)
    slope = float(np.hypot(*figure["least_squares_slopes"])) * UM / MM
    assert fit.value == pytest.approx(figure["least_squares"] * UM, abs=ROUNDING + slope_loss(slope, fit.value))


def test_constructed_profile() -> None:
    figure = FIGURES["straight_11"]
    points = np.array(figure["points"]) * [MM, UM]
    zone = straightness(points)
    assert zone.value / zone.normal[1] == pytest.approx(figure["minimum_zone"] * UM, abs=ROUNDING)
    assert sorted(zone.high) == figure["high"]
    assert sorted(zone.low) == figure["low"]
    for reference, key in ((Reference.LEAST_SQUARES, "least_squares"), (Reference.END_POINTS, "end_points")):
        result = straightness(points, reference)
        slope = abs(float(result.coefficients[1]))
        assert result.value == pytest.approx(figure[key] * UM, abs=ROUNDING + slope_loss(slope, result.value))


def test_l_infinity_plane_to_all_printed_digits() -> None:
    figure = FIGURES["l_infinity_plane"]
    t = np.array(figure["t"])
    result = flatness(np.column_stack((np.exp(t), np.exp(-t), figure["b"])))
    # The fit counts residuals along b and the zone across the plane; at this slope both keep the same contacts.
    half = result.value / result.normal[2] / 2.0
    assert f"{half:.2e}" == figure["resmax"]
    a, b, c = result.coefficients
    assert np.round([b, c, a], 4).tolist() == figure["solution"]


@pytest.mark.parametrize(
    ("solid", "width", "criterion"),
    [
        # Closed forms for edge a: tetrahedron a / sqrt 2 (edge to edge; facets alone give 0.8165 a), octahedron
        # a sqrt(2 / 3), cube a.
        ([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]], 2.0, "2-2"),
        ([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]], 2.0 / np.sqrt(3.0), None),
        ([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], 1.0, None),
    ],
    ids=["tetrahedron", "octahedron", "cube"],
)
@pytest.mark.parametrize("size", [1e-6, 1.0, 1e6])
def test_least_width_of_solids(solid: list[list[int]], width: float, criterion: str | None, size: float) -> None:
    result = flatness(np.array(solid, dtype=float) * size)
    assert result.value == pytest.approx(width * size, rel=1e-15 * 8)
    if criterion:
        assert result.criterion == criterion


@pytest.mark.parametrize("direction", ["vertical", "horizontal"])
def test_bore_line(direction: str) -> None:
    figure = FIGURES["bores"]
    expected = figure["expected"][direction]
    points = np.column_stack((figure["axial"], figure[direction])) * MM
    for reference, key in (
        (Reference.LEAST_SQUARES, "least_squares"),
        (Reference.END_POINTS, "end_points"),
        (Reference.MINIMUM_ZONE, "minimum_zone"),
    ):
        result = straightness(points, reference)
        slope = abs(float(result.coefficients[1]))
        turn = turn_of_fit(slope, result.deviations, points[:, 0]) if key == "least_squares" else 0.0
        assert result.value == pytest.approx(expected[key] * MM, abs=ROUNDING + slope_loss(slope, result.value) + turn)
    ends = straightness(points, Reference.END_POINTS)
    slope = abs(float(ends.coefficients[1]))
    np.testing.assert_allclose(
        ends.deviations, np.array(expected["end_point_deviation"]) * MM, rtol=slope**2, atol=ROUNDING
    )
    fit = straightness(points, Reference.LEAST_SQUARES).coefficients
    # Orthogonal and vertical least squares differ by slope x (scatter / length)^2 of the slope: below 1e-8 of it.
    assert fit[1] == pytest.approx(float(Fraction(expected["slope"])), rel=1e-8)
    assert fit[0] == pytest.approx(float(Fraction(expected["intercept"])) * MM, rel=1e-8)


def test_autocollimator_lecture() -> None:
    figure = FIGURES["autocollimator"]
    seconds = np.mean(
        [[60 * minute + second for minute, second in figure[way]] for way in ("forward", "backward")], axis=0
    )
    # The first reading sets the direction; one arcsec is taken as 0.5 um on the base of 100 mm, as on the slides.
    rise = (seconds - seconds[0]) * 0.5
    height = np.cumsum(rise)
    points = np.column_stack((np.arange(height.size) * figure["base_mm"] * MM, height * UM))
    result = straightness(points, Reference.END_POINTS)
    np.testing.assert_allclose(result.deviations, np.array(figure["end_point_deviation_um"]) * UM, atol=ROUNDING)
    assert result.value == pytest.approx(figure["straightness_end_points_um"] * UM, abs=ROUNDING)
