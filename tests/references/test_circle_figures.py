"""Least-squares circles against published reference fits.

Source of the figures: NIST Algorithm Testing System, sample data sets of 2-D circles with reference fits; each file
names its set.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from scenes.errors import GeometryError
from scenes.reductions.circles import least_squares_circle

FOLDER = Path(__file__).parents[3] / "shared" / "reference"
FILES = sorted(FOLDER.glob("nist-circle2d-*.json"))


def plane_of(figures: dict) -> tuple[np.ndarray, list[int]]:
    """Points in the plane of the circle, and which coordinates these are."""
    axes = [axis for axis in range(3) if figures["expected"]["normal"][axis] == 0.0]
    return np.array(figures["points"])[:, axes], axes


@pytest.mark.skipif(not FILES, reason="no reference figures beside the repository")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_published_circle(path: Path) -> None:
    figures = json.loads(path.read_text(encoding="utf-8"))
    points, axes = plane_of(figures)
    circle = least_squares_circle(points)
    expected = figures["expected"]
    scale = expected["diameter"] + np.abs(points).max()  # rounding of the coordinates, more on short arcs
    np.testing.assert_allclose(circle.centre, np.array(expected["centre"])[axes], rtol=0.0, atol=1e-12 * scale)
    assert 2.0 * circle.radius == pytest.approx(expected["diameter"], rel=0.0, abs=2e-12 * scale)
    out = np.linalg.norm(points - circle.centre, axis=1) - circle.radius
    np.testing.assert_allclose(circle.residuals, out, rtol=0.0, atol=1e-13 * scale)


def test_circle_of_exact_points_agrees_with_algebraic_fit() -> None:
    skspatial = pytest.importorskip("skspatial.objects")
    turn = np.linspace(0.0, 5.0, 12)
    points = np.array([3.0, -2.0]) + 0.4 * np.column_stack((np.cos(turn), np.sin(turn)))
    ours, other = least_squares_circle(points), skspatial.Circle.best_fit(points)
    np.testing.assert_allclose(ours.centre, other.point, atol=1e-12)
    assert ours.radius == pytest.approx(other.radius, abs=1e-12)


@pytest.mark.parametrize(
    "points",
    [
        np.zeros((5, 2)),
        np.column_stack((np.arange(5.0), 2.0 * np.arange(5.0))),
        np.array([[0.0, 0.0], [1.0, 0.0]]),
        np.array([[0.0, 0.0], [1.0, 0.0], [np.nan, 1.0]]),
    ],
    ids=["one place", "one line", "two points", "not finite"],
)
def test_no_circle(points: np.ndarray) -> None:
    with pytest.raises(GeometryError):
        least_squares_circle(points)
