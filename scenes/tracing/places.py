"""Places of stations and frames of surfaces, nominal, in the world, with moving parts at any of their positions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np

from ..frames import IDENTITY, Pose
from ..model.layout import Layout
from ..model.machine import FLOOR, Surface
from ..model.survey import Station
from ..vectors import Floats

__all__ = ["AS_DRAWN", "carriers_of", "pose_of", "positions_of", "station_centres", "station_places", "station_sides"]

AS_DRAWN: Mapping[str, str] = MappingProxyType({})
"""No position named: every moving part stands where the layout draws it."""


def carriers_of(layout: Layout, place: str) -> Iterator[Surface]:
    """The surface ``place`` itself, what it stands on, and so on down to the floor."""
    while place != FLOOR:
        surface = layout.surfaces[place]
        yield surface
        place = surface.on


def pose_of(layout: Layout, place: str, positions: Mapping[str, str] = AS_DRAWN) -> Pose:
    """Frame of a surface, or the world for the floor: ``world_from_place``.

    Parameters
    ----------
    positions : mapping
        Moving surface -> name of its position; those not named stand where they are drawn.

    Raises
    ------
    KeyError
        Where a surface has no position of that name.
    """
    if place == FLOOR:
        return IDENTITY
    drawn = layout.surfaces[place].world_from_surface
    way = np.zeros(3)
    for surface in carriers_of(layout, place):
        if surface.moves is not None and surface.name in positions:
            under = IDENTITY if surface.on == FLOOR else layout.surfaces[surface.on].world_from_surface
            way = way + under.directions(surface.moves.way(positions[surface.name]))
    return Pose(drawn.rotation, drawn.origin + way) if np.any(way) else drawn


def positions_of(station: Station) -> Mapping[str, str]:
    """Positions of the moving parts while ``station`` is read."""
    return {station.carried_by: station.position} if station.carried_by and station.position else AS_DRAWN


def _poses(layout: Layout, names: tuple[str, ...]) -> Iterator[tuple[Station, Pose]]:
    """Each station with the frame of its surface as it stands while that station is read."""
    known: dict[tuple[str, str, str], Pose] = {}
    for name in names:
        station = layout.stations[name]
        key = (station.surface, station.carried_by, station.position)
        if key not in known:
            known[key] = pose_of(layout, station.surface, positions_of(station))
        yield station, known[key]


def station_places(layout: Layout, names: tuple[str, ...]) -> tuple[Floats, Floats, Floats]:
    """Foot ``(n, 3)``, normal ``(n, 3)`` and rise to the detector ``(n,)`` of stations, nominal, world, metres.

    A station of a moving part stands where that part is while it is read.
    """
    feet, normals, rises = [], [], []
    for station, pose in _poses(layout, names):
        feet.append(pose.points(station.at))
        normals.append(pose.directions(station.normal))
        centre = 0.0 if station.mount.kind == "discs" else layout.targets[station.target].centre_height
        rises.append(station.mount.height + centre)
    return np.array(feet).reshape(-1, 3), np.array(normals).reshape(-1, 3), np.array(rises, dtype=np.float64)


def station_sides(layout: Layout, names: tuple[str, ...]) -> Floats:
    """Direction ``(n, 3)`` in which a sideways deviation of each station counts: normal x along, world."""
    sides = [pose.directions(np.cross(station.normal, station.along)) for station, pose in _poses(layout, names)]
    return np.array(sides).reshape(-1, 3)


def station_centres(layout: Layout, names: tuple[str, ...]) -> Floats:
    """Nominal centres ``(n, 3)`` of the detectors at stations, world, metres: with the arms of their brackets."""
    foot, normal, rise = station_places(layout, names)
    arm = np.array([layout.stations[name].mount.arm for name in names], dtype=np.float64)
    result: Floats = foot + rise[:, None] * normal + arm[:, None] * station_sides(layout, names)
    return result
