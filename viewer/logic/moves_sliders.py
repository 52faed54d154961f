"""Sliders of feet and bearings: their positions and the moves that they stand for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.corrections.chosen_moves import Makeable, makeable
from scenes.corrections.moves import Moves
from scenes.units import from_si, to_si
from scenes.vectors import Floats

__all__ = ["MoveSlider", "lifts_at", "positions_of", "sliders_of"]

FINE = 200
"""A slider of any thickness has about this many steps, of a round size."""


@dataclass(frozen=True, slots=True, eq=False)
class MoveSlider:
    """Slider of one mover.

    Attributes
    ----------
    lowest, highest : float
        Moves at its ends, metres.
    unit : str
        Of its positions where any move can be made.
    stock : Makeable, optional
        Its positions are then numbers of these moves.
    """

    lowest: float
    highest: float
    unit: str
    stock: Makeable | None

    @property
    def still(self) -> bool:
        """True where nothing can be moved."""
        return self.highest <= self.lowest

    @property
    def ends(self) -> tuple[float, float]:
        """First and last position."""
        if self.stock is not None:
            return 0.0, float(len(self.stock.moves) - 1)
        return from_si(self.lowest, self.unit, "length"), from_si(self.highest, self.unit, "length")

    @property
    def step(self) -> float:
        """Distance of its positions."""
        if self.stock is not None or self.still:
            return 1.0
        low, high = self.ends
        power = 10.0 ** np.floor(np.log10((high - low) / FINE))
        return float(power * next(each for each in (1.0, 2.0, 5.0, 10.0) if each * power >= (high - low) / FINE))

    def move(self, position: float) -> float:
        """Move [m] at a position, within the ends."""
        low, high = self.ends
        held = min(max(position if np.isfinite(position) else 0.0, low), high)
        if self.stock is not None:
            return float(self.stock.moves[round(held)])
        return min(max(to_si(held, self.unit, "length"), self.lowest), self.highest)

    def position(self, move: float) -> float:
        """Nearest position to a move [m]."""
        held = min(max(move if np.isfinite(move) else 0.0, self.lowest), self.highest)
        if self.stock is not None:
            return float(self.stock.nearest(held))
        return round(from_si(held, self.unit, "length"), 6)


def sliders_of(moves: Moves, unit: str, free: bool) -> tuple[MoveSlider, ...]:
    """Sliders of all movers; ``free`` lets any thickness be chosen where shims are in stock too."""
    movers = moves.movers
    return tuple(
        MoveSlider(float(movers.lowest[j]), float(movers.highest[j]), unit, None if free else makeable(moves, j))
        for j in range(len(movers))
    )


def lifts_at(sliders: tuple[MoveSlider, ...], positions: list[float]) -> Floats:
    """Moves ``(m,)`` [m] at positions; what is missing or no number counts as nought."""
    given = [_number(each) for each in positions[: len(sliders)]]
    given += [each.position(0.0) for each in sliders[len(given) :]]
    return np.array([slider.move(at) for slider, at in zip(sliders, given, strict=True)])


def positions_of(sliders: tuple[MoveSlider, ...], lifts: Floats) -> list[float]:
    """Positions nearest to moves ``(m,)`` [m]."""
    return [slider.position(float(lift)) for slider, lift in zip(sliders, lifts, strict=True)]


def _number(value: object) -> float:
    try:
        return float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return 0.0
