"""Slope: a profile from the slopes that a target on two feet reads, step by step.

Every step adds the slope of the target times the distance of its feet to the height. Where steps do not join foot to
foot, slopes are taken as those of the surface amid the feet, and heights follow by the trapezoidal rule.

Pitch tells the upright profile, yaw the sideways one.
"""

from __future__ import annotations

import numpy as np

from ...vectors import Floats
from ..form import Reference
from .definition import Definition, Kind, Profile, Unreached, Zone
from .evidence import Evidence
from .features import Feature, features_of
from .measures import Measure, ProfileForm
from .offset_measures import Range
from .slope_grid import slopes_of_surface
from .zones import zone_of

__all__ = ["slope"]

JOINS = 0.02
"""Steps join where feet and distances of stations differ by less than this share."""

START = " start"

ANGLES = {"vertical": ("nod", 0), "horizontal": ("swing", 1)}
"""Plane of a profile -> the tilt of the target that tells it, and which direction across the line deviates."""


def slope(evidence: Evidence) -> Definition:
    """Definition of a task about the profile of a surface from slopes."""
    task = evidence.task
    feature = features_of(evidence, task.surface)[0]
    field, number = ANGLES[task.plane or "vertical"]
    stations = tuple(name for name in feature.stations if evidence.network.column(field, name) is not None)
    if len(stations) < 2:
        reason = "no target that reads angles was read at two of its stations or more"
        return Definition("", "slopes read step by step", (), unreached=(Unreached("", reason),))
    if feature.is_plane:
        if field != "nod":
            raise evidence.refuse(f"yaw tells how a line runs sideways, and {feature.name} is a surface of many lines")
        return slopes_of_surface(evidence, feature, stations)
    stations = tuple(stations[i] for i in np.argsort(evidence.feet(stations) @ feature.direction))
    rises = np.array([_rise(evidence, name, feature, field) for name in stations])
    up, word = feature.frame[number], ("up", "left")[number]
    profile, remark = _heights(evidence, feature, stations, rises, up, word)
    limit, reference = evidence.limit(""), Reference(task.reference)
    measure: Measure = ProfileForm(profile.places @ feature.direction, reference)
    if limit is not None and limit.angle:
        feet = evidence.feet(stations)
        directions = np.broadcast_to(up, feet.shape)
        words = ("slope",) * len(stations)
        profile = Profile(stations, words, feet, directions, np.zeros(len(stations)), rises, Kind.ANGLE)
        measure = Range()
    zone = zone_of(evidence, "", profile, measure, limit, "the line of sight", profile.kind)
    reached = isinstance(zone, Zone)
    return Definition(
        f"{task.reference} line" if profile.kind is Kind.LENGTH else "their range", "slopes read step by step",
        (zone,) if isinstance(zone, Zone) else (), unreached=() if reached else (Unreached("", str(zone)),),
        remarks=(remark,) if remark else (), form=True,
    )  # fmt: skip


def _rise(evidence: Evidence, station: str, feature: Feature, field: str) -> Floats:
    """Slope ``(p,)`` of the surface under a target along the direction of the feature, + = rises, or runs left."""
    geometry = evidence.network.geometry
    row = int(np.argmax(geometry.rows.station == evidence.number(station)))
    functional = np.zeros(evidence.unknowns)
    column = evidence.network.column(field, station)
    assert column is not None
    # Turned about h a pad rises the way that the light goes; turned about v it runs left whichever way it is seen.
    along = np.sign(float(-geometry.facing[row] @ feature.direction))
    functional[column] = along if field == "nod" else 1.0
    return functional


def _heights(
    evidence: Evidence, feature: Feature, stations: tuple[str, ...], rises: Floats, up: Floats, word: str
) -> tuple[Profile, str]:
    """Heights of the feet along ``up``, the first one at nought; and a remark where steps do not join."""
    targets = [evidence.layout.targets[evidence.layout.stations[name].target] for name in stations]
    feet = evidence.feet(stations)
    ahead = feet @ feature.direction
    step, gaps = np.array([target.step for target in targets]), np.diff(ahead)
    if np.all(step > 0.0) and np.all(np.abs(gaps - step[1:]) <= JOINS * step[1:]):
        jacobian = np.vstack([np.zeros(evidence.unknowns), np.cumsum(step[:, None] * rises, axis=0)])
        places = np.vstack(
            [feet[0] - 0.5 * step[0] * feature.direction, feet + 0.5 * step[:, None] * feature.direction]
        )
        names, remark = (stations[0] + START, *stations), ""
    else:
        means = 0.5 * (rises[1:] + rises[:-1])
        jacobian = np.vstack([np.zeros(evidence.unknowns), np.cumsum(gaps[:, None] * means, axis=0)])
        places, names = feet, stations
        remark = (
            "the steps do not join foot to foot, so that what lies between them is not read: space the stations as far "
            "apart as the feet of the target"
        )
    k = len(names)
    return Profile(names, (word,) * k, places, np.broadcast_to(up, (k, 3)), np.zeros(k), jacobian), remark
