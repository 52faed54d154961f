"""Places of stations and frames of surfaces, nominal, in the world."""

from __future__ import annotations

import numpy as np

from ..frames import IDENTITY, Pose
from ..model.layout import Layout
from ..model.machine import FLOOR
from ..vectors import Floats

__all__ = ["pose_of", "station_places"]


def pose_of(layout: Layout, place: str) -> Pose:
    """Frame of a surface, or the world for the floor: ``world_from_place``."""
    return IDENTITY if place == FLOOR else layout.surfaces[place].world_from_surface


def station_places(layout: Layout, names: tuple[str, ...]) -> tuple[Floats, Floats, Floats]:
    """Foot ``(n, 3)``, normal ``(n, 3)`` and rise to the detector ``(n,)`` of stations, nominal, world, metres."""
    feet, normals, rises = [], [], []
    for name in names:
        station = layout.stations[name]
        pose = pose_of(layout, station.surface)
        feet.append(pose.points(station.at))
        normals.append(pose.rotation[:, 2])
        rises.append(station.mount.height + layout.targets[station.target].centre_height)
    return np.array(feet).reshape(-1, 3), np.array(normals).reshape(-1, 3), np.array(rises, dtype=np.float64)
