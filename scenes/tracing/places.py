"""Places of stations and frames of surfaces, nominal, in the world, with moving parts at any of their positions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from ..frames import IDENTITY, Pose
from ..model.layout import Layout
from ..model.machine import FLOOR, Surface
from ..model.mounts import centre_above_foot
from ..model.survey import Station
from ..vectors import Floats, Indices
from .thermal import station_growth

__all__ = [
    "AS_DRAWN", "Stands", "carriers_of", "pose_of", "positions_of", "stands_of", "station_centres", "station_places",
    "station_sides",
]  # fmt: skip

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


def _poses(layout: Layout, names: Sequence[str]) -> tuple[list[Pose], Indices]:
    """Different frames of the surfaces of stations, as they stand while these are read, and the number of each's."""
    known: dict[tuple[str, str, str], int] = {}
    poses: list[Pose] = []
    numbers = []
    for name in names:
        station = layout.stations[name]
        key = (station.surface, station.carried_by, station.position)
        if key not in known:
            known[key] = len(poses)
            poses.append(pose_of(layout, station.surface, positions_of(station)))
        numbers.append(known[key])
    return poses, np.array(numbers, dtype=np.int64)


def _vectors(layout: Layout, names: Sequence[str], field: str) -> Floats:
    return np.array([getattr(layout.stations[name], field) for name in names], dtype=np.float64).reshape(-1, 3)


def _turned(poses: list[Pose], number: Indices, directions: Floats) -> Floats:
    rotations = np.array([pose.rotation for pose in poses]).reshape(-1, 3, 3)[number]
    result: Floats = np.einsum("nij,nj->ni", rotations, directions)
    return result


def station_places(layout: Layout, names: Sequence[str]) -> tuple[Floats, Floats, Floats]:
    """Foot ``(n, 3)``, normal ``(n, 3)`` and rise to the detector ``(n,)`` of stations, as drawn, world, metres.

    A station of a moving part stands where that part is while it is read; the rise is that to the target which the
    station itself names. Growth of the surface is left out: `station_centres` has it.
    """
    poses, number = _poses(layout, names)
    foot = _turned(poses, number, _vectors(layout, names, "at"))
    foot = foot + np.array([pose.origin for pose in poses]).reshape(-1, 3)[number]
    return foot, _turned(poses, number, _vectors(layout, names, "normal")), _rises(layout, names)


def _rises(layout: Layout, names: Sequence[str], targets: Sequence[str] | None = None) -> Floats:
    """Heights ``(n,)`` of detectors above the feet of their mounts, metres."""
    stations = [layout.stations[name] for name in names]
    read = [station.target for station in stations] if targets is None else targets
    return np.array(
        [
            centre_above_foot(station.mount, layout.targets[target])
            for station, target in zip(stations, read, strict=True)
        ],
        dtype=np.float64,
    )


def station_sides(layout: Layout, names: Sequence[str]) -> Floats:
    """Direction ``(n, 3)`` in which a sideways deviation of each station counts: normal x along, world."""
    poses, number = _poses(layout, names)
    side = np.cross(_vectors(layout, names, "normal"), _vectors(layout, names, "along"))
    return _turned(poses, number, side)


@dataclass(frozen=True, slots=True, eq=False)
class Stands:
    """How n detectors stand on their surfaces, nominal, world, metres.

    Attributes
    ----------
    foot, normal, beside : (n, 3) float
        Where the mount stands on the surface as drawn, the direction in which it and a deviation point, and that in
        which a sideways deviation counts.
    rise, arm : (n,) float
        From that foot to the centre of the detector, along ``normal`` and ``beside``; growth of the surface included.
    """

    foot: Floats
    normal: Floats
    beside: Floats
    rise: Floats
    arm: Floats

    @property
    def centres(self) -> Floats:
        """Centres ``(n, 3)`` of the detectors."""
        result: Floats = self.foot + self.rise[:, None] * self.normal + self.arm[:, None] * self.beside
        return result


def stands_of(layout: Layout, stations: Sequence[str], targets: Sequence[str] | None = None) -> Stands:
    """How ``targets``, by default those that the stations name, stand at ``stations``; one of each per detector."""
    foot, normal, _ = station_places(layout, stations)
    return Stands(
        foot,
        normal,
        station_sides(layout, stations),
        _rises(layout, stations, targets) + station_growth(layout, stations).deviation,
        np.array([layout.stations[name].mount.arm for name in stations], dtype=np.float64),
    )


def station_centres(layout: Layout, names: Sequence[str], targets: Sequence[str] | None = None) -> Floats:
    """Nominal centres ``(n, 3)`` of detectors, world, metres: on grown surfaces, with the arms of their brackets."""
    return stands_of(layout, names, targets).centres
