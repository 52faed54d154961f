"""Parallelism of surfaces, axes and travels to a datum: the angle in each direction, or the zone along the datum.

A roll whose axis crosses the datum line at a right angle is compared with the square to that line, as an offset base
line and a prism show it: ``in plane`` toward the line, ``out of plane`` square to both.
"""

from __future__ import annotations

import numpy as np

from ...vectors import Floats, unit
from .definition import Definition
from .evidence import Evidence
from .features import Feature
from .leaning import NEARLY, Leaning, definition_of_angles, same_direction, square_direction

__all__ = ["parallelism"]

HIGHER = "+: rises away from the datum toward its {axis}"
LEANS = "+: leans {axis} along its direction"


def parallelism(evidence: Evidence) -> Definition:
    """Definition of a task about parallelism."""
    return definition_of_angles(evidence, _leanings, "parallel to")


def _leanings(evidence: Evidence, feature: Feature, datum: Feature, several: str) -> list[Leaning]:
    cosine = abs(float(feature.direction @ datum.direction))
    if feature.is_plane != datum.is_plane:
        if cosine > NEARLY:
            raise evidence.refuse(f"the layout does not place {feature.name} parallel to {datum.name}")
        return [square_direction(feature, datum, f"{several}".strip(), "", f"+: rises away from {datum.name}")]
    if feature.is_plane:
        if cosine < 1.0 - NEARLY:
            raise evidence.refuse(f"the layout does not place {feature.name} parallel to {datum.name}")
        seen = feature if feature.direction @ datum.direction >= 0.0 else feature.flipped()
        names = (f"{several}x", f"{several}y")
        # The normal leans back where heights rise, so that axes are turned about.
        return same_direction(seen, datum, -datum.frame, names, ("x", "y"), HIGHER)
    if cosine > 1.0 - NEARLY:
        return _along(evidence, feature, datum, several)
    if cosine < NEARLY:
        return _across(evidence, feature, datum, several)
    raise evidence.refuse(f"the layout places {feature.name} neither parallel nor square to {datum.name}")


def _along(evidence: Evidence, feature: Feature, datum: Feature, several: str) -> list[Leaning]:
    """A line beside a line."""
    axes, words = feature.frame, ("vertical", "horizontal")
    if evidence.task.plane in ("in plane", "out of plane"):
        axes, words = _plane_of(evidence, feature, datum), ("in plane", "out of plane")
    chosen = [i for i, word in enumerate(words) if evidence.task.plane in ("", "space", word)]
    names = tuple(f"{several}{words[i]}" for i in chosen)
    return same_direction(feature, datum, axes[chosen], names, tuple(words[i] for i in chosen), LEANS)


def _plane_of(evidence: Evidence, feature: Feature, datum: Feature) -> Floats:
    """In the plane of two parallel lines, away from the datum, and square to that plane."""
    names = datum.stations or evidence.stations
    off = evidence.feet(feature.stations).mean(axis=0) - evidence.feet(names).mean(axis=0)
    off = off - (off @ feature.direction) * feature.direction
    first = unit(off) if float(np.linalg.norm(off)) > 1e-3 else feature.frame[0]
    return np.stack([first, np.cross(first, feature.direction)])


def _across(evidence: Evidence, feature: Feature, datum: Feature, several: str) -> list[Leaning]:
    """A line that crosses the datum line at a right angle."""
    found = []
    if evidence.task.plane in ("", "space", "in plane"):
        plus = f"+: its far end stands ahead along {datum.name}"
        found.append(square_direction(feature, datum, f"{several}in plane", "in plane", plus))
    if evidence.task.plane in ("", "space", "out of plane"):
        aside = unit(np.cross(feature.direction, datum.direction))
        found.append(Leaning(
            f"{several}out of plane", "out of plane", feature, datum, aside, aside, 0.0,
            float(feature.direction @ aside), "+: its far end stands high over the plane of both",
        ))  # fmt: skip
    return found
