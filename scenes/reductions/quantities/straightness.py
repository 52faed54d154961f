"""Straightness of the line of stations of a surface, of an axis, or of a travel.

In one plane it is a profile over the places along the line; in space it is the cylinder about the axis. ``vertical`` is
the world's up made square to the line, ``horizontal`` is square to both.
"""

from __future__ import annotations

import numpy as np

from ...model.survey import Limit
from ...vectors import Flags, Floats, unit
from ..form import Reference
from .definition import Definition, Unreached, Zone
from .evidence import SAME_PLACE, Evidence
from .features import Feature, features_of, same_stations
from .measures import LocalForm, ProfileForm
from .offset_measures import CylinderForm
from .zones import left_out, profile_of, read_in, zone_of

__all__ = ["straightness"]

CYLINDER = "minimum circumscribed cylinder"
LEAST = 3
"""Stations of a line; any two lie straight."""

LOCAL = "local"


def straightness(evidence: Evidence) -> Definition:
    """Definition of a task about straightness."""
    lines = [
        (name, feature, stations)
        for asked in evidence.task.of
        for feature in features_of(evidence, asked)
        for name, stations in _lines(evidence, feature)
    ]
    zones: list[Zone] = []
    unreached: list[Unreached] = []
    remarks: list[str] = []
    for line, feature, stations in lines:
        for plane, directions, words in _planes(evidence, feature, stations):
            name = " ".join(part for part in (line if len(lines) > 1 else "", plane) if part)
            used = read_in(evidence, stations, directions)
            remarks += left_out(stations, used, name or line)
            found = _zones(evidence, feature, used, directions, words, name)
            if isinstance(found, str):
                unreached.append(Unreached(name, found))
            else:
                zones += found
    reference = evidence.task.reference
    return Definition(
        reference=reference if reference == CYLINDER else f"{reference} line",
        method="profile over the places along the line",
        values=tuple(zones),
        unreached=tuple(unreached),
        remarks=tuple(dict.fromkeys(remarks)),
        form=True,
    )


def _lines(evidence: Evidence, feature: Feature) -> list[tuple[str, tuple[str, ...]]]:
    """The lines of a feature: one, or one for each station of a moving part."""
    if feature.is_plane:
        raise evidence.refuse(
            f"the stations of {feature.name} do not stand on one line; name those of one line under from"
        )
    if not feature.travels:
        return [(feature.name, feature.stations)]
    groups = [tuple(feature.stations[i] for i in numbers) for numbers in same_stations(evidence, feature.stations)]
    return [(names[0].split("@")[0], names) for names in groups]


def _planes(
    evidence: Evidence, feature: Feature, stations: tuple[str, ...]
) -> list[tuple[str, Floats, tuple[str, ...]]]:
    """What is asked: a name, one direction for a plane or two for space ``(c, 3)``, and words for them."""
    task, frame = evidence.task, feature.frame
    words = ("vertical", "horizontal")
    if task.plane == "space" or task.reference == CYLINDER:
        return [("", frame, words)]
    if task.plane in words:
        number = words.index(task.plane)
        return [("", frame[[number]], (task.plane,))]
    if feature.is_axis or feature.travels:
        return [(word, frame[[number]], (word,)) for number, word in enumerate(words)]
    normal = evidence.axes[[evidence.number(name) for name in stations], 0].mean(axis=0)
    return [("", unit(normal - (normal @ feature.direction) * feature.direction)[None, :], ("up",))]


def _zones(
    evidence: Evidence, feature: Feature, stations: tuple[str, ...], directions: Floats, words: tuple[str, ...],
    name: str,
) -> list[Zone] | str:  # fmt: skip
    """Straightness of one line in a plane or in space, with that of its pieces where a local limit asks for it."""
    positions = evidence.feet(stations) @ feature.direction
    if len(np.unique(np.round(positions / SAME_PLACE))) < LEAST:
        told = f"{len(stations)} of its stations are" if len(stations) != 1 else "one of its stations is"
        return f"{told} read in this direction, and any two places lie straight; read three or more"
    task = evidence.task
    reference = Reference.MINIMUM_ZONE if task.reference == CYLINDER else Reference(task.reference)
    profile = profile_of(evidence, stations, directions, words)
    measure = ProfileForm(positions, reference) if len(directions) == 1 else CylinderForm(positions, reference)
    whole = zone_of(evidence, name, profile, measure, evidence.limit(""), "a straight line")
    if isinstance(whole, str):
        return whole
    if task.local is None or len(directions) > 1:
        return [whole]
    pieces = _pieces(positions, task.local[1])
    if not len(pieces):
        return f"no piece of {task.local[1]:g} m holds three stations, so that nothing is known about such pieces"
    local = LocalForm(positions, reference, pieces)
    return [whole, Zone(f"{name} {LOCAL}".strip(), whole.kind, profile, local, Limit(task.local[0]), False)]


def _pieces(positions: Floats, span: float) -> Flags:
    """Marks ``(w, n)`` of the stations on each piece of length ``span`` that begins or ends at a station.

    Pieces with fewer than three stations, and those that lie within another one, are left out.
    """
    starts = np.concatenate([positions, positions - span])
    inside = (positions >= starts[:, None] - SAME_PLACE) & (positions <= starts[:, None] + span + SAME_PLACE)
    inside = np.unique(inside[inside.sum(axis=1) >= LEAST], axis=0)
    within = np.all(inside[:, None, :] <= inside[None, :, :], axis=2) & ~np.eye(len(inside), dtype=bool)
    kept: Flags = inside[~np.any(within, axis=1)]
    return kept
