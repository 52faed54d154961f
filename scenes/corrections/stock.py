"""Lifts made of the shims at hand: of all that are flat enough, those that touch the fewest feet and lift least."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..vectors import Floats
from .flattest_stacks import flattest_stacks, rounded_lifts
from .lift_problem import LiftProblem
from .stacks import NANOMETRE, Picked, Stacks
from .touched_feet import ChoiceBounds, bounds_of_choices, choices_of
from .zone_cuts import ZoneCuts

__all__ = ["stock_lifts"]

TRIED = 8_000  # sets of stacks near the best lifts of all choices of one number of feet
AROUND = 2_000  # sets of stacks around the best set so far
LOWERED = 1_800  # sets that differ from the best so far by a plane
WIDEST = 16  # neighbouring stacks tried under one foot
PAIR_REACH = 4  # stacks up and down tried under two feet
PORTION = 32  # sets whose values are worked out at once
ROUNDS = 30
MANY = 8  # feet up to which all choices are looked at at once
FLAT_FEET = 1e-6  # feet whose triangle is a smaller share of the largest are on one line
FEW = 4  # of more feet, first only the choices of so many


def stock_lifts(
    problem: LiftProblem,
    stacks: Stacks,
    start: Floats,
    generator: np.random.Generator,
    slack: float = 0.0,
    held: NDArray[np.intp] | None = None,
) -> Picked:
    """Index into ``stacks.heights`` for each foot, ``(m,)``: the best lifts that were found.

    First the best value that the stock can reach is looked for. Then, of all sets within ``slack`` [m] of it, the one
    that touches the fewest feet is taken; of equal ones that of least total lift, then that of the fewest pieces. The
    number of touched feet goes up from none: linear programmes exclude most choices of feet, and around the best
    lifts of the others the stacks are tried, the thriftiest first. The start are the best lifts of any thickness,
    ``start`` ``(m,)``, and the limits ``held`` that hold them, where they are known.
    """
    cuts = ZoneCuts.begin(problem)
    some, values = rounded_lifts(problem, stacks, start, generator, cuts)
    picked, value = flattest_stacks(problem, stacks, cuts, some, values)
    m = len(start)
    few = m if m <= MANY else FEW
    sieve = _Sieve(problem, stacks, cuts)
    picked, value = _searched(sieve, few, picked, value, slack, held)
    if (picked != stacks.zero).sum() > few:
        picked, value = _searched(sieve, m, picked, value, slack, held)
    return picked


def _searched(
    sieve: _Sieve, most: int, picked: Picked, best: float, slack: float, held: NDArray[np.intp] | None
) -> tuple[Picked, float]:
    """Set of stacks as in ``stock_lifts``, found by way of all choices of at most ``most`` feet, and that of all.

    From the best set so far and its value, which are handed back where nothing better is found.
    """
    problem = sieve.problem
    movable = (problem.lowest < 0.0) | (problem.highest > 0.0)
    chosen = np.concatenate([choices_of(problem, most), movable[None]])
    bounds = bounds_of_choices(problem, chosen, best + slack + NANOMETRE, held)
    value = best
    for _ in range(ROUNDS):
        picked, value = _thriftiest(sieve, bounds, chosen, picked, value, best + slack + NANOMETRE)
        if value >= best - NANOMETRE:
            break
        best = value  # better than all before, so the others are measured by it
    return picked, value


def _thriftiest(
    sieve: _Sieve, bounds: ChoiceBounds, chosen: NDArray[np.bool_], picked: Picked, value: float, allowed: float
) -> tuple[Picked, float]:
    """Thriftiest set whose value is within ``allowed`` [m], from one that is, and its value."""
    stacks = sieve.stacks
    feet = chosen.sum(axis=1)
    for size in range(int((picked != stacks.zero).sum()) + 1):
        alive = (feet == size) & (bounds.least <= allowed)
        if alive.any():
            better = sieve.first_below(_near_lifts(stacks, bounds.lifts[alive], chosen[alive]), picked, allowed)
            if better is not None:
                picked, value = better
                break
    for _ in range(ROUNDS):
        near = np.concatenate([_around(picked, stacks.zero), _lowered(sieve.problem, stacks, picked)])
        better = sieve.first_below(near, picked, allowed)
        if better is None:
            break
        picked, value = better
    return picked, value


def _grid(steps: NDArray[np.intp], size: int) -> Picked:
    """All combinations of ``steps`` for ``size`` feet, ``(k, size)``."""
    if size == 0:
        return np.zeros((1, 0), dtype=np.intp)
    return np.stack(np.meshgrid(*[steps] * size, indexing="ij"), axis=-1).reshape(-1, size)


def _near_lifts(stacks: Stacks, lifts: Floats, chosen: NDArray[np.bool_]) -> Picked:
    """Stacks near the lifts of each choice of feet, all choices of one size, ``(k, m)``; no stacks for other feet."""
    size = int(chosen[0].sum())
    width = int(np.clip((TRIED / len(chosen)) ** (1.0 / max(size, 1)), 2, WIDEST))
    above = np.searchsorted(stacks.heights, lifts)
    feet = np.nonzero(chosen)[1].reshape(len(chosen), size)
    steps = _grid(np.arange(width) - width // 2, size)
    near = np.full((len(chosen), len(steps), chosen.shape[1]), stacks.zero)
    values = np.take_along_axis(above, feet, axis=1)[:, None, :] + steps
    np.put_along_axis(near, np.broadcast_to(feet[:, None, :], values.shape), values, axis=2)
    return near.reshape(-1, chosen.shape[1])


def _around(picked: Picked, zero: int) -> Picked:
    """Sets around ``picked`` that touch no other feet, ``(k, m)``: all small steps of few feet, wider ones of pairs."""
    feet = np.flatnonzero(picked != zero)
    if feet.size == 0:
        return picked[None]
    one = np.eye(len(feet), dtype=np.intp)
    first, second = np.triu_indices(len(feet), 1)
    wide = _grid(np.arange(-PAIR_REACH, PAIR_REACH + 1), 2)
    pairs = wide[:, 0, None, None] * one[first] + wide[:, 1, None, None] * one[second]
    reach = int(min((AROUND ** (1.0 / len(feet)) - 1.0) / 2.0, WIDEST))
    steps = [pairs.reshape(-1, len(feet)), *([_grid(np.arange(-reach, reach + 1), len(feet))] if reach else [])]
    near = np.tile(picked, (sum(map(len, steps)), 1))
    near[:, feet] += np.concatenate(steps)
    return near


def _lowered(problem: LiftProblem, stacks: Stacks, picked: Picked) -> Picked:
    """Sets near ``picked`` less every plane that puts as many feet on low stacks as a plane can, ``(k, m)``.

    Planes cost nothing, so a set and the same set on a tilt are equally good; feet that stand on a grid make many such.
    """
    free, heights = problem.free_lifts, stacks.heights
    p = free.shape[1]
    feet = np.array(list(combinations(range(len(picked)), p)))
    size = np.abs(np.linalg.det(free[feet]))
    feet = feet[size > FLAT_FEET * size.max(initial=0.0)]
    if len(feet) == 0:
        return picked[None]
    low = heights[stacks.zero :][: max(int((LOWERED / len(feet)) ** (1.0 / p)), 1)]
    targets = low[_grid(np.arange(len(low)), p)]
    lifts = heights[picked]
    planes = np.linalg.solve(free[feet][:, None], (lifts[feet][:, None, :] - targets)[..., None])[..., 0] @ free.T
    return np.searchsorted((heights[1:] + heights[:-1]) / 2.0, (lifts - planes).reshape(-1, len(picked)))


@dataclass(frozen=True, slots=True, eq=False)
class _Sieve:
    """Finds the thriftiest of many sets that keeps all limits and whose value is small enough."""

    problem: LiftProblem
    stacks: Stacks
    cuts: ZoneCuts

    def thrift(self, picked: Picked) -> NDArray[np.int64]:
        """One whole number for each set ``(k,)``, less is thriftier: feet touched, then total lift, then pieces."""
        total = np.rint(np.abs(self.stacks.heights) / NANOMETRE).astype(np.int64)
        each = (total << 9) + self.stacks.pieces
        each[np.arange(len(each)) != self.stacks.zero] += 1 << 48
        return np.asarray(each[picked].sum(axis=-1))

    def first_below(self, picked: Picked, best: Picked, allowed: float) -> tuple[Picked, float] | None:
        """Thriftiest of the sets ``(k, m)`` that passes, where it is thriftier than ``best``, and its value.

        Each portion of sets that are too uneven leaves its contacts behind, which sieve what comes after.
        """
        picked = self.stacks.within(picked, self.problem)
        thrift = self.thrift(picked)
        below = np.flatnonzero(thrift < self.thrift(best))
        picked, thrift = self._promising(picked[below], thrift[below], allowed)
        picked = picked[np.argsort(thrift, kind="stable")]
        while len(picked):
            some, picked = picked[:PORTION], picked[PORTION:]
            known = len(self.cuts.floors)
            values = self.cuts.values_within(self.stacks.heights[some], allowed)
            good = np.flatnonzero(np.isfinite(values))
            if good.size:
                return some[good[0]], float(values[good[0]])
            if len(picked) and len(self.cuts.floors) > known:
                picked = picked[self.cuts.floors_of(self.stacks.heights[picked], known) <= allowed]
        return None

    def _promising(self, picked: Picked, thrift: NDArray[np.int64], allowed: float) -> tuple[Picked, NDArray[np.int64]]:
        """Those sets that keep the loads and that nothing proves to be too uneven."""
        lifts = self.stacks.heights[picked]
        good = self.cuts.floors_of(lifts) <= allowed
        good[good] = self.problem.missing_loads(lifts[good]) <= 0.0
        return picked[good], thrift[good]
