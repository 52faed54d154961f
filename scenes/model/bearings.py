"""Bearings: where the axis of a roll or a bore is held, and what a fitter can do there."""

from __future__ import annotations

from dataclasses import dataclass

from ..vectors import Floats, frozen

__all__ = ["Bearings", "Play"]


@dataclass(frozen=True, slots=True)
class Play:
    """What can be done to a bearing in one direction.

    Attributes
    ----------
    travel : float
        Largest move either way, metres.
    add_only : bool
        True where it can only be raised (moved to the side that counts positive).
    stock : tuple of float
        Shim thicknesses at hand, metres; empty: any move.
    most_pieces : int
        Shims that may lie under one bearing.
    known_to : float
        Standard uncertainty of one move, metres.
    """

    travel: float
    add_only: bool = False
    stock: tuple[float, ...] = ()
    most_pieces: int = 4
    known_to: float = 5e-6


@dataclass(frozen=True, slots=True, eq=False)
class Bearings:
    """The bearings that hold a roll, a bore or a shaft.

    Attributes
    ----------
    surface : str
        The part that they hold.
    names : tuple of str
        Such as ``drive`` and ``tending``.
    at : (b,) float
        Where they stand along the axis, metres, z in the frame of the part; two of them.
    fixed : tuple of str
        Those that stay.
    up, side : Play, optional
        Up, square to the axis; and level, to the left of it, seen along the axis. None: it cannot be moved that way.
    """

    surface: str
    names: tuple[str, ...]
    at: Floats
    fixed: tuple[str, ...] = ()
    up: Play | None = None
    side: Play | None = None
    line: int = 0

    def __post_init__(self) -> None:
        """Freeze the places."""
        object.__setattr__(self, "at", frozen(self.at, (-1,)))
