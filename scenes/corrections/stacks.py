"""Heights that can be stacked from the shims at hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..vectors import Floats
from .lift_problem import LiftProblem

__all__ = ["NANOMETRE", "Picked", "Stacks", "stacks_of"]

Picked = NDArray[np.intp]
"""Indices of stacks, one per foot."""

NANOMETRE = 1e-9
MOST_HEIGHTS = 4000


@dataclass(frozen=True, slots=True, eq=False)
class Stacks:
    """Heights that can be stacked, ascending, and the shims of each (fewest pieces; negative: taken out)."""

    heights: Floats
    shims: tuple[tuple[float, ...], ...]

    @property
    def zero(self) -> int:
        """Index of no shims at all."""
        return int(np.searchsorted(self.heights, -NANOMETRE))

    @property
    def pieces(self) -> NDArray[np.intp]:
        """Number of shims in each stack."""
        return np.array([len(stack) for stack in self.shims])

    def ends(self, problem: LiftProblem) -> tuple[Picked, Picked]:
        """Lowest and highest stack that each foot allows, ``(m,)`` each."""
        bottom = np.searchsorted(self.heights, problem.lowest - NANOMETRE)
        return bottom, np.searchsorted(self.heights, problem.highest + NANOMETRE) - 1

    def within(self, picked: Picked, problem: LiftProblem) -> Picked:
        """Those sets ``(k, m)`` whose stacks all feet allow."""
        bottom, top = self.ends(problem)
        return picked[((picked >= bottom) & (picked <= top)).all(axis=1)]


def stacks_of(stock: tuple[float, ...], most_pieces: int, highest: float, *, add_only: bool) -> Stacks:
    """Heights up to ``highest`` [m] from at most ``most_pieces`` of the thicknesses in ``stock`` [m].

    Examples
    --------
    >>> stacks_of((0.00005, 0.0002), 2, 1.0, add_only=True).heights.tolist()
    [0.0, 5e-05, 0.0001, 0.0002, 0.00025, 0.0004]
    """
    sizes = sorted({round(thickness / NANOMETRE) for thickness in stock}, reverse=True)
    limit = round(highest / NANOMETRE)
    found: dict[int, tuple[int, ...]] = {0: ()}
    last = dict(found)
    for _ in range(most_pieces):
        grown: dict[int, tuple[int, ...]] = {}
        for height, pieces in last.items():
            for size in sizes:
                if height + size <= limit and height + size not in found and height + size not in grown:
                    grown[height + size] = (*pieces, size)
        found |= grown
        last = grown
        if len(found) > MOST_HEIGHTS:
            break
    signed = {**found, **({} if add_only else {-h: tuple(-s for s in p) for h, p in found.items()})}
    order = sorted(signed)
    return Stacks(
        np.array([h * NANOMETRE for h in order]).round(12),
        tuple(tuple(round(s * NANOMETRE, 12) for s in sorted(signed[h], reverse=True)) for h in order),
    )
