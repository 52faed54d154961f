"""Moves that a person chooses in place of the proposed ones, told as fully as those."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from ..model.survey import Task
from ..vectors import Floats, frozen
from .lift_problem import LEAST_LOAD
from .moves import Forecast, Moves, Outcome, StationMoves, Step
from .stacks import NANOMETRE, Stacks, stacks_of
from .told_moves import doubts, forecasts, stations_moved, steps_of

__all__ = ["ChosenMoves", "Makeable", "chosen_moves", "makeable", "stacks_at"]


@dataclass(frozen=True, slots=True, eq=False)
class Makeable:
    """Moves of one foot or bearing that the shims at hand can make, ascending, and the shims of each."""

    moves: Floats
    shims: tuple[tuple[float, ...], ...]

    def __post_init__(self) -> None:
        """Freeze the array."""
        object.__setattr__(self, "moves", frozen(self.moves, (-1,)))

    def nearest(self, move: float) -> int:
        """Number of the nearest one."""
        return int(np.argmin(np.abs(self.moves - move)))

    def stack(self, move: float) -> tuple[float, ...] | None:
        """Shims of ``move`` [m]; None where none make it."""
        k = self.nearest(move)
        return self.shims[k] if abs(float(self.moves[k]) - move) < NANOMETRE else None


@dataclass(frozen=True, slots=True, eq=False)
class ChosenMoves:
    """Chosen moves of m feet or bearings and what they should leave; metres and newton.

    Attributes
    ----------
    lifts : (m,) float
        From where each was found.
    stacks : tuple, or None
        Shims for each; None for one whose move no shims at hand make. None as a whole: no stock was stated.
    components, stations, steps, criterion
        As those of ``Moves``; where a foot lifts off, components have neither uncertainty (nan) nor verdict.
    loads : (m,) float, optional
        After all steps.
    warnings : tuple of str
        About travel, soft feet, loads and what the readings can tell.
    """

    lifts: Floats
    stacks: tuple[tuple[float, ...] | None, ...] | None
    components: tuple[Forecast, ...]
    stations: tuple[StationMoves, ...]
    steps: tuple[Step, ...]
    criterion: str
    loads: Floats | None
    warnings: tuple[str, ...]

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        object.__setattr__(self, "lifts", frozen(self.lifts))
        if self.loads is not None:
            object.__setattr__(self, "loads", frozen(self.loads))


def makeable(moves: Moves, mover: int) -> Makeable | None:
    """What shims can make of one mover within its limits, the proposed move among it; None where any move can be."""
    movers = moves.movers
    if not movers.stock[mover]:
        return None
    lowest, highest = float(movers.lowest[mover]), float(movers.highest[mover])
    heap = _heap(movers.stock[mover], movers.most_pieces[mover], max(highest, -lowest), lowest >= 0.0)
    inside = (heap.heights >= lowest - NANOMETRE) & (heap.heights <= highest + NANOMETRE)
    found = {float(heap.heights[k]): heap.shims[k] for k in np.flatnonzero(inside)}
    own = float(moves.lifts[mover])
    if moves.stacks is not None and all(abs(own - height) >= NANOMETRE for height in found):
        found[own] = moves.stacks[mover]
    order = sorted(found)
    return Makeable(np.array(order), tuple(found[height] for height in order))


@lru_cache(maxsize=32)
def _heap(stock: tuple[float, ...], most_pieces: int, highest: float, add_only: bool) -> Stacks:
    """The same stock lies at every foot, and is asked for at every move of a slider."""
    return stacks_of(stock, most_pieces, highest, add_only=add_only)


def stacks_at(moves: Moves, lifts: Floats) -> tuple[tuple[float, ...] | None, ...] | None:
    """Shims that make ``lifts`` (m,) [m], as in ``ChosenMoves.stacks``."""
    if not any(moves.movers.stock):
        return None
    ways = [makeable(moves, j) for j in range(len(moves.movers))]
    return tuple(() if way is None else way.stack(float(lifts[j])) for j, way in enumerate(ways))


def chosen_moves(moves: Moves, lifts: ArrayLike, task: Task, rng: np.random.Generator) -> ChosenMoves:
    """The moves ``lifts`` (m,) [m] told in full, in place of those that ``moves`` proposes.

    Parameters
    ----------
    task : Task
        The one that was measured; its rule decides.
    rng : numpy.random.Generator
        For trials.

    Raises
    ------
    GeometryError
        Where their number is not that of the movers.
    """
    outcome = moves.evaluate(lifts)
    chosen, movers = np.asarray(lifts, dtype=np.float64), moves.movers
    stacks = stacks_at(moves, chosen)
    fills = np.where(chosen >= moves.fills - NANOMETRE, moves.fills, 0.0)
    told = None if stacks is None else tuple(stack or () for stack in stacks)
    steps, criterion = steps_of(movers, chosen, told, moves.aim, moves.loads_before, fills)
    components = _unknown(moves, outcome) if outcome.unloaded else forecasts(moves.answers, movers, chosen, task, rng)
    warnings = [*moves.unread, *_travel(moves, chosen), *_soft(moves, fills), *_loads(moves, outcome.loads)]
    if chosen.any() and not outcome.unloaded:
        warnings += doubts(components, moves.answers)
    return ChosenMoves(
        chosen, stacks, components, stations_moved(moves.answers, moves.shapes, movers, chosen), steps, criterion,
        outcome.loads, tuple(warnings),
    )  # fmt: skip


def _unknown(moves: Moves, outcome: Outcome) -> tuple[Forecast, ...]:
    """Values without uncertainty and verdict: feet that lift off leave the model, so nothing is forecast."""
    return tuple(
        replace(each, after=value, u_after=np.nan, interval=(np.nan, np.nan), probability=None, verdict=None)
        for each, value in zip(moves.components, outcome.values, strict=True)
    )


def _travel(moves: Moves, lifts: Floats) -> list[str]:
    movers, said = moves.movers, []
    for j in np.flatnonzero(np.abs(lifts) > 0.0):
        label = movers.label(int(j))
        if lifts[j] > movers.highest[j] + NANOMETRE or lifts[j] < movers.lowest[j] - NANOMETRE:
            said.append(f"{label} is moved further than its travel allows.")
        elif lifts[j] >= movers.highest[j] - NANOMETRE or lifts[j] <= movers.lowest[j] + NANOMETRE:
            said.append(f"{label} uses its whole travel.")
    return said


def _soft(moves: Moves, fills: Floats) -> list[str]:
    """Gaps that these moves leave."""
    open_ = np.flatnonzero((moves.fills > 0.0) & (fills == 0.0))
    return [
        f"{moves.movers.label(int(j))} is a soft foot and its gap of {1e3 * moves.gaps[j]:.2f} mm stays open: "
        f"{1e3 * moves.fills[j]:.2f} mm fill it."
        for j in open_
    ]


def _loads(moves: Moves, loads: Floats | None) -> list[str]:
    """Feet that lift off, or carry less than what a proposal would leave on them."""
    if loads is None or moves.loads_before is None:
        return []
    least, said = LEAST_LOAD * float(moves.loads_before.sum()) / len(loads), []
    for j in np.flatnonzero(loads < least):
        name, left = moves.movers.label(int(j)), f"{loads[j] / 1e3:.1f} kN"
        if loads[j] <= 0.0:
            said.append(f"{name} lifts off: the part then no longer follows the influence, and this forecast does "
                        "not hold.")  # fmt: skip
        elif loads[j] < moves.loads_before[j]:
            said.append(f"{name} is left with {left} only, below the {least / 1e3:.1f} kN that a proposal keeps.")
    return said
