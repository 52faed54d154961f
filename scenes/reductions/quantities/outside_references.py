"""Deviations from what lies outside the measured surface itself: the level surface of gravity, or a datum feature.

Such a reference has its own direction; only its distance is free, so that the value is the range of the deviations.
"""

from __future__ import annotations

import numpy as np

from ...vectors import Floats
from ..reference import Reference
from .definition import Profile, Zone
from .evidence import Evidence
from .features import Feature, features_of
from .gravity import UP, heights_above_gravity
from .leaning import NEARLY, Leaning, over_datum, same_direction, square_direction
from .offset_measures import Range
from .ties import GRAVITY
from .zones import zone_of

__all__ = ["OUTSIDE", "outside_words", "outside_zone"]

OUTSIDE = (Reference.GRAVITY, Reference.DATUM_FEATURE)


def outside_words(evidence: Evidence) -> str:
    """What deviations count from, in words."""
    return "level surface" if evidence.task.reference == Reference.GRAVITY else f"datum feature {evidence.task.to}"


def outside_zone(
    evidence: Evidence, feature: Feature, stations: tuple[str, ...], counted: Floats, name: str
) -> Zone | str:
    """Range of the deviations of stations along ``counted`` (3,), or why readings do not tell it."""
    if evidence.task.reference == Reference.GRAVITY:
        profile, against = _over_gravity(evidence, stations, counted), GRAVITY
    else:
        profile, against = _over_datum(evidence, feature, stations, counted), evidence.task.to
    if isinstance(profile, str):
        return profile
    return zone_of(evidence, name, profile, Range(), evidence.limit(""), against)


def _over_gravity(evidence: Evidence, stations: tuple[str, ...], counted: Floats) -> Profile | str:
    if abs(float(counted @ UP)) < 1.0 - NEARLY:
        return "gravity tells heights only, and this deviation counts sideways: name a datum feature for it"
    heights, jacobian = heights_above_gravity(evidence, stations), evidence.displacements(stations, UP)
    feet, sign = evidence.feet(stations), float(np.sign(counted @ UP))
    return Profile(
        stations, ("over level",) * len(stations), feet, np.broadcast_to(sign * UP, feet.shape),
        sign * (heights - heights.mean()), sign * (jacobian - jacobian.mean(axis=0)),
    )  # fmt: skip


def _over_datum(evidence: Evidence, feature: Feature, stations: tuple[str, ...], counted: Floats) -> Profile | str:
    if not evidence.task.to:
        return "the task names no datum feature: add to: with a surface or a set-up, and read it"
    datum = features_of(evidence, evidence.task.to)[0]
    leanings = _plane_leanings(feature, datum) if feature.is_plane else _line_leanings(feature, datum, counted)
    return leanings if isinstance(leanings, str) else over_datum(evidence, stations, counted, leanings)


def _plane_leanings(feature: Feature, datum: Feature) -> list[Leaning] | str:
    datum = datum.as_plane()
    if not datum.is_plane or abs(float(feature.direction @ datum.direction)) < 1.0 - NEARLY:
        return f"the layout does not place {feature.name} parallel to {datum.name}, so that it is no datum plane of it"
    # The normal leans back where heights rise, so that axes are turned about.
    return same_direction(feature, datum, -datum.frame, ("x", "y"), ("x", "y"), "")


def _line_leanings(feature: Feature, datum: Feature, counted: Floats) -> list[Leaning] | str:
    along = float(feature.direction @ datum.direction)
    if datum.is_plane:
        if abs(along) > NEARLY:
            return f"the layout does not place {feature.name} along {datum.name}, so that it is no datum of it"
        if abs(float(counted @ datum.direction)) < 1.0 - NEARLY:
            return f"{datum.name} tells only what lies square to it, and this deviation counts along it"
        seen = datum if counted @ datum.direction > 0.0 else datum.flipped()
        return [square_direction(feature, seen, "", "", "")]
    if abs(along) < 1.0 - NEARLY:
        return f"the layout does not place {feature.name} along {datum.name}, so that it is no datum of it"
    return same_direction(feature, datum, counted[None, :], ("",), ("",), "")
