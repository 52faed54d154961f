"""Levelling: how the axis of a rotary base stands once the crew has set its plane as the layout says."""

from __future__ import annotations

import numpy as np

from ..errors import GeometryError
from ..frames import pose_from_axes
from ..model.layout import Layout
from ..model.survey import LevelBy, Setup
from ..vectors import Floats, unit
from .places import station_centres

__all__ = ["base_axis", "level_stations", "widest_three"]

THIN_TRIANGLE = 1e-6
"""Three points lie on one line where twice their area is below this share of the square of their extent."""


def widest_three(points: Floats) -> tuple[int, int, int]:
    """Three of the ``points`` (n, 3) that span a wide triangle: two far apart, and the one farthest from their line.

    Raises
    ------
    GeometryError
        Where all points lie on one line.
    """
    if len(points) < 3:
        raise GeometryError(f"a plane needs three points, there are {len(points)}")
    first = int(np.argmax(np.linalg.norm(points - points.mean(axis=0), axis=1)))
    second = int(np.argmax(np.linalg.norm(points - points[first], axis=1)))
    along = points[second] - points[first]
    off = np.linalg.norm(np.cross(points - points[first], along), axis=1)
    third = int(np.argmax(off))
    if off[third] <= THIN_TRIANGLE * float(along @ along):
        raise GeometryError("the points lie on one line, so they set no plane; add a point to the side of that line")
    return first, second, third


def level_stations(layout: Layout, setup: Setup) -> tuple[str, ...]:
    """Stations by which the plane of ``setup`` is set: named, or picked by the method; none for a vial."""
    if setup.level_by is LevelBy.VIAL:
        return ()
    if setup.level_stations:
        return setup.level_stations
    read = tuple(dict.fromkeys(setup.reads))
    if setup.level_by is LevelBy.BEST_FIT:
        return read
    try:
        return tuple(read[i] for i in widest_three(station_centres(layout, read)))
    except GeometryError as error:
        raise GeometryError(f"set-up {setup.name}, level by {setup.level_by}: {error}") from None


def base_axis(layout: Layout, setup: Setup, up: Floats) -> Floats:
    """Rotation ``world_from_base`` (3, 3) of the base: its z is the axis of turning after levelling.

    Through three detectors, or through more of them by least squares; a vial sets the axis along gravity.

    Raises
    ------
    GeometryError
        Where the points that set the plane lie on one line.
    """
    names = level_stations(layout, setup)
    if not names:
        return pose_from_axes(np.zeros(3), np.array([0.0, 0.0, 1.0])).rotation
    centres = station_centres(layout, names)
    try:
        widest_three(centres)
    except GeometryError as error:
        raise GeometryError(f"set-up {setup.name}, level by {setup.level_by}: {error}") from None
    axis = np.linalg.svd(centres - centres.mean(axis=0))[2][2]
    if axis @ up < 0.0:
        axis = -axis
    return pose_from_axes(np.zeros(3), unit(axis)).rotation
