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
from .outside_references import OUTSIDE, outside_words, outside_zone
from .zones import left_out, profile_of, read_in, zone_of

__all__ = ["pieces_of", "straightness"]

CYLINDER = Reference.MINIMUM_CYLINDER
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
    return Definition(
        reference=_reference_words(evidence),
        method="profile over the places along the line",
        values=tuple(zones),
        unreached=tuple(unreached),
        remarks=tuple(dict.fromkeys(remarks)),
        form=True,
    )


def _reference_words(evidence: Evidence) -> str:
    reference = evidence.task.reference
    if reference in OUTSIDE:
        return outside_words(evidence)
    return reference if reference == CYLINDER else f"{reference} line"


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
    reference = Reference(task.reference)
    profile = profile_of(evidence, stations, directions, words)
    whole: Zone | str
    if reference not in OUTSIDE:
        measure = ProfileForm(positions, reference) if len(directions) == 1 else CylinderForm(positions, reference)
        whole = zone_of(evidence, name, profile, measure, evidence.limit(""), "a straight line")
    elif len(directions) > 1:
        return f"in space a line has no zone against {reference}: ask for it in a vertical or a horizontal plane"
    else:
        whole = outside_zone(evidence, feature, stations, directions[0], name)
    if isinstance(whole, str):
        return whole
    if task.local is None or len(directions) > 1:
        return [whole]
    # A piece has no gravity and no datum of its own: its form is that of the narrowest zone.
    own = Reference.MINIMUM_ZONE if reference in OUTSIDE else reference
    pieces = pieces_of(positions, task.local[1], own)
    if not len(pieces):
        return f"no piece of {task.local[1]:g} m holds three stations, so that nothing is known about such pieces"
    local = LocalForm(positions, own, pieces)
    return [whole, Zone(f"{name} {LOCAL}".strip(), whole.kind, profile, local, Limit(task.local[0]), False)]


def pieces_of(positions: Floats, span: float, reference: Reference) -> Flags:
    """Marks ``(w, n)`` of the stations on every piece of length ``span`` that holds others than its neighbours.

    A piece slides on from where it loses or takes in a station to where it does so next. Pieces with fewer than three
    stations are left out; with a minimum zone, which never shrinks with more points, also those within another one.
    """
    events = np.unique(np.concatenate([positions, positions - span]))
    between = 0.5 * (events[1:] + events[:-1])
    starts = np.concatenate([events, between[np.diff(events) > 4.0 * SAME_PLACE]])
    inside = (positions >= starts[:, None] - SAME_PLACE) & (positions <= starts[:, None] + span + SAME_PLACE)
    inside = np.unique(inside[inside.sum(axis=1) >= LEAST], axis=0)
    apart = [len(np.unique(np.round(positions[piece] / SAME_PLACE))) >= LEAST for piece in inside]
    kept: Flags = inside[np.array(apart, dtype=bool)]
    if reference is not Reference.MINIMUM_ZONE:
        return kept
    within = np.all(kept[:, None, :] <= kept[None, :, :], axis=2) & ~np.eye(len(kept), dtype=bool)
    kept = kept[~np.any(within, axis=1)]
    return np.asarray(kept, dtype=bool)
