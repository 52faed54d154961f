"""Run-out of a roll or a round face that is turned past targets: in each place, and over all of them.

In one place (circular run-out) the value is the range of what the target reads over a turn. Its least-squares circle
tells how far the part stands off its axis of turning there, or how far a face leans, and what is left beside that. Over
all places (total run-out) deviations of a roll count from a datum along the axis, since the light need not be parallel
to it; those of a face from the plane square to the axis, which turning itself tells (`run_out_of_face`).

Source for the terms: ISO 1101, run-out tolerances, from memory.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...model.machine import Face
from ...tracing.places import pose_of
from ...vectors import Floats
from .definition import Definition, Kind, Linear, Profile, Unreached, Zone
from .evidence import Evidence
from .features import Feature, across, features_of, surface_named
from .leaning import NEARLY, over_datum, same_direction
from .offset_measures import LargestOffset, Range
from .run_out_of_face import over_face
from .zones import profile_of, zone_of

__all__ = ["run_out"]

TURNS = 2
"""Turns in one place that a range needs; a circle needs three, and four tell what is beside it."""

TOTAL = "total"
HIGH_AT = "turn at which it stands highest"
TELLS_TURN = 3.0
"""The turn is told where the eccentricity is so many standard uncertainties large."""


def run_out(evidence: Evidence) -> Definition:
    """Definition of a task about run-out."""
    values: list[Linear | Zone] = []
    unreached: list[Unreached] = []
    for surface in evidence.task.of:
        several = f"{surface} " if len(evidence.task.of) > 1 else ""
        places = _places(evidence, surface)
        for place, stations in places.items():
            name = f"{several}{place}" if len(places) > 1 or several else ""
            found = _circular(evidence, stations, name)
            unreached += [Unreached(name, found)] if isinstance(found, str) else []
            values += [] if isinstance(found, str) else found
        if evidence.task.total and len(places) > 1:
            whole = _total(evidence, surface, tuple(name for names in places.values() for name in names), several)
            unreached += [Unreached(f"{several}{TOTAL}", whole)] if isinstance(whole, str) else []
            values += [] if isinstance(whole, str) else [whole]
    return Definition(
        _reference(evidence), "deviations of the surface while it is turned past the target", tuple(values),
        unreached=tuple(unreached), form=True,
    )  # fmt: skip


def _reference(evidence: Evidence) -> str:
    datum = f", total along {evidence.task.to}" if evidence.task.total and evidence.task.to else ""
    return f"axis of turning{datum}"


def _places(evidence: Evidence, surface: str) -> dict[str, tuple[str, ...]]:
    """Stations of a surface by the place where their target stands."""
    places: dict[str, list[str]] = {}
    for name in evidence.on(surface_named(evidence.layout, surface)):
        places.setdefault(name.partition("@")[0], []).append(name)
    return {place: tuple(names) for place, names in places.items()}


def _counted(evidence: Evidence, station: str) -> Floats:
    """Direction in which the surface deviates under the target, world."""
    direction: Floats = evidence.axes[evidence.number(station), 0]
    return direction


def _circular(evidence: Evidence, stations: tuple[str, ...], name: str) -> list[Linear | Zone] | str:
    """Run-out in one place, with the circle that it holds."""
    counted = _counted(evidence, stations[0])
    used = evidence.seeing(stations, counted)
    turns = np.array([evidence.layout.stations[each].turn for each in used])
    if len(np.unique(np.round(turns, 6))) < TURNS:
        return f"{len(used)} turns of it are read in this direction; read it at two turns or more, best at four"
    profile = profile_of(evidence, used, counted[None, :], ("run-out",))
    whole = zone_of(evidence, name, profile, Range(), evidence.limit(""), "the axis of turning")
    if isinstance(whole, str):
        return whole
    return [whole, *_circle(evidence, profile, turns, name)]


def _circle(evidence: Evidence, profile: Profile, turns: Floats, name: str) -> list[Linear | Zone]:
    """What goes round once per turn, and what is left beside it."""
    design = np.column_stack([np.ones(len(turns)), np.cos(turns), np.sin(turns)])
    if np.linalg.matrix_rank(design, tol=1e-6) < design.shape[1]:
        return []
    fit = np.linalg.pinv(design)
    once = Profile(
        profile.stations[:1] * 2, ("at no turn", "at a quarter turn"), profile.places[:1].repeat(2, axis=0),
        profile.directions[:1].repeat(2, axis=0), np.zeros(2), fit[1:] @ profile.jacobian,
    )  # fmt: skip
    head = f"{name} " if name else ""
    found: list[Linear | Zone] = [
        Zone(f"{head}eccentricity", Kind.LENGTH, once, LargestOffset(2, 1.0), None, tells_deviations=False)
    ]
    found += _high_at(evidence, once, head)
    if len(turns) > design.shape[1]:
        left = replace(profile, jacobian=profile.jacobian - design @ (fit @ profile.jacobian))
        found.append(Zone(f"{head}beside the circle", Kind.LENGTH, left, Range(), None, tells_deviations=False))
    return found


def _high_at(evidence: Evidence, once: Profile, head: str) -> list[Linear]:
    """Turn at which the surface stands highest under the target, linear about where it was found."""
    network = evidence.network
    cos, sin = once.jacobian @ network.values
    size = float(np.hypot(cos, sin))
    if size <= TELLS_TURN * float(network.spread_of(once.jacobian).standard_uncertainty().max()):
        return []
    functional = (cos * once.jacobian[1] - sin * once.jacobian[0]) / size**2
    turn = float(np.arctan2(sin, cos))
    nominal = turn - float(functional @ network.values)
    return [Linear(f"{head}high at", Kind.ANGLE, nominal, functional, None, HIGH_AT)]


def _total(evidence: Evidence, surface: str, stations: tuple[str, ...], several: str) -> Zone | str:
    """Range over all places along the axis."""
    name, limit = f"{several}{TOTAL}", evidence.limit("")
    counted = _counted(evidence, stations[0])
    plain = surface_named(evidence.layout, surface)
    if isinstance(evidence.layout.surfaces[plain].shape, Face):
        face = over_face(evidence, evidence.seeing(stations, counted), counted)
        return face if isinstance(face, str) else zone_of(evidence, name, face, Range(), limit, "the axis of turning")
    if not evidence.task.to:
        return "how the light lies along the axis of turning is not known: name a datum along it under to:"
    used = evidence.seeing(stations, counted)
    pose = pose_of(evidence.layout, plain)
    axis = Feature(surface, False, pose.rotation[:, 2], across(pose.rotation[:, 2]), used, is_axis=True)
    datum = features_of(evidence, evidence.task.to)[0]
    if datum.is_plane or abs(float(datum.direction @ axis.direction)) < 1.0 - NEARLY:
        return f"the layout does not place {datum.name} along the axis of {surface}"
    profile = over_datum(evidence, used, counted, same_direction(axis, datum, counted[None, :], ("",), ("",), ""))
    if isinstance(profile, str):
        return profile
    return zone_of(evidence, name, profile, Range(), limit, datum.name)
