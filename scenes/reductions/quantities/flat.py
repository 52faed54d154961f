"""Flatness of a surface that other light than that of rotary bases has read."""

from __future__ import annotations

import numpy as np

from ..form import Reference
from ..plane_design import thin_share
from .definition import Definition, Unreached, Zone
from .evidence import Evidence
from .features import features_of
from .measures import PlaneForm
from .outside_references import OUTSIDE, outside_words, outside_zone
from .zones import left_out, profile_of, zone_of

__all__ = ["flat"]

THIN = 1e-6


def flat(evidence: Evidence) -> Definition:
    """Definition of a task about flatness."""
    task = evidence.task
    zones: list[Zone] = []
    unreached: list[Unreached] = []
    remarks: list[str] = []
    features = features_of(evidence, task.surface)
    for feature in features:
        name = feature.name if len(features) > 1 else ""
        if not feature.is_plane:
            raise evidence.refuse(
                f"the stations of {feature.name} stand on one line, so they say nothing about a plane"
            )
        stations = evidence.seeing(feature.stations, feature.direction)
        remarks += left_out(feature.stations, stations, feature.name)
        off = evidence.feet(stations) - evidence.feet(feature.stations).mean(axis=0)
        places = off @ feature.frame.T
        if len(stations) < 4 or thin_share(places) < THIN:
            reason = (
                f"{len(stations)} of its stations are read upright; a plane goes through any three: read four or more"
            )
            unreached.append(Unreached(name, reason))
            continue
        kind = Reference(task.reference)
        if kind in OUTSIDE:
            outside = outside_zone(evidence, feature, stations, feature.direction, name)
            zones += [] if isinstance(outside, str) else [outside]
            unreached += [Unreached(name, outside)] if isinstance(outside, str) else []
            continue
        datum = None
        if kind is Reference.THREE_POINTS and task.datum:
            absent = [each for each in task.datum if each not in stations]
            if absent:
                raise evidence.refuse(f"datum station {', '.join(absent)} was not read; take another reference")
            datum = np.array([stations.index(each) for each in task.datum], dtype=np.int64)
        profile = profile_of(evidence, stations, feature.direction[None, :], ("up",))
        found = zone_of(evidence, name, profile, PlaneForm(places, kind, datum), evidence.limit(""), "a plane")
        if isinstance(found, str):
            unreached.append(Unreached(name, found))
        else:
            zones.append(found)
    reference = outside_words(evidence) if task.reference in OUTSIDE else f"{task.reference} plane"
    return Definition(
        reference, "heights over the surface", tuple(zones), unreached=tuple(unreached), remarks=tuple(remarks),
        form=True,
    )  # fmt: skip
