"""Coaxiality: how far axes stand off a datum axis; the value is the diameter of the zone about it, or the distance.

The datum is the axis of another part, the line of a set-up, or the axis of all stations together: their least-squares
axis, the line through both ends, or that of the smallest cylinder about them.
"""

from __future__ import annotations

from ..reference import Reference
from .datum_axis import WORDS, axis_words, beside_axis, datum_axis, measured_axes
from .definition import Definition, Kind, Unreached, Zone
from .evidence import Evidence
from .features import Feature
from .offset_measures import CylinderForm, LargestOffset
from .zones import left_out, profile_of, read_in, zone_of

__all__ = ["coaxiality"]

NOT_READ = "no reading tells where the axis stands in these directions"


def coaxiality(evidence: Evidence) -> Definition:
    """Definition of a task about coaxiality."""
    measured = measured_axes(evidence)
    if evidence.task.reference == Reference.MINIMUM_CYLINDER:
        return _smallest_cylinder(evidence, measured)
    datum = datum_axis(evidence, measured)
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
        axis_words(evidence, datum), "distance of each station from the datum axis",
        tuple(values), unreached=tuple(unreached), remarks=tuple(dict.fromkeys(remarks)), form=True,
    )  # fmt: skip


def _factor(evidence: Evidence) -> float:
    """2 where the limit is the diameter of the zone, or where there is none."""
    limit = evidence.limit("")
    return 2.0 if limit is None or limit.diameter else 1.0


def _zone(evidence: Evidence, feature: Feature, datum: Feature, name: str, remarks: list[str]) -> Zone | str:
    chosen = [i for i, word in enumerate(WORDS) if evidence.task.plane in ("", "space", word)]
    directions = feature.frame[chosen]
    stations = read_in(evidence, feature.stations, directions)
    if not stations:
        return NOT_READ
    remarks += left_out(feature.stations, stations, feature.name)
    off = beside_axis(evidence, profile_of(evidence, stations, directions, [WORDS[i] for i in chosen]), datum)
    if isinstance(off, str):
        return off
    return Zone(name, Kind.LENGTH, off, LargestOffset(len(chosen), _factor(evidence)), evidence.limit(""))


def _smallest_cylinder(evidence: Evidence, measured: list[Feature]) -> Definition:
    """One zone: the smallest cylinder about all stations."""
    task, frame = evidence.task, measured[0].frame
    names = tuple(name for feature in measured for name in feature.stations)
    used = read_in(evidence, names, frame)
    places = evidence.feet(used) @ measured[0].direction
    zone: Zone | str
    if task.to:
        zone = f"the smallest cylinder is laid about all axes together, not about {task.to}: take another reference"
    elif task.plane in WORDS:
        zone = f"a cylinder is round, it has no {task.plane} plane: take another reference"
    elif len(used) < 3:
        zone = NOT_READ if not used else f"{len(used)} stations are read, and a cylinder needs three"
    else:
        profile = profile_of(evidence, used, frame, WORDS)
        measure = CylinderForm(places, Reference.MINIMUM_CYLINDER, _factor(evidence))
        zone = zone_of(evidence, "", profile, measure, evidence.limit(""), "a straight line")
    return Definition(
        f"{task.reference} about all of them", "distance of each station from the axis of the cylinder",
        () if isinstance(zone, str) else (zone,), unreached=(Unreached("", zone),) if isinstance(zone, str) else (),
        remarks=left_out(names, used, "the cylinder"), form=True,
    )  # fmt: skip
