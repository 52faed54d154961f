"""Direction of a spindle or axis against ways: how far it rises away from it, and how far it runs to the front.

``up`` counts square to the datum plane (of a datum line: upright, square to the axis), + = rises away from the spindle.
``front`` counts to the right as one looks along the axis away from the spindle, where the operator of a lathe stands;
``side`` is another word for it.
"""

from __future__ import annotations

import numpy as np

from ...vectors import Floats, unit
from .definition import Definition
from .evidence import Evidence
from .features import Feature, across
from .leaning import NEARLY, Leaning, definition_of_angles, same_direction, square_direction

__all__ = ["direction"]

UP = "+: rises away from the spindle"
FRONT = "+: runs to the right as seen along the axis, away from the spindle"


def direction(evidence: Evidence) -> Definition:
    """Definition of a task about the direction of an axis."""
    return definition_of_angles(evidence, _leanings, "direction of")


def _leanings(evidence: Evidence, feature: Feature, datum: Feature, several: str) -> list[Leaning]:
    """Up and front."""
    along = feature.direction
    if datum.is_plane and abs(float(along @ datum.direction)) > NEARLY:
        raise evidence.refuse(f"the layout does not place {feature.name} along {datum.name}")
    if not datum.is_plane and abs(float(along @ datum.direction)) < 1.0 - NEARLY:
        raise evidence.refuse(f"the layout does not place {feature.name} along {datum.name}")
    up = unit(datum.direction - (datum.direction @ along) * along) if datum.is_plane else across(along)[0]
    front = np.cross(along, up)
    sides = [word for word in ("front", "side") if word in evidence.task.limits] or ["front"]
    found = []
    if evidence.limit("up") is not None:
        if datum.is_plane:
            found.append(square_direction(feature, datum, f"{several}up", "up", UP))
        else:
            found += same_direction(feature, datum, up[None], (f"{several}up",), ("up",), UP)
    if evidence.limit(sides[0]) is not None:
        line = _line_of(datum, along) if datum.is_plane else datum
        found += same_direction(feature, line, front[None], (f"{several}{sides[0]}",), (sides[0],), FRONT)
    return found


def _line_of(datum: Feature, along: Floats) -> Feature:
    """The line of a datum plane that runs along the axis: how its stations stand to the side of it."""
    way = unit(along - (along @ datum.direction) * datum.direction)
    return Feature(datum.name, False, way, across(way), datum.stations, setup="" if datum.stations else datum.setup)
