"""The datum axis of coaxiality and of the position of bores, and what stands beside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...vectors import Floats
from ..reference import Reference
from .definition import Profile
from .evidence import SAME_PLACE, Evidence
from .features import Feature, features_of, offset
from .ties import first_reached

__all__ = ["WORDS", "axis_words", "beside_axis", "datum_axis", "measured_axes"]

WORDS = ("vertical", "horizontal")


def measured_axes(evidence: Evidence) -> list[Feature]:
    """The axes that a task asks about.

    Raises
    ------
    GeometryError
        Where one of them is a plane.
    """
    measured = [feature for name in evidence.task.of for feature in features_of(evidence, name)]
    for feature in measured:
        if feature.is_plane:
            raise evidence.refuse(f"{feature.name} has no axis")
    return measured


def datum_axis(evidence: Evidence, measured: list[Feature]) -> Feature:
    """Axis of another feature, the line of a set-up, or the axis of all that is measured; as the reference says."""
    if evidence.task.to:
        datum = features_of(evidence, evidence.task.to)[0]
    else:
        stations = tuple(name for feature in measured for name in feature.stations)
        datum = replace(measured[0], name="all of them", stations=stations)
    if evidence.task.reference != Reference.END_POINTS or not datum.stations:
        return datum
    place = evidence.feet(datum.stations) @ datum.direction
    ends = (place < place.min() + SAME_PLACE) | (place > place.max() - SAME_PLACE)
    return replace(datum, stations=tuple(name for name, end in zip(datum.stations, ends, strict=True) if end))


def axis_words(evidence: Evidence, datum: Feature) -> str:
    """What distances count from, in words."""
    if not datum.stations:
        return f"axis of {datum.name}"
    return f"{evidence.task.reference} axis of {datum.name}"


def beside_axis(evidence: Evidence, plain: Profile, datum: Feature) -> Profile | str:
    """A profile of displacements counted from the datum axis instead; else why readings do not tell it."""

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
    return found if isinstance(found, str) else replace(plain, jacobian=found[0])
