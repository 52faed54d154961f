"""Squareness of surfaces, axes and travels to a datum: the angle less a right one, or the zone square to the datum."""

from __future__ import annotations

from .definition import Definition
from .evidence import Evidence
from .features import Feature
from .leaning import NEARLY, Leaning, definition_of_angles, same_direction, square_direction

__all__ = ["squareness"]

LEANS = "+: leans toward the {axis} of the datum as it goes away from it"


def squareness(evidence: Evidence) -> Definition:
    """Definition of a task about squareness."""
    return definition_of_angles(evidence, _leanings, "square to")


def _leanings(evidence: Evidence, feature: Feature, datum: Feature, several: str) -> list[Leaning]:
    if not feature.is_plane and abs(float(feature.direction @ datum.as_plane().direction)) > 1.0 - NEARLY:
        datum = datum.as_plane()
    cosine = abs(float(feature.direction @ datum.direction))
    if feature.is_plane == datum.is_plane:
        if cosine > NEARLY:
            raise evidence.refuse(f"the layout does not place {feature.name} square to {datum.name}")
        plus = f"+: leans toward {datum.name}, so that the angle is smaller than a right one"
        return [square_direction(feature, datum, several.strip(), "", plus)]
    if cosine < 1.0 - NEARLY:
        raise evidence.refuse(f"the layout does not place {feature.name} square to {datum.name}")
    frame = datum.frame if datum.is_plane else feature.frame
    chosen = [(axis, word) for axis, word in zip(frame, "xy", strict=True) if evidence.limit(word) is not None]
    axes = frame[[i for i, word in enumerate("xy") if evidence.limit(word) is not None]]
    names = tuple(f"{several}{word}" for _, word in chosen)
    return same_direction(feature, datum, axes, names, tuple(word for _, word in chosen), LEANS)
