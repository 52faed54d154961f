"""Spot: where one station of a group goes, before it has its target and mount."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ..model.machine import Bore, Column, Face, MeshPart, Plate, Rail, Roll, Shape
from .context import Context
from .schema_stations import MOST_STATIONS
from .strict_yaml import Place

__all__ = ["Spot", "called", "division_fits", "numbered", "spread"]

Vector = tuple[float, float, float]


class Spot(NamedTuple):
    """One station: name, foot [m], where it stands in the file, and its directions in the frame of the surface.

    ``is_flat`` where only x and y are given, so that a mesh says how high it is.
    """

    name: str
    at: Vector
    place: Place
    normal: Vector = (0.0, 0.0, 1.0)
    along: Vector = (1.0, 0.0, 0.0)
    clocks: tuple[float, ...] = ()
    is_flat: bool = False


def called(shape: Shape) -> str:
    """What messages call a surface of this shape."""
    names = {
        Plate: "a plate", Column: "a column", Face: "a round face", Rail: "a rail", Roll: "a roll", Bore: "a bore",
        MeshPart: "a mesh",
    }  # fmt: skip
    return names[type(shape)]


def numbered(letters: str | None, group: str) -> str:
    """Letters in front of the numbers of a group without letters of its own: its name."""
    if letters is not None:
        return letters
    return f"{group}-" if group[-1].isdigit() else group


def spread(start: float, end: float, count: int) -> list[float]:
    """Even places from ``start`` to ``end``; a single one stands in the middle."""
    if count == 1:
        return [0.5 * (start + end)]
    values: list[float] = np.linspace(start, end, count).tolist()
    return values


def division_fits(length: float, every: float, place: Place, what: str, context: Context) -> bool:
    """Whether two to as many stations as there may be fit on ``length`` [m]; otherwise it is reported."""
    if 1.0 <= length / every + 1e-9 < MOST_STATIONS:
        return True
    message = f"{what} of {1e3 * length:.6g} mm cannot be divided every {1e3 * every:.6g} mm"
    context.say(place, message, f"two to {MOST_STATIONS} stations must fit")
    return False
