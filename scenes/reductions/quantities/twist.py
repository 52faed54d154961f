"""Twist: how the roll of a surface, or the cross level of two rails, changes along it."""

from __future__ import annotations

import numpy as np

from .definition import Definition, Kind, Linear, Profile, Unreached, Zone
from .evidence import Evidence
from .features import Feature, features_of
from .gravity import UP
from .offset_measures import Range
from .pairs import pairs_of
from .spacing import differences
from .zones import zone_of

__all__ = ["twist"]

ALIKE = 1e-3
"""Stations nearer than this [m] along a surface belong to one cross section."""

PLUS = "+: the far end is turned clockwise against the near one, as seen along it"


def twist(evidence: Evidence) -> Definition:
    """Definition of a task about twist."""
    return _of_rails(evidence) if len(evidence.task.of) > 1 else _of_surface(evidence)


def _of_rails(evidence: Evidence) -> Definition:
    pairs = pairs_of(evidence, UP)
    # Clockwise as seen along the first rail: what lies to the right sinks.
    left = float(np.cross(UP, pairs.along) @ pairs.across)
    rows = np.sign(left) * differences(evidence, pairs, UP)
    feet = evidence.feet(pairs.second)
    limit = evidence.limit("")
    angle = limit is not None and limit.angle
    scale = 1.0 / pairs.distance if angle else 1.0
    profile = Profile(
        pairs.second, pairs.names, feet, np.broadcast_to(UP, feet.shape), np.zeros(len(rows)), scale * rows,
        Kind.ANGLE if angle else Kind.LENGTH,
    )  # fmt: skip
    return _changes(evidence, profile, "cross level of the pairs along the rails")


def _of_surface(evidence: Evidence) -> Definition:
    feature = features_of(evidence, evidence.task.of[0])[0]
    if not feature.is_plane:
        raise evidence.refuse(
            f"the stations of {feature.name} stand on one line and tell no twist; read some beside it"
        )
    return _changes(evidence, _rolls(evidence, feature), "roll of the cross sections along the surface")


def _rolls(evidence: Evidence, feature: Feature) -> Profile:
    """Roll of every cross section: the slope of its heights across the longer way of the stations."""
    stations = evidence.seeing(feature.stations, feature.direction)
    feet = evidence.feet(stations)
    places = (feet - feet.mean(axis=0)) @ feature.frame.T
    x, y = (0, 1) if np.ptp(places[:, 0]) >= np.ptp(places[:, 1]) else (1, 0)
    order = np.argsort(places[:, x], kind="stable")
    breaks = np.nonzero(np.diff(places[order, x]) > ALIKE)[0] + 1
    names, middles, rows = [], [], []
    width = 0.0
    for section in np.split(order, breaks):
        off = places[section, y] - places[section, y].mean()
        if len(section) < 2 or np.ptp(off) < ALIKE:
            continue
        mine = tuple(stations[i] for i in section)
        rows.append((off / (off @ off)) @ evidence.displacements(mine, feature.direction))
        names.append(mine[0])
        middles.append(feet[section].mean(axis=0))
        width = max(width, float(np.ptp(off)))
    if len(rows) < 2:
        raise evidence.refuse(f"{feature.name} has no two cross sections with two stations each; read more of it")
    limit = evidence.limit("")
    angle = limit is None or limit.angle
    sign = 1.0 if y == 1 else -1.0  # the left of the way along it lies on +y, or on -x
    jacobian = sign * (1.0 if angle else width) * np.array(rows)
    directions = np.broadcast_to(feature.direction, (len(rows), 3))
    kind = Kind.ANGLE if angle else Kind.LENGTH
    return Profile(
        tuple(names), ("roll",) * len(rows), np.array(middles), directions, np.zeros(len(rows)), jacobian, kind
    )


def _changes(evidence: Evidence, profile: Profile, method: str) -> Definition:
    """The largest change of the roll, and that from one end to the other."""
    limit = evidence.limit("")
    reference = "the near end, and the section that differs most"
    whole = zone_of(evidence, "largest change", profile, Range(), limit, "one plane", profile.kind)
    if isinstance(whole, str):
        return Definition(reference, method, (), unreached=(Unreached("", whole),))
    ends = profile.jacobian[-1] - profile.jacobian[0]
    two = len(profile.stations) == 2
    linear = Linear("end to end", profile.kind, 0.0, ends, limit if two else None, PLUS)
    values: tuple[Linear | Zone, ...] = (linear,) if two else (whole, linear)
    return Definition(reference, method, values, (profile,) if two else (), form=True)
