"""Form of small sets by trying every set of contacts: rounded, repeated, collinear, tiny and huge coordinates.

Law 8: the minimum zone has contacts 3-1 or 2-2 in space and 2-1 in a plane, so that trying all of them is the oracle.
Degenerate sets are refused with a sentence, never answered with a number.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from skspatial.objects import Line, Points

from scenes.errors import GeometryError
from scenes.reductions.form import Reference, flatness, straightness
from scenes.reductions.quantities.cylinder import circumscribed_cylinder, smallest_cylinders
from scenes.reductions.quantities.measures import LocalForm
from scenes.reductions.quantities.offset_measures import CylinderForm, LargestOffset, Range
from scenes.reductions.quantities.straightness import pieces_of

many = settings(max_examples=300, deadline=None, database=None)
some = settings(max_examples=150, deadline=None, database=None)
seeds = st.integers(0, 2**32 - 1)
ROUNDING = 64.0 * np.finfo(float).eps
SIZES = {"tiny": 1e-9, "usual": 1.0, "huge": 1e4}


def small_set(kind: str, seed: int, size: float, dimensions: int) -> np.ndarray:
    """Return four to seven points of the kind named; ``size`` is their extent in metres."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(4, 8))
    if kind == "lattice":  # many points on one line or plane, many at one place
        points = rng.integers(0, 3, (n, dimensions)).astype(float)
    elif kind == "rounded":
        points = np.round(rng.normal(size=(n, dimensions)), 1)
    elif kind == "repeated":
        points = rng.normal(size=(n, dimensions))
        points[n // 2 :] = points[: n - n // 2]
    elif kind == "thin":
        points = rng.normal(size=(n, dimensions)) * [*np.ones(dimensions - 1), 1e-5]
    else:
        points = rng.normal(size=(n, dimensions))
    return points * size


KINDS = ["lattice", "rounded", "repeated", "thin", "cloud"]


def least_width(points: np.ndarray) -> float:
    """Return the least width over all 3-1 and 2-2 sets of contacts in space, or all 2-1 sets in a plane."""
    edges = [points[j] - points[i] for i, j in combinations(range(len(points)), 2)]
    if points.shape[1] == 2:
        normals = np.array([[-edge[1], edge[0]] for edge in edges])
    else:
        normals = np.array([np.cross(one, two) for one, two in combinations(edges, 2)])
    size = float(np.abs(points - points.mean(axis=0)).max())
    length = np.linalg.norm(normals, axis=1)
    normals = normals[length > 1e-9 * size ** (points.shape[1] - 1)]
    normals = normals / np.linalg.norm(normals, axis=1)[:, None]
    # Differences first: a set far from the origin loses nothing.
    return float(np.ptp(normals @ (points - points[0]).T, axis=1).min())


def spans(points: np.ndarray, dimensions: int) -> bool:
    """Return whether points span a line (1) or a plane (2)."""
    values = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return bool(values[dimensions - 1] > 1e-8 * values[0]) and values[0] > 0.0


def is_upright_row(points: np.ndarray) -> bool:
    """Return whether stations stand over one row in plan while their heights are thin: a profile and no surface."""
    plan = points[:, :2] - points[:, :2].mean(axis=0)
    values = np.linalg.svd(plan, compute_uv=False)
    return bool(values[1] <= 1e-6 * values[0]) and float(np.ptp(points[:, 2])) < 0.1 * float(np.ptp(plan, axis=0).max())


@many
@given(seed=seeds, kind=st.sampled_from(KINDS), size=st.sampled_from(sorted(SIZES)))
def test_flatness_of_small_sets(seed: int, kind: str, size: str) -> None:
    points = small_set(kind, seed, SIZES[size], 3)
    if not spans(points, 2):
        with pytest.raises(GeometryError, match=r"line|place|position"):
            flatness(points)
        return
    if is_upright_row(points):
        with pytest.raises(GeometryError, match="plan"):
            flatness(points)
        return
    value = flatness(points).value
    assert value == pytest.approx(least_width(points), abs=ROUNDING * float(np.abs(points).max()))


@many
@given(seed=seeds, kind=st.sampled_from(KINDS), size=st.sampled_from(sorted(SIZES)))
def test_straightness_of_small_sets(seed: int, kind: str, size: str) -> None:
    points = small_set(kind, seed, SIZES[size], 2)
    if np.ptp(points[:, 0]) <= 1e-9 * max(float(np.ptp(points[:, 1])), 1e-300):
        with pytest.raises(GeometryError, match=r"position|place"):
            straightness(points)
        return
    value = straightness(points).value
    assert value == pytest.approx(least_width(points), abs=ROUNDING * float(np.abs(points).max()))


# --- axes in space --------------------------------------------------------------------------------------------------


def off_axis(kind: str, seed: int, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Return positions along an axis and points off it, of size one."""
    rng = np.random.default_rng(seed)
    s, q = np.sort(rng.uniform(0.0, 6.0, n)), rng.normal(size=(n, 2))
    if kind == "rounded":
        s, q = np.round(s), np.round(q)
    if kind == "repeated":
        s[n // 2 :], q[n // 2 :] = s[: n - n // 2], q[: n - n // 2]
    return s, q


def smallest_by_solver(s: np.ndarray, q: np.ndarray, seed: int) -> float:
    """Return the smallest radius that a general solver finds from several starts."""
    rng = np.random.default_rng(seed)
    room = {"type": "ineq", "fun": lambda x: x[4] ** 2 - np.sum((q - x[:2] - np.outer(s, x[2:4])) ** 2, axis=1)}
    found = [
        minimize(
            lambda x: x[4], np.append(0.2 * rng.normal(size=4), 5.0), method="SLSQP", constraints=[room],
            options={"maxiter": 500, "ftol": 1e-13}, bounds=[(None, None)] * 4 + [(0.0, None)],
        )
        for _ in range(4)
    ]  # fmt: skip
    return float(
        min((each.fun for each in found if each.success and room["fun"](each.x).min() > -1e-9), default=np.nan)
    )


@settings(max_examples=20, deadline=None, database=None)
@given(
    seed=st.integers(0, 10_000), kind=st.sampled_from(["rounded", "repeated", "cloud"]),
    size=st.sampled_from(sorted(SIZES)),
)  # fmt: skip
def test_smallest_cylinders_against_a_general_solver_in_every_size(seed: int, kind: str, size: str) -> None:
    s, q = off_axis(kind, seed, 6)
    if np.ptp(s) == 0.0:
        with pytest.raises(GeometryError, match="one place along the axis"):
            smallest_cylinders(s, q[None])
        return
    wanted = smallest_by_solver(s, q, seed)
    found = float(smallest_cylinders(s, SIZES[size] * q[None]).radius[0]) / SIZES[size]
    assert found <= wanted * (1.0 + 1e-7) + 1e-12 or np.isnan(wanted)
    # The proof of the other side: the weights balance about the axis.
    proof = smallest_cylinders(s, SIZES[size] * q[None])
    bound = np.sqrt(float(np.sum(proof.weights[0] * np.sum(proof.off[0] ** 2, axis=1)))) / SIZES[size]
    assert bound >= found * (1.0 - 1e-7) - 1e-12


@some
@given(seed=seeds, size=st.sampled_from(sorted(SIZES)))
def test_the_least_squares_axis_is_that_of_another_library(seed: int, size: str) -> None:
    """A line in space with small slopes: the distances of the points agree to second order of the slope."""
    s, q = off_axis("cloud", seed, 9)
    q *= 1e-5
    stand = CylinderForm(s, Reference.LEAST_SQUARES).at(SIZES[size] * q.ravel())
    line = Line.best_fit(Points(np.column_stack([s, q])))
    distances = np.array([line.distance_point(point) for point in np.column_stack([s, q])])
    mine = np.linalg.norm(stand.deviations.reshape(-1, 2), axis=1) / SIZES[size]
    np.testing.assert_allclose(mine, distances, rtol=1e-6, atol=1e-13)
    assert stand.value / SIZES[size] == pytest.approx(2.0 * distances.max(), rel=1e-6)


@some
@given(seed=seeds, size=st.sampled_from(sorted(SIZES)), kind=st.sampled_from(["rounded", "repeated", "cloud"]))
def test_an_axis_in_every_size_and_frame(seed: int, size: str, kind: str) -> None:
    """The smallest cylinder is no wider than that about any other axis, and grows with the unit."""
    s, q = off_axis(kind, seed, 8)
    if np.ptp(s) == 0.0:
        return
    forms = [CylinderForm(s, kind_) for kind_ in (
        Reference.MINIMUM_CYLINDER, Reference.LEAST_SQUARES, Reference.END_POINTS
    )]  # fmt: skip
    smallest, fitted, ends = (form.at(SIZES[size] * q.ravel()).value / SIZES[size] for form in forms)
    assert smallest <= min(fitted, ends) * (1.0 + 1e-9) + 1e-12
    assert smallest == pytest.approx(forms[0].at(q.ravel()).value, rel=1e-7, abs=1e-12)


# --- what makes no sense is refused ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (np.zeros((5, 3)), "place"),
        (np.outer(np.arange(5.0), [1.0, 2.0, 0.0]), "line"),
        (np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 1e-9], [3, 0, 0]]), "line"),
        (np.array([[0.0, 0, 0], [1, 0, 0]]), "at least 3"),
        (np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, np.nan]]), "finite"),
    ],
)
@pytest.mark.parametrize("size", [1e-9, 1.0, 1e4])
def test_degenerate_surfaces_in_every_size(points: np.ndarray, words: str, size: float) -> None:
    for reference in (Reference.MINIMUM_ZONE, Reference.LEAST_SQUARES, Reference.THREE_POINTS):
        with pytest.raises(GeometryError, match=words):
            flatness(size * points, reference)


def test_degenerate_axes_in_every_size() -> None:
    for size in SIZES.values():
        with pytest.raises(GeometryError, match="one place along the axis"):
            CylinderForm(np.full(4, size), Reference.MINIMUM_CYLINDER).at(np.arange(8.0))
        with pytest.raises(GeometryError, match="one place"):
            circumscribed_cylinder(np.full((4, 3), size))


def test_references_that_points_do_not_have() -> None:
    points = np.random.default_rng(0).normal(size=(6, 3))
    for reference in (Reference.GRAVITY, Reference.DATUM_FEATURE, Reference.MINIMUM_CYLINDER):
        with pytest.raises(GeometryError, match="by themselves tell no"):
            flatness(points, reference)
        with pytest.raises(GeometryError, match="by themselves tell no"):
            straightness(points[:, :2], reference)


def test_one_station_and_none() -> None:
    """A range of one entry is nought, and no piece holds fewer than three stations at different places."""
    assert Range().at(np.array([3e-6])).value == 0.0
    assert LargestOffset(2, 2.0).at(np.zeros(2)).value == 0.0
    x = np.array([0.0, 0.0, 0.0, 5.0])
    assert len(pieces_of(x, 1.0, Reference.MINIMUM_ZONE)) == 0
    assert len(pieces_of(x, 6.0, Reference.END_POINTS)) == 0
    two = np.array([0.0, 0.0, 1.0, 1.0, 2.0])
    assert LocalForm(two, Reference.MINIMUM_ZONE, pieces_of(two, 2.0, Reference.MINIMUM_ZONE)).at(
        np.array([0.0, 1e-6, 0.0, 0.0, 0.0])
    ).value == pytest.approx(1e-6)


def test_two_places_read_twice_lie_on_a_line() -> None:
    """Rounding alone would not let a zone of no width close: points on a steep line far from the origin."""
    for seed in range(200):
        pair = 1e4 * np.random.default_rng(seed).normal(size=(2, 2))
        twice = np.concatenate([pair, pair])
        assert straightness(twice).value <= ROUNDING * float(np.abs(pair).max())
        corner = 1e4 * np.random.default_rng(seed).normal(size=(3, 3))
        assert flatness(np.concatenate([corner, corner])).value <= ROUNDING * float(np.abs(corner).max())
