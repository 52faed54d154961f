"""Measures of many deviations with their slopes, and the smallest cylinder about an axis."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from scenes.errors import GeometryError
from scenes.reductions.form import Reference
from scenes.reductions.quantities import cylinder_steps
from scenes.reductions.quantities.cylinder import circumscribed_cylinder, smallest_cylinders
from scenes.reductions.quantities.measures import LocalForm, PlaneForm, ProfileForm
from scenes.reductions.quantities.offset_measures import CylinderForm, LargestOffset, Range

S = np.array([0.0, 0.4, 1.1, 1.5, 2.2, 3.0])
PLACES = np.random.default_rng(0).uniform(0.0, 2.0, (9, 2))
HALVES = np.array([[1, 1, 1, 1, 0, 0], [0, 0, 1, 1, 1, 1]], dtype=bool)
MEASURES = {
    "profile, minimum zone": (ProfileForm(S, Reference.MINIMUM_ZONE), 6),
    "profile, least squares": (ProfileForm(S, Reference.LEAST_SQUARES), 6),
    "profile, end points": (ProfileForm(S, Reference.END_POINTS), 6),
    "plane, minimum zone": (PlaneForm(PLACES, Reference.MINIMUM_ZONE), 9),
    "plane, least squares": (PlaneForm(PLACES, Reference.LEAST_SQUARES), 9),
    "plane, three points": (PlaneForm(PLACES, Reference.THREE_POINTS, np.array([0, 3, 5])), 9),
    "range": (Range(), 7),
    "largest offset": (LargestOffset(2, 2.0), 10),
    "cylinder": (CylinderForm(S, Reference.MINIMUM_ZONE), 12),
    "cylinder, least squares": (CylinderForm(S, Reference.LEAST_SQUARES), 12),
    "cylinder, end points": (CylinderForm(S, Reference.END_POINTS), 12),
    "local": (LocalForm(S, Reference.MINIMUM_ZONE, HALVES), 6),
}


@pytest.mark.parametrize("name", MEASURES)
@pytest.mark.parametrize("seed", range(4))
def test_a_measure_and_its_slopes(name, seed):
    """Value, gradient and gain of every measure by finite differences and in trials; what is unseen changes nothing."""
    measure, k = MEASURES[name]
    rng = np.random.default_rng(seed)
    z = 1e-5 * rng.standard_normal(k)
    stand = measure.at(z)
    assert stand.value > 0.0
    assert measure.of_trials(z[:, None])[0] == pytest.approx(stand.value, rel=2e-4)
    step = 1e-10
    either = [measure.at(z + sign * step * e) for e in np.eye(k) for sign in (1.0, -1.0)]
    gradient = [(high.value - low.value) / (2.0 * step) for high, low in zip(either[::2], either[1::2], strict=True)]
    assert np.allclose(stand.gradient, gradient, rtol=0.0, atol=2e-3)
    if name != "local":
        gain = [(h.deviations - w.deviations) / (2.0 * step) for h, w in zip(either[::2], either[1::2], strict=True)]
        assert np.allclose(stand.gain.T, gain, rtol=0.0, atol=5e-3)
    unseen = measure.unseen(k)
    moved = z + 1e-5 * unseen @ rng.standard_normal(unseen.shape[1])
    assert measure.at(moved).value == pytest.approx(stand.value, rel=1e-8)


# --- the smallest cylinder about an axis ----------------------------------------------------------------------------


def test_smallest_cylinders_by_their_proof():
    """Weights that balance about the axis prove that no cylinder is smaller; rounded readings make many contacts."""
    rng = np.random.default_rng(0)
    checked = 0
    for n in (3, 4, 5, 8, 13, 30):
        s = np.sort(rng.uniform(0.0, 6.0, n))
        sets = 1e-4 * rng.standard_normal((200, n, 2))
        sets[100:] = np.round(sets[100:] / 5e-5) * 5e-5
        found = smallest_cylinders(s, sets)
        distance = np.linalg.norm(found.off, axis=2)
        ok = found.radius > 1e-12
        assert np.all(distance.max(axis=1) <= found.radius * (1.0 + 1e-9) + 1e-15)
        pull = np.einsum("tn,tnc->tc", found.weights, found.off)
        moment = np.einsum("tn,n,tnc->tc", found.weights, s - s.mean(), found.off)
        # For any other axis the weighted mean of the squared distances is larger than this bound.
        bound = np.sqrt(np.sum(found.weights * distance**2, axis=1))
        assert np.all(bound[ok] >= found.radius[ok] * (1.0 - 1e-9))
        assert np.abs(pull[ok]).max() < 1e-9 * 1e-4
        assert np.abs(moment[ok]).max() < 1e-8 * 1e-4
        # No wider than the smallest circle about all points as seen along the axis, by Jung's theorem.
        widest = np.linalg.norm(sets[:, :, None] - sets[:, None, :], axis=3).max(axis=(1, 2))
        assert np.all(found.radius <= widest / np.sqrt(3.0) * (1.0 + 1e-9) + 1e-15)
        checked += len(sets)
    assert checked >= 1000


def test_a_cylinder_is_at_least_half_as_wide_as_its_points():
    """Points that mirror each other about the middle cannot be brought nearer by any tilt."""
    rng = np.random.default_rng(1)
    for _ in range(60):
        half = 1e-4 * rng.standard_normal((4, 2))
        s = np.concatenate([np.arange(4.0), np.arange(4.0)])
        found = smallest_cylinders(s, np.concatenate([half, -half])[None])
        assert found.radius[0] == pytest.approx(np.linalg.norm(half, axis=1).max(), rel=1e-9)


def test_smallest_cylinders_against_a_general_solver():
    rng = np.random.default_rng(2)
    for n in (4, 6, 9):
        s = np.sort(rng.uniform(0.0, 6.0, n))
        q = rng.standard_normal((n, 2))

        def room(x, q=q, s=s):
            return x[4] ** 2 - np.sum((q - x[:2] - np.outer(s, x[2:4])) ** 2, axis=1)

        tries = [
            minimize(
                lambda x: x[4], np.append(0.1 * rng.standard_normal(4), 5.0), method="SLSQP",
                constraints=[{"type": "ineq", "fun": room}], options={"maxiter": 500, "ftol": 1e-13},
            )
            for _ in range(3)
        ]  # fmt: skip
        best = min(each.fun for each in tries if each.success)
        assert smallest_cylinders(s, q[None]).radius[0] == pytest.approx(best, rel=1e-8)


@pytest.mark.parametrize("rounded", [False, True])
def test_the_cylinder_of_many_points_by_its_proof(rounded):
    """Bores of more points than are solved at once: all points inside, and weights that leave no smaller one."""
    rng = np.random.default_rng(5)
    for n in (501, 2_000, 20_000):
        s = rng.uniform(-3.0, 3.0, n)
        sets = 1e-4 * np.stack([np.column_stack([np.cos(s), 0.5 * np.sin(s)]) + 0.2 * rng.standard_normal((n, 2))] * 2)
        sets[1] += 3e-5 * np.outer(s, [1.0, -2.0])  # tilted, it is the same bore
        if rounded:
            s, sets = np.round(s, 1), np.round(sets / 1e-5) * 1e-5
        found = smallest_cylinders(s, sets)
        distance = np.linalg.norm(found.off, axis=2)
        assert np.all(distance.max(axis=1) <= found.radius * (1.0 + 1e-9))
        assert np.all(found.weights >= 0.0)
        np.testing.assert_allclose(found.weights.sum(axis=1), 1.0, rtol=1e-12)
        bound = np.sqrt(np.sum(found.weights * distance**2, axis=1))
        assert np.all(bound >= found.radius * (1.0 - 1e-9))
        assert np.abs(np.einsum("tn,tnc->tc", found.weights, found.off)).max() < 1e-8 * 1e-4
        assert np.abs(np.einsum("tn,n,tnc->tc", found.weights, s, found.off)).max() < 1e-7 * 1e-4
        if not rounded:
            assert found.radius[1] == pytest.approx(found.radius[0], rel=1e-9)
        assert smallest_cylinders(s[::3], sets[:, ::3]).radius[0] <= found.radius[0] * (1.0 + 1e-9)


def test_steps_that_come_to_no_end_are_an_error(monkeypatch):
    rng = np.random.default_rng(6)
    monkeypatch.setattr(cylinder_steps, "MOST_ROUNDS", 3)
    with pytest.raises(GeometryError, match="was not found in 3 steps"):
        smallest_cylinders(np.arange(9.0), rng.standard_normal((2, 9, 2)))


def test_a_cylinder_moves_with_its_points():
    """Rigid motion, order and unit of the points change nothing; fewer points are never wider."""
    from scenes.vectors import rotation_from_vector

    rng = np.random.default_rng(3)
    for _ in range(8):
        points = np.column_stack([np.linspace(0.0, 6.0, 9), 1e-3 * rng.standard_normal((9, 2))])
        width, _, direction = circumscribed_cylinder(points)
        turn = rotation_from_vector(rng.standard_normal(3))
        moved = points @ turn.T + rng.standard_normal(3)
        other, _, turned = circumscribed_cylinder(moved[rng.permutation(9)])
        assert other == pytest.approx(width, rel=1e-7)
        assert abs(turned @ turn @ direction) == pytest.approx(1.0, abs=1e-12)
        assert circumscribed_cylinder(1e3 * points)[0] == pytest.approx(1e3 * width, rel=1e-7)
        assert circumscribed_cylinder(points[1:])[0] <= width * (1.0 + 1e-9)


def test_degenerate_axes():
    line = np.outer(np.arange(5.0), [1.0, 2.0, -1.0])
    assert circumscribed_cylinder(line)[0] < 1e-12
    assert smallest_cylinders(np.arange(4.0), np.zeros((2, 4, 2))).radius == pytest.approx([0.0, 0.0])
    with pytest.raises(GeometryError, match="one place along the axis"):
        smallest_cylinders(np.ones(4), np.zeros((1, 4, 2)))
