"""Coaxiality: how far axes stand off a datum axis; the value is the diameter of the zone about it, or the distance.

The datum is the axis of another part, the line of a set-up, or the least-squares axis of all stations together.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...vectors import Floats
from .definition import Definition, Kind, Unreached, Zone
from .evidence import Evidence
from .features import Feature, features_of, offset
from .offset_measures import LargestOffset
from .ties import first_reached
from .zones import left_out, profile_of, read_in

__all__ = ["coaxiality"]

WORDS = ("vertical", "horizontal")


def coaxiality(evidence: Evidence) -> Definition:
    """Definition of a task about coaxiality."""
    measured = [feature for name in evidence.task.of for feature in features_of(evidence, name)]
    for feature in measured:
        if feature.is_plane:
            raise evidence.refuse(f"{feature.name} has no axis")
    datum = _datum(evidence, measured)
    values: list[Zone] = []
    unreached: list[Unreached] = []
    remarks: list[str] = []
    for feature in measured:
        name = feature.name if len(measured) > 1 else ""
        zone = _zone(evidence, feature, datum, name, remarks)
        if isinstance(zone, str):
            unreached.append(Unreached(name, zone))
        else:
            values.append(zone)
    return Definition(
        f"axis of {datum.name}" if evidence.task.to else datum.name, "distance of each station from the datum axis",
        tuple(values), unreached=tuple(unreached), remarks=tuple(dict.fromkeys(remarks)), form=True,
    )  # fmt: skip


def _datum(evidence: Evidence, measured: list[Feature]) -> Feature:
    if evidence.task.to:
        return features_of(evidence, evidence.task.to)[0]
    stations = tuple(name for feature in measured for name in feature.stations)
    return replace(measured[0], name="least-squares axis of all", stations=stations)


def _zone(evidence: Evidence, feature: Feature, datum: Feature, name: str, remarks: list[str]) -> Zone | str:
    chosen = [i for i, word in enumerate(WORDS) if evidence.task.plane in ("", "space", word)]
    directions = feature.frame[chosen]
    stations = read_in(evidence, feature.stations, directions)
    if not stations:
        return "no reading tells where the axis stands in these directions"
    remarks += left_out(feature.stations, stations, feature.name)
    plain = profile_of(evidence, stations, directions, [WORDS[i] for i in chosen])

    def told(_: frozenset[str], among: frozenset[str]) -> Floats | None:
        rows = []
        for place, direction in zip(plain.places, plain.directions, strict=True):
            beside = offset(evidence, datum, place, direction, among)
            if beside is None:
                return None
            rows.append(beside)
        off: Floats = plain.jacobian - np.array(rows)
        return off

    found = first_reached(evidence, told, f"too little of {datum.name} is read to tell an axis", datum.name)
    if isinstance(found, str):
        return found
    limit = evidence.limit("")
    factor = 2.0 if limit is None or limit.diameter else 1.0
    return Zone(name, Kind.LENGTH, replace(plain, jacobian=found[0]), LargestOffset(len(chosen), factor), limit)
