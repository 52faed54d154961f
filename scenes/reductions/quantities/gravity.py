"""Gravity as a reference: heights above the level surface that touches the plane of the levelled base."""

from __future__ import annotations

import numpy as np

from ...model.survey import LevelBy
from ...tracing.earth import heights_above_level
from ...vectors import Floats
from .evidence import Evidence

__all__ = ["UP", "heights_above_gravity", "level_origin"]

UP = np.array([0.0, 0.0, 1.0])
UP.setflags(write=False)


def level_origin(evidence: Evidence) -> Floats:
    """Where the vertical is that of the world (3,), metres: at what is levelled by a vial, else amid the stations."""
    geometry = evidence.network.geometry
    level = [
        number
        for number, name in enumerate(geometry.rows.setups)
        if evidence.layout.setups[name].level_by is LevelBy.VIAL
    ]
    rows = [int(np.argmax(geometry.rows.setup == number)) for number in level]
    points = geometry.launch_origin[rows] if rows else evidence.foot
    result: Floats = points.mean(axis=0)
    return result


def heights_above_gravity(evidence: Evidence, stations: tuple[str, ...]) -> Floats:
    """Heights ``(k,)`` of the nominal places of stations above the level surface, metres."""
    origin = level_origin(evidence)
    feet = evidence.feet(stations)
    result: Floats = heights_above_level(feet, origin) + origin[2]
    return result
