"""Where the arrows of moves stand in the picture: beside the part, so that nothing hides them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.corrections.bed_feet import feet_of
from scenes.corrections.moves import Moves
from scenes.model.layout import Layout
from scenes.model.machine import Plate, Rail, Roll
from scenes.tracing.places import pose_of
from scenes.vectors import Floats

__all__ = ["MoverPlaces", "mover_places"]

OUTSIDE = 0.05
"""Arrows stand this share of the longer side outside of the edge."""

INNER = 0.3
"""Feet farther from the edge than this share of the longer side keep their arrows above themselves."""


@dataclass(frozen=True, slots=True, eq=False)
class MoverPlaces:
    """Of m movers, world, metres.

    Attributes
    ----------
    starts : (m, 3) float
        Where the arrow of a move starts, on the level of the measured side.
    feet : (m, 3) float
        The mover itself, on the same level.
    size : float
        Length of the part.
    """

    starts: Floats
    feet: Floats
    size: float


def mover_places(layout: Layout, moves: Moves) -> MoverPlaces:
    """Where the arrows of ``moves`` stand."""
    return _of_bearings(layout, moves) if moves.movers.kind == "bearings" else _of_feet(layout, moves)


def _of_feet(layout: Layout, moves: Moves) -> MoverPlaces:
    feet = feet_of(layout, moves.movers.parts[0])
    assert feet is not None  # the movers come from it
    low, high = _outline(layout, moves)
    size = float((high - low).max())
    off = np.column_stack([feet.at - low, high - feet.at])
    edge = off.argmin(axis=1)
    start = feet.at.copy()
    for j in np.flatnonzero(off.min(axis=1) <= INNER * size):
        axis, side = edge[j] % 2, -1.0 if edge[j] < 2 else 1.0
        start[j, axis] = (low if side < 0.0 else high)[axis] + side * OUTSIDE * size
    pose = pose_of(layout, feet.surface)
    level = np.zeros((len(start), 1))
    return MoverPlaces(pose.points(np.hstack([start, level])), pose.points(np.hstack([feet.at, level])), size)


def _outline(layout: Layout, moves: Moves) -> tuple[Floats, Floats]:
    """Lowest and highest corner ``(2,)`` of the part in its own frame."""
    part = moves.movers.parts[0]
    feet = feet_of(layout, part)
    assert feet is not None
    match layout.surfaces[part].shape:
        case Plate() as plate:
            half = np.array([0.5 * plate.length, 0.5 * plate.width])
            return -half, half
        case Rail() as rail:
            return np.array([0.0, -0.5 * rail.width]), np.array([rail.length, 0.5 * rail.width])
    at = np.array([layout.stations[name].at[:2] for name in moves.movers.stations]).reshape(-1, 2)
    every = np.vstack([at, feet.at])
    return every.min(axis=0), every.max(axis=0)


def _of_bearings(layout: Layout, moves: Moves) -> MoverPlaces:
    """At the bearings, outside of the roll, in the direction of the move."""
    movers, starts, feet, size = moves.movers, [], [], 0.0
    for j, part in enumerate(movers.parts):
        bearings, shape = layout.bearings[part], layout.surfaces[part].shape
        along = float(bearings.at[bearings.names.index(movers.names[j])])
        place = pose_of(layout, part).points(np.array([[0.0, 0.0, along]]))[0]
        radius = 0.5 * shape.diameter if isinstance(shape, Roll) else 0.0
        feet.append(place)
        starts.append(place + radius * movers.directions[j])
        size = max(size, float(np.ptp(bearings.at)))
    return MoverPlaces(np.array(starts), np.array(feet), size)
