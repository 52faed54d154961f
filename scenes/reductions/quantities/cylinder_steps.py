"""Steps of the primal-dual method for smallest cylinders; arrays have the points first and the sets last.

Each step first looks how far it could go without staying in the middle, and then makes up for what that look has
missed: the curvature of the square distances, and the product of the changes of slack and weight.

Source: S. Mehrotra, On the implementation of a primal-dual interior point method (1992), for this convex problem.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...errors import GeometryError
from ...vectors import Flags, Floats, Indices

__all__ = ["solved_cylinders"]

MOST_ROUNDS = 80
"""Steps; some ten to fifteen are usual."""

SWIFT = 24
"""After so many steps they are plain: where two contacts alone hold a cylinder, making up for much goes nowhere."""

PATIENT, GRANTED, GRANTED_BALANCE = 25, 1e-9, 1e-7
"""After so many steps this gap and balance will do: where contacts leave a tilt nearly free, rounding is as large."""

ASIDE = 1e-3
"""Products of slack and weight may be this share of their mean before they are brought back to it."""

BOLDEST = 0.03
"""No step aims at less than this share of the present gap, so that the balance follows."""

CENTRING = 0.1
"""Plain steps aim at this share of the present gap."""

FIRST_LEVEL = 1.5
"""Square radius to begin with, of points that lie within a circle of one."""

ROUNDING = 1e-14
"""Gaps below this share of the square of a radius are rounding."""

RIDGE = 1e-14
"""Added to the diagonal of a step, as a share of it: contacts at one position leave the tilt to the others."""

BALANCED = 1e-9
"""Pulls on the axis cancel to this share of the largest."""

TOWARD_EDGE = 0.99
"""Share of the way to the edge of what is allowed that one step may take."""

LEAST_SLACK = 1e-18
UNKNOWNS = 5


@dataclass(slots=True, eq=False)
class _Points:
    """Points of k sets ``(n, k)`` and where they stand along the axis, with powers of that ``(3, n)``."""

    x: Floats
    y: Floats
    places: Floats
    powers: Floats

    def chosen(self, keep: Indices) -> _Points:
        return _Points(self.x[:, keep], self.y[:, keep], self.places, self.powers)


@dataclass(slots=True, eq=False)
class _Ray:
    """Slack along a step: ``slack + 2 pull x - bend x^2``, and the change of the weights, ``(n, k)``."""

    step: Floats
    pull: Floats
    bend: Floats
    weights: Floats


def solved_cylinders(points: Floats, positions: Floats, gap: float) -> tuple[Floats, Floats, Floats]:
    """Axes ``(t, 4)``, square radii ``(t,)`` and weights ``(t, n)`` of points ``(t, n, 2)`` of size one.

    Parameters
    ----------
    points : (t, n, 2) float
        Off their fitted axes, the farthest at a distance of one.
    positions : (n,) float
        Along the axis, from -1 to 1.
    gap : float
        By what share the square of a radius may be above its proven lower bound.

    Raises
    ------
    GeometryError
        Where a set comes to no end.
    """
    t, n, _ = points.shape
    powers = np.stack([np.ones(n), positions, positions**2])
    every = _Points(
        np.ascontiguousarray(points[..., 0].T), np.ascontiguousarray(points[..., 1].T), positions[:, None], powers
    )
    unknown = np.zeros((UNKNOWNS, t))
    unknown[4] = FIRST_LEVEL
    weights = np.full((n, t), 1.0 / n)
    going = np.arange(t)
    mine, here, held = every, unknown, weights
    for number in range(MOST_ROUNDS):
        x = mine.x - here[0] - mine.places * here[2]
        y = mine.y - here[1] - mine.places * here[3]
        slack = np.maximum(here[4] - x * x - y * y, LEAST_SLACK)
        open_ = np.einsum("nk,nk->k", slack, held)
        drift = _drift(mine, x, y, held)
        wanted, balanced = (gap, BALANCED) if number < PATIENT else (max(gap, GRANTED), GRANTED_BALANCE)
        done = ((open_ < wanted * here[4]) & (drift < balanced)) | (open_ < ROUNDING * here[4])
        if done.any() or not len(done):
            unknown[:, going], weights[:, going] = here, held
            if done.all():
                return unknown[:4].T, unknown[4], (weights / weights.sum(axis=0)).T
            keep = np.nonzero(~done)[0]
            going, mine, here, held = going[keep], mine.chosen(keep), here[:, keep], held[:, keep]
            x, y, slack, open_, drift = x[:, keep], y[:, keep], slack[:, keep], open_[keep], drift[keep]
        lags = (drift > np.maximum(open_, balanced)) | _is_aside(slack, held, open_)
        ray, length = _step(mine, x, y, slack, held, open_, lags, number > SWIFT)
        here = here + length * ray.step
        held = held + length * ray.weights
    raise GeometryError(
        f"the smallest cylinder about {n} points was not found in {MOST_ROUNDS} steps; "
        "look for coordinates that repeat or lie far outside the others"
    )


def _drift(mine: _Points, x: Floats, y: Floats, held: Floats) -> Floats:
    """How far the pulls of the weights on the axis are from cancelling ``(k,)``."""
    pulls = np.abs(np.concatenate([mine.powers[:2] @ (held * x), mine.powers[:2] @ (held * y)])).max(axis=0)
    result: Floats = np.maximum(2.0 * pulls, np.abs(1.0 - held.sum(axis=0)))
    return result


def _is_aside(slack: Floats, held: Floats, open_: Floats) -> Flags:
    """Sets ``(k,)`` in which some product of slack and weight has run far ahead of the others."""
    result: Flags = (slack * held).min(axis=0) < ASIDE * open_ / len(slack)
    return result


def _step(
    mine: _Points, x: Floats, y: Floats, slack: Floats, held: Floats, open_: Floats, lags: Flags, plain: bool
) -> tuple[_Ray, Floats]:
    """Step of every set and the share of it to go ``(k,)``.

    Where the balance ``lags``, or a product, both are brought to the middle first; ``plain`` steps make up for nothing.
    """
    n = len(x)
    factors = _triangles(_matrix(mine, x, y, slack, held))
    look = _ray(mine, x, y, slack, held, factors, None)
    share = np.minimum(1.0, _reach(slack, held, look))
    after = slack + share * (2.0 * look.pull - share * look.bend)
    left = np.einsum("nk,nk->k", after, held + share * look.weights)
    centring = np.clip((left / open_) ** 3, BOLDEST, 1.0) * open_ / n
    missed = held * look.bend - look.weights * (2.0 * look.pull - look.bend)
    aim = np.where(lags, open_ / n, CENTRING * open_ / n if plain else centring + missed)
    ray = _ray(mine, x, y, slack, held, factors, aim)
    return ray, np.minimum(1.0, TOWARD_EDGE * _reach(slack, held, ray))


def _matrix(mine: _Points, x: Floats, y: Floats, slack: Floats, held: Floats) -> Floats:
    """Matrix ``(5, 5, k)`` of a step: curvature of the square distances, and pull of the weights."""
    stiff = 4.0 * held / slack
    sx, sy = stiff * x, stiff * y
    xx, xy, yy = (mine.powers @ part for part in (sx * x, sx * y, sy * y))
    total = 2.0 * (mine.powers @ held)
    one, two = 0.5 * (mine.powers[:2] @ sx), 0.5 * (mine.powers[:2] @ sy)
    matrix = np.empty((UNKNOWNS, UNKNOWNS, x.shape[1]))
    for i, j, power in ((0, 0, 0), (0, 2, 1), (2, 0, 1), (2, 2, 2)):
        matrix[i, j], matrix[i + 1, j + 1] = xx[power] + total[power], yy[power] + total[power]
        matrix[i, j + 1] = matrix[i + 1, j] = xy[power]
    for power in (0, 1):
        matrix[2 * power, 4] = matrix[4, 2 * power] = one[power]
        matrix[2 * power + 1, 4] = matrix[4, 2 * power + 1] = two[power]
    matrix[4, 4] = 0.25 * stiff.sum(axis=0)
    matrix[np.arange(UNKNOWNS), np.arange(UNKNOWNS)] *= 1.0 + RIDGE
    return matrix


def _ray(
    mine: _Points, x: Floats, y: Floats, slack: Floats, held: Floats, factors: tuple[Floats, Floats], aim: Floats | None
) -> _Ray:
    """Step that brings the products of slack and weight to ``aim`` (n, k), or to nought."""
    right = np.zeros((UNKNOWNS, x.shape[1]))
    right[4] = -1.0
    pushed = None if aim is None else aim / slack
    if pushed is not None:
        right[0:3:2] = 2.0 * (mine.powers[:2] @ (pushed * x))
        right[1:4:2] = 2.0 * (mine.powers[:2] @ (pushed * y))
        right[4] += pushed.sum(axis=0)
    step = _solve(factors, right)
    across, up = step[0] + mine.places * step[2], step[1] + mine.places * step[3]
    pull = x * across + y * up + 0.5 * step[4]
    weights = -held * (1.0 + 2.0 * pull / slack)
    if pushed is not None:
        weights += pushed
    return _Ray(step, pull, across * across + up * up, weights)


def _reach(slack: Floats, held: Floats, ray: _Ray) -> Floats:
    """Share ``(k,)`` of a step at which a weight or a slack becomes nought."""
    with np.errstate(divide="ignore", invalid="ignore"):
        to_edge = np.where(ray.weights < 0.0, -held / ray.weights, np.inf).min(axis=0)
        # slack + 2 pull x - bend x^2 = 0, its positive root without cancellation
        root = np.sqrt(ray.pull**2 + ray.bend * slack)
        reach = np.where(ray.pull > 0.0, (ray.pull + root) / ray.bend, slack / (root - ray.pull))
    result: Floats = np.minimum(to_edge, np.where(np.isfinite(reach), reach, np.inf).min(axis=0))
    return result


def _triangles(matrix: Floats) -> tuple[Floats, Floats]:
    """Lower triangles ``(5, 5, k)`` of positive systems, in place, and one over their diagonals."""
    lower = matrix
    inverse = np.empty(lower.shape[1:])
    least = RIDGE * np.einsum("iik->ik", lower)
    for j in range(UNKNOWNS):
        inverse[j] = 1.0 / np.sqrt(np.maximum(lower[j, j], least[j]))
        column = lower[j + 1 :, j]
        column *= inverse[j]
        lower[j + 1 :, j + 1 :] -= column[:, None] * column[None]
    return lower, inverse


def _solve(factors: tuple[Floats, Floats], right: Floats) -> Floats:
    """Solutions ``(5, k)`` by the triangles of systems."""
    lower, inverse = factors
    found = np.array(right)
    for j in range(UNKNOWNS):
        found[j] *= inverse[j]
        found[j + 1 :] -= lower[j + 1 :, j] * found[j]
    for j in reversed(range(UNKNOWNS)):
        found[j] *= inverse[j]
        found[:j] -= lower[j, :j] * found[j]
    return found
