"""From the name of a quantity to its definition."""

from __future__ import annotations

from collections.abc import Callable

from .bore_position import bore_position
from .coaxiality import coaxiality
from .cross_level import cross_level
from .definition import Definition
from .direction import direction
from .evidence import Evidence
from .flat import flat
from .levelness import levelness
from .parallelism import parallelism
from .run_out import run_out
from .slope import slope
from .spacing import spacing
from .squareness import squareness
from .straightness import straightness
from .twist import twist

__all__ = ["QUANTITIES", "definition_of"]

QUANTITIES: dict[str, Callable[[Evidence], Definition]] = {
    "flatness": flat,
    "straightness": straightness,
    "parallelism": parallelism,
    "squareness": squareness,
    "coaxiality": coaxiality,
    "bore position": bore_position,
    "direction": direction,
    "spacing": spacing,
    "cross level": cross_level,
    "levelness": levelness,
    "twist": twist,
    "slope": slope,
    "run out": run_out,
}


def definition_of(evidence: Evidence) -> Definition:
    """What the task of ``evidence`` asks for.

    Raises
    ------
    GeometryError
        Where the readings tell no component of it at all; the message names the reasons.
    """
    definition = QUANTITIES[evidence.task.quantity](evidence)
    if definition.values:
        return definition
    reasons = dict.fromkeys(each.reason for each in definition.unreached)
    raise evidence.refuse("; ".join(reasons) or "its stations tell nothing of it")
