"""Lifts made of the shims at hand: of all that are flat enough, those that touch the fewest feet and lift least."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..vectors import Floats
from .flattest_stacks import flattest_stacks, rounded_lifts
from .lift_problem import LiftProblem
from .stacks import NANOMETRE, Picked, Stacks
from .touched_feet import ChoiceBounds, bounds_of_choices, choices_of

__all__ = ["stock_lifts"]

TRIED = 8_000  # sets of stacks near the best lifts of all choices of one number of feet
AROUND = 2_000  # sets of stacks around the best set so far
WIDEST = 16  # neighbouring stacks tried under one foot
PORTION = 1_000  # sets looked at at once
ROUNDS = 30
MANY = 8  # feet up to which all choices are looked at at once
FEW = 4  # of more feet, first only the choices of so many


def stock_lifts(
    problem: LiftProblem, stacks: Stacks, start: Floats, generator: np.random.Generator, slack: float = 0.0
) -> Picked:
    """Index into ``stacks.heights`` for each foot, ``(m,)``: the best lifts that were found.

    First the best value that the stock can reach is looked for. Then, of all sets within ``slack`` [m] of it, the one
    that touches the fewest feet is taken; of equal ones that of least total lift, then that of the fewest pieces. The
    number of touched feet goes up from none: linear programmes exclude most choices of feet, and around the best
    lifts of the others the stacks are tried, the thriftiest first. The start are the best lifts of any thickness,
    ``start`` ``(m,)``.
    """
    some, values = rounded_lifts(problem, stacks, start, generator)
    m = len(start)
    few = m if m <= MANY else FEW
    picked = _searched(problem, stacks, few, some, values, slack)
    if (picked != stacks.zero).sum() > few:
        picked = _searched(problem, stacks, m, some, values, slack)
    return picked


def _searched(problem: LiftProblem, stacks: Stacks, most: int, some: Picked, values: Floats, slack: float) -> Picked:
    """Set of stacks as in ``stock_lifts``, found by way of all choices of at most ``most`` feet, and that of all."""
    movable = (problem.lowest < 0.0) | (problem.highest > 0.0)
    chosen = np.concatenate([choices_of(problem, most), movable[None]])
    bounds = bounds_of_choices(problem, chosen, float(values[0]) + slack + NANOMETRE)
    picked, best = flattest_stacks(problem, stacks, bounds, some, values)
    value = best
    for _ in range(ROUNDS):
        sieve = _Sieve(problem, stacks, bounds, best + slack + NANOMETRE)
        picked, value = _thriftiest(sieve, chosen, picked, value)
        if value >= best - NANOMETRE:
            break
        best = value  # better than all before, so the others are measured by it
    return picked


def _thriftiest(sieve: _Sieve, chosen: NDArray[np.bool_], picked: Picked, value: float) -> tuple[Picked, float]:
    """Thriftiest set that passes the sieve, from one that does, and its value."""
    stacks, bounds = sieve.stacks, sieve.bounds
    feet = chosen.sum(axis=1)
    for size in range(int((picked != stacks.zero).sum()) + 1):
        alive = (feet == size) & (bounds.least <= sieve.allowed)
        if alive.any():
            better = sieve.first_below(_near_lifts(stacks, bounds.lifts[alive], chosen[alive]), picked)
            if better is not None:
                picked, value = better
                break
    for _ in range(ROUNDS):
        better = sieve.first_below(_around(picked, stacks.zero), picked)
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
    """Sets around ``picked`` that touch no other feet, ``(k, m)``: all steps of few feet, pairs of steps of many."""
    feet = np.flatnonzero(picked != zero)
    reach = int(min((AROUND ** (1.0 / max(len(feet), 1)) - 1.0) / 2.0, WIDEST))
    if reach >= 1:
        steps = _grid(np.arange(-reach, reach + 1), len(feet))
    else:
        one = np.eye(len(feet), dtype=np.intp)
        first, second = np.triu_indices(len(feet), 1)
        pairs = [a * one[first] + b * one[second] for a in (-1, 1) for b in (-1, 1)]
        steps = np.concatenate([one, -one, 2 * one, -2 * one, *pairs])
    near = np.tile(picked, (len(steps), 1))
    near[:, feet] += steps
    return near


@dataclass(frozen=True, slots=True, eq=False)
class _Sieve:
    """Finds the thriftiest of many sets that keeps all limits and whose value is within ``allowed`` [m]."""

    problem: LiftProblem
    stacks: Stacks
    bounds: ChoiceBounds
    allowed: float

    def thrift(self, picked: Picked) -> NDArray[np.int64]:
        """One whole number for each set ``(k,)``, less is thriftier: feet touched, then total lift, then pieces."""
        total = np.rint(np.abs(self.stacks.heights) / NANOMETRE).astype(np.int64)
        each = ((picked != self.stacks.zero).astype(np.int64) << 48) + (total << 9)[picked] + self.stacks.pieces[picked]
        return np.asarray(each.sum(axis=-1))

    def first_below(self, picked: Picked, best: Picked) -> tuple[Picked, float] | None:
        """Thriftiest of the sets ``(k, m)`` that passes, where it is thriftier than ``best``, and its value."""
        picked = self.stacks.within(picked, self.problem)
        thrift = self.thrift(picked)
        below = np.flatnonzero(thrift < self.thrift(best))
        picked = picked[below[np.argsort(thrift[below], kind="stable")]]
        for at in range(0, len(picked), PORTION):
            some = self._promising(picked[at : at + PORTION])
            values = self.problem.values(self.stacks.heights[some]) if len(some) else np.zeros(0)
            good = np.flatnonzero(values <= self.allowed)
            if good.size:
                return some[good[0]], float(values[good[0]])
        return None

    def _promising(self, picked: Picked) -> Picked:
        """Those sets that keep the loads and that nothing proves to be too uneven."""
        lifts = self.stacks.heights[picked]
        good = (self.problem.missing_loads(lifts) <= 0.0) & (self.bounds.floors_of(lifts) <= self.allowed)
        return picked[good]
