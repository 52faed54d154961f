"""Levelness: inclination of a surface against the level surface, or the height of all of it over level."""

from __future__ import annotations

import numpy as np

from .definition import Definition, Kind, Linear, Profile, Unreached, Zone
from .evidence import SAME_PLACE, Evidence
from .features import Feature, features_of
from .gravity import UP, heights_above_gravity
from .offset_measures import Range
from .ties import GRAVITY, why_open
from .zones import left_out, zone_of

__all__ = ["levelness"]


def levelness(evidence: Evidence) -> Definition:
    """Definition of a task about levelness."""
    values: list[Linear | Zone] = []
    shown: list[Profile] = []
    unreached: list[Unreached] = []
    remarks: list[str] = []
    features = features_of(evidence, evidence.task.surface)
    for feature in features:
        several = feature.name if len(features) > 1 else ""
        stations = evidence.seeing(feature.stations, UP)
        if len(stations) < 2:
            unreached.append(Unreached(several, f"no reading tells the heights of {feature.name}"))
            continue
        remarks += left_out(feature.stations, stations, feature.name)
        profile = _heights(evidence, stations)
        limit = evidence.limit("")
        if limit is not None and not limit.angle:
            zone = zone_of(evidence, several, profile, Range(), limit, GRAVITY)
            unreached += [Unreached(several, zone)] if isinstance(zone, str) else []
            values += [] if isinstance(zone, str) else [zone]
            continue
        inclinations = _inclinations(evidence, feature, stations, profile, several)
        if isinstance(inclinations, str):
            unreached.append(Unreached(several, inclinations))
        else:
            values += inclinations
            shown.append(profile)
    return Definition(
        "level surface", "least-squares inclination of heights over a levelled plane", tuple(values), tuple(shown),
        tuple(unreached), tuple(remarks), form=False,
    )  # fmt: skip


def _heights(evidence: Evidence, stations: tuple[str, ...]) -> Profile:
    """Heights of stations above the level surface, about their mean."""
    heights, jacobian = heights_above_gravity(evidence, stations), evidence.displacements(stations, UP)
    feet = evidence.feet(stations)
    return Profile(
        stations, ("up",) * len(stations), feet, np.broadcast_to(UP, feet.shape), heights - heights.mean(),
        jacobian - jacobian.mean(axis=0),
    )  # fmt: skip


def _inclinations(
    evidence: Evidence, feature: Feature, stations: tuple[str, ...], profile: Profile, several: str
) -> list[Linear] | str:
    """Least-squares slopes of the heights along the axes of a plane, or along a line."""
    axes = feature.frame if feature.is_plane else feature.direction[None, :]
    words = ("x", "y") if feature.is_plane else ("",)
    level = axes - np.outer(axes @ UP, UP)
    feet = evidence.feet(stations)
    places = (feet - feet.mean(axis=0)) @ level.T
    size = np.linalg.svd(places, compute_uv=False)
    if size[-1] < SAME_PLACE:
        return f"the stations of {feature.name} that are read stand on one line; read some beside it"
    slopes = np.linalg.pinv(places)
    functionals = slopes @ profile.jacobian
    if not evidence.network.reaches(functionals):
        return why_open(evidence, functionals, GRAVITY)
    return [
        Linear(f"{several} {word}".strip(), Kind.ANGLE, float(slope @ profile.offsets), functional,
               evidence.limit(word), f"+: rises toward its {word or 'far end'}")
        for word, slope, functional in zip(words, slopes, functionals, strict=True)
    ]  # fmt: skip
