"""Zones: from stations and directions to a value that a measure makes of them, or to why there is none."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...hints import listed
from ...model.survey import Limit
from ...vectors import Floats
from .definition import Kind, Profile, Zone
from .evidence import Evidence
from .measures import Measure
from .ties import why_open

__all__ = ["is_reached", "left_out", "profile_of", "read_in", "zone_of"]


def read_in(evidence: Evidence, stations: tuple[str, ...], directions: Floats) -> tuple[str, ...]:
    """Those of the stations that are read in every one of the directions ``(c, 3)``."""
    names = stations
    for direction in directions:
        names = evidence.seeing(names, direction)
    return names


def profile_of(evidence: Evidence, stations: tuple[str, ...], directions: Floats, components: Sequence[str]) -> Profile:
    """Displacements of stations, each in the directions ``(c, 3)``, station by station."""
    feet, parts = evidence.feet(stations), len(directions)
    jacobian = np.stack([evidence.displacements(stations, each) for each in directions], axis=1)
    return Profile(
        stations=tuple(name for name in stations for _ in range(parts)),
        components=tuple(components) * len(stations),
        places=np.repeat(feet, parts, axis=0),
        directions=np.tile(directions, (len(stations), 1)),
        offsets=np.zeros(parts * len(stations)),
        jacobian=jacobian.reshape(-1, evidence.unknowns),
    )


def is_reached(evidence: Evidence, profile: Profile, measure: Measure, against: str) -> str:
    """Why readings do not tell what the measure makes of the deviations; empty where they do."""
    unseen = measure.unseen(len(profile.stations))
    jacobian = profile.jacobian
    if unseen.shape[1]:
        jacobian = jacobian - unseen @ (np.linalg.pinv(unseen) @ jacobian)
    return "" if evidence.network.reaches(jacobian) else why_open(evidence, jacobian, against)


def zone_of(
    evidence: Evidence, name: str, profile: Profile, measure: Measure, limit: Limit | None, against: str,
    kind: Kind = Kind.LENGTH,
) -> Zone | str:  # fmt: skip
    """The value, or why there is none."""
    reason = is_reached(evidence, profile, measure, against)
    return reason or Zone(name, kind, profile, measure, limit)


def left_out(stations: tuple[str, ...], used: tuple[str, ...], what: str) -> tuple[str, ...]:
    """A remark on stations that are read, but not in the direction that counts; none where there are none."""
    lost = [name for name in stations if name not in set(used)]
    return (f"{what} is taken from {listed(list(used))}: no reading of the others tells it",) if lost and used else ()
