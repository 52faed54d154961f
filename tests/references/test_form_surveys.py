"""Form values of published surveys and data sets; the source of each stands beside it in form_figures.json."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog

from scenes.reductions.fitted_references import orthonormal_shapes
from scenes.reductions.form import Reference, flatness, straightness

FIGURES = json.loads((Path(__file__).parent / "form_figures.json").read_text(encoding="utf-8"))
INCH = 0.0254
MICRO_INCH = 1e-6 * INCH
HUNDRED_THOUSANDTH = 1e-5 * INCH
ARCSEC = np.pi / 648_000.0
PAPER_ARCSEC = 5e-6
"""The paper takes sin 1 arcsec = 5e-6."""


def test_norris_line() -> None:
    figure = FIGURES["norris"]
    points = np.array(figure["points"], dtype=float)
    b0, b1 = (float(text) for text in figure["coefficients"])
    # The certified fit counts residuals along y. With y in millionths of the unit of x the orthogonal fit is the same
    # to (1e-6 x scatter / length)^2 < 1e-17.
    small = 1e-6
    result = straightness(points * [1.0, small], Reference.LEAST_SQUARES)
    a, b = result.coefficients / small
    # Fifteen digits are certified; values of 1e3 in float64 leave 1e-13 of the slope and 1e-13 x 1e3 of the intercept.
    assert b == pytest.approx(b1, rel=1e-13)
    assert a == pytest.approx(b0, abs=1e-12)
    assert np.sum(result.deviations**2) / small**2 == pytest.approx(float(figure["residual_sum_of_squares"]), rel=1e-11)


def test_norris_through_the_shapes_that_leverages_come_from() -> None:
    figure = FIGURES["norris"]
    points = np.array(figure["points"], dtype=float)
    b0, b1 = (float(text) for text in figure["coefficients"])
    q = orthonormal_shapes(points[:, :1])
    np.testing.assert_allclose(q @ (q.T @ points[:, 1]), b0 + b1 * points[:, 0], rtol=0, atol=1e-11)


LINES = {
    # name: start and end of the line of feet; perimeter and centre lines run 4 in inside the edge of 72 x 48 in
    "NE_NW": ((68, 44), (4, 44)),
    "NE_SE": ((68, 44), (68, 4)),
    "SE_SW": ((68, 4), (4, 4)),
    "NW_SW": ((4, 44), (4, 4)),
    "E_W": ((68, 24), (4, 24)),
    "N_S": ((36, 44), (36, 4)),
}


def union_jack(arcsec: float) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """Return heights over the base plane and places of the stations of each line (m), reduced as the paper does."""
    figure = FIGURES["surface_plate_1955"]
    foot = figure["foot_spacing_in"] * INCH
    rise = {
        name: np.concatenate(([0.0], np.cumsum(np.array(readings) - readings[0]))) * foot * arcsec
        for name, readings in figure["readings_arcsec"].items()
    }
    share = {name: np.linspace(0.0, 1.0, height.size) for name, height in rise.items()}
    heights, corner = {}, {}
    for name in ("NW_SE", "NE_SW"):  # both ends level with each other, the centre at zero
        level = rise[name] - share[name] * rise[name][-1]
        heights[name] = level - level[level.size // 2]
        for end in name.split("_"):
            corner[end] = heights[name][0]
    for name in ("NE_NW", "NE_SE", "SE_SW", "NW_SW"):
        start, end = (corner[key] for key in name.split("_"))
        heights[name] = between(rise[name], share[name], start, end)
    middle = {side: heights[name][heights[name].size // 2] for side, name in zip("NESW", LINES, strict=False)}
    for name in ("E_W", "N_S"):
        start, end = (middle[key] for key in name.split("_"))
        line = between(rise[name], share[name], start, end)
        heights[name] = line - line[line.size // 2]
    lowest = min(float(line.min()) for line in heights.values())
    return {name: line - lowest for name, line in heights.items()}, places(share)


def between(rise: np.ndarray, share: np.ndarray, start: float, end: float) -> np.ndarray:
    return rise + start + share * (end - start - rise[-1])


def places(share: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    found = {}
    for name, part in share.items():
        if name in LINES:
            start, end = (np.array(place, dtype=float) for place in LINES[name])
        else:  # twenty feet of 4 in on the diagonal of 86.5 in, centred
            along = np.array([72.0, -48.0] if name == "NW_SE" else [-72.0, -48.0])
            half = along / np.linalg.norm(along) * 40.0
            start, end = np.array([36.0, 24.0]) - half, np.array([36.0, 24.0]) + half
        found[name] = (start + part[:, None] * (end - start)) * INCH
    return found


def survey_points() -> np.ndarray:
    heights, plan = union_jack(ARCSEC)
    return np.vstack([np.column_stack((plan[name], heights[name])) for name in heights])


@pytest.mark.parametrize("arcsec", [ARCSEC, PAPER_ARCSEC])
def test_surface_plate_of_1955_lies_between_planes_as_published(arcsec: float) -> None:
    figure = FIGURES["surface_plate_1955"]
    heights, _ = union_jack(arcsec)
    highest = max(float(line.max()) for line in heights.values())
    assert round(highest / HUNDRED_THOUSANDTH) == round(figure["flatness_in"] / 1e-5)


def test_heights_of_the_1955_survey_as_printed() -> None:
    printed = FIGURES["surface_plate_1955"]["heights_1e_5_in"]
    heights, _ = union_jack(PAPER_ARCSEC)
    exact = 0
    for name, line in heights.items():
        ours = line / HUNDRED_THOUSANDTH
        # Printed to one unit; the paper rounds twice on the way, which costs up to one more at 10 stations.
        assert np.abs(ours - printed[name]).max() <= 1.0 + 0.5
        exact += int(np.sum(np.abs(ours - printed[name]) <= 0.5 + 1e-9))
    assert exact == 116


def test_minimum_zone_of_the_1955_survey() -> None:
    points = survey_points()
    figure = FIGURES["surface_plate_1955"]
    zone = flatness(points)
    fit = flatness(points, Reference.LEAST_SQUARES)
    assert zone.value < fit.value < figure["flatness_in"] * INCH
    assert zone.criterion == "2-2"
    rows = points - points.mean(axis=0)
    n = len(rows)
    heights = rows[:, 2] / MICRO_INCH
    one, none = np.ones((n, 1)), np.zeros((n, 1))
    limits = np.vstack((np.hstack((-rows[:, :2], -one, none)), np.hstack((rows[:, :2], none, one))))
    solved = linprog([0, 0, 1, -1], A_ub=limits, b_ub=np.append(-heights, heights), bounds=[(None, None)] * 4)
    # HiGHS works to 1e-7 micro-inch here, and slopes of 1e-5 lose 1e-10 of the value.
    assert zone.value / MICRO_INCH == pytest.approx(solved.fun, abs=2e-7)
    design = np.column_stack((np.ones(n), rows[:, :2]))
    rest = heights - design @ np.linalg.lstsq(design, heights, rcond=None)[0]
    assert fit.value / MICRO_INCH == pytest.approx(float(np.ptp(rest)), rel=1e-9)


SHARED = Path(__file__).parents[2].parent / "shared" / "reference"


@pytest.mark.parametrize("name", ["constructed-flat-5x5-triangle", "constructed-flat-irregular37-triangle"])
def test_figures_carried_here_are_those_of_the_collection(name: str) -> None:
    path = SHARED / f"{name}.json"
    if not path.exists():
        pytest.skip(f"no collection of reference figures at {path.parent.name}/{path.name}")
    original = json.loads(path.read_text(encoding="utf-8"))
    carried = FIGURES["flat_5x5" if "5x5" in name else "flat_37"]
    assert carried["points"] == original["points"]
    assert carried["minimum_zone"] == original["expected"]["minimum_zone_um"]
