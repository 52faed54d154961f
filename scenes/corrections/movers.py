"""Movers: what can be moved - feet and bearings - and what that does to every station."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..reductions.quantities.evidence import DISPLACED, Evidence
from ..vectors import Floats, frozen

__all__ = ["Movers", "effect_on_unknowns", "station_axes"]


@dataclass(frozen=True, slots=True, eq=False)
class Movers:
    """Feet or bearings that can be moved; m movers, s stations.

    Attributes
    ----------
    names, parts, ways : tuple of str
        ``F1`` or ``drive``; the part that it carries; ``up`` or ``side``.
    directions : (m, 3) float
        Direction in which a move counts positive, world, unit.
    stations : tuple of str
        All stations of the layout on these parts.
    rise : (s, 3, m) float
        Displacement of each station per unit move of each mover, world.
    bent : (s, 3, m) float
        The share of ``rise`` that rests on how the part bends, and not on geometry alone.
    lowest, highest : (m,) float
        Limits of the moves, metres.
    stock : tuple of tuple of float
        Shim thicknesses at hand for each mover, metres; empty: any move.
    most_pieces : tuple of int
    known_to : (m,) float
        Standard uncertainty of one move, metres.
    influence_known_to : float
        Standard uncertainty of ``bent``, as a share of it.
    own_loads, load_change : (m,) and (m, m) float, or None
        Loads as found, newton, and their change per move.
    kind : str
        ``plate``, ``beam``, ``rigid``, ``measured`` or ``bearings``.
    """

    names: tuple[str, ...]
    parts: tuple[str, ...]
    ways: tuple[str, ...]
    directions: Floats
    stations: tuple[str, ...]
    rise: Floats
    bent: Floats
    lowest: Floats
    highest: Floats
    stock: tuple[tuple[float, ...], ...]
    most_pieces: tuple[int, ...]
    known_to: Floats
    influence_known_to: float
    own_loads: Floats | None
    load_change: Floats | None
    kind: str

    def __post_init__(self) -> None:
        """Freeze the arrays and check that they belong together."""
        m, s = len(self.names), len(self.stations)
        shapes: dict[str, tuple[int, ...]] = {
            "directions": (m, 3), "rise": (s, 3, m), "bent": (s, 3, m), "lowest": (m,), "highest": (m,),
            "known_to": (m,),
        }  # fmt: skip
        for name, shape in shapes.items():
            object.__setattr__(self, name, frozen(getattr(self, name), shape))

    def __len__(self) -> int:
        """Return the number of movers."""
        return len(self.names)

    def label(self, j: int) -> str:
        """Name of a mover for people: ``F1``, or ``roll_1 drive, side``."""
        if self.kind != "bearings":
            return self.names[j]
        return f"{self.parts[j]} {self.names[j]}, {self.ways[j]}"


def effect_on_unknowns(evidence: Evidence, movers: Movers, rise: Floats) -> Floats:
    """Change ``(p, m)`` of the unknowns of a network with the moves, where stations are displaced by ``rise``.

    Parameters
    ----------
    rise : (s, 3, m) float
        ``movers.rise``, or the share of it that bends.
    """
    number = {name: i for i, name in enumerate(movers.stations)}
    change = np.zeros((evidence.unknowns, len(movers)))
    for i, name in enumerate(evidence.stations):
        if name not in number:
            continue
        along_axes = evidence.axes[i] @ rise[number[name]]
        for field, row in zip(DISPLACED, along_axes, strict=True):
            column = evidence.network.column(field, name)
            if column is not None:
                change[column] += row
    return change


def station_axes(layout: Layout, name: str) -> Floats:
    """Directions ``(2, 3)``, world, along which the truth of a station counts up and aside."""
    station = layout.stations[name]
    turn = layout.surfaces[station.surface].world_from_surface.rotation
    normal = turn @ station.normal
    return np.stack([normal, np.cross(normal, turn @ station.along)])
