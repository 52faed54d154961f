"""Launches: how the emitter of each set-up stands and where its beam goes, nominal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..frames import rotation_along
from ..model.batches import batch_places, target_at
from ..model.layout import Layout
from ..model.survey import Method, Setup
from ..vectors import Floats, length, unit
from .levelling import base_axis
from .places import pose_of, station_centres

__all__ = ["Launch", "launch_of", "line_length", "nose_frame"]

LEAST_LINE = 1.0e-3
"""Near and far targets must stand this far apart [m] to set a line."""

HOUSING = 0.06
"""The beam of an emitter that sits in a spindle starts this far in front of the face [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class Launch:
    """Nominal frame of the emitter of one set-up, world.

    Attributes
    ----------
    origin : (3,) float
        Foot of the base, or where the beam of a line leaves the emitter, metres.
    rotation : (3, 3) float
        ``world_from_launch``: z is the axis of a base; x runs along the beam of a line and z is its up.
    beam_height : float
        Beam above the origin along z, metres.
    sweeps : bool
        True where a base turns the beam about z to each station.
    """

    origin: Floats
    rotation: Floats
    beam_height: float
    sweeps: bool


def _bucked_in(layout: Layout, setup: Setup) -> tuple[Floats, Floats]:
    """Detector centres of the near and the far station, with the targets that the set-up reads there."""
    ends, places = (setup.near, setup.far), batch_places(setup, layout.stations)
    near, far = station_centres(layout, ends, [target_at(setup, layout.stations[end], places) for end in ends])
    if float(length(far - near)) < LEAST_LINE:
        raise GeometryError(
            f"set-up {setup.name}: near and far stand at one place, so they set no line; move one along the beam",
            code="no-line",
        )
    return near, far


def launch_of(layout: Layout, setup: Setup) -> Launch:
    """Nominal launch of ``setup``.

    Raises
    ------
    GeometryError
        A base that cannot be levelled as asked, a line whose near and far targets stand at one place, or a line with
        no direction.
    """
    pose = pose_of(layout, setup.on)
    up = pose.rotation[:, 2]
    stand = pose.points(setup.at) + setup.mount.height * up
    emitter = layout.emitters[setup.emitter]
    if setup.method is Method.BASE_PLANE:
        height = layout.bases[setup.base].height + emitter.beam_height
        return Launch(stand, base_axis(layout, setup, up), height, True)
    if setup.method is Method.SPINDLE:  # the housing sits in the spindle, its beam near the axis
        aim = pose.directions(setup.aim) if setup.aim is not None else up
        rotation = rotation_along(aim, np.array([0.0, 0.0, 1.0]), pose.rotation[:, 0])
        return Launch(stand + HOUSING * rotation[:, 0], rotation, 0.0, False)
    start = stand + emitter.beam_height * up
    if setup.near and setup.far and not layout.stations[setup.near].is_datum:
        near, far = _bucked_in(layout, setup)
        direction = unit(far - near)
        start = near + ((start - near) @ direction) * direction
    elif setup.aim is not None:
        direction = pose.directions(setup.aim)
    else:
        raise GeometryError(
            f"set-up {setup.name}: the beam has no direction; give it aim, or near and far", code="no-line"
        )
    return Launch(start, rotation_along(direction, up, pose.rotation[:, 0]), 0.0, False)


def line_length(layout: Layout, setup: Setup, launch: Launch) -> float:
    """Distance [m] along a base line from its emitter to where the emitter stands when the line is run the other way.

    It then stands as far beyond the far target as it stood before the near one; without such targets, as far beyond the
    last stop of the prism as before the first.
    """
    if setup.near and setup.far:
        near, far = _bucked_in(layout, setup)
        return float((near + far - 2.0 * launch.origin) @ launch.rotation[:, 0])
    stops = [stop.distance for stop in setup.prism.stops] if setup.prism is not None else [0.0]
    return min(stops) + max(stops)


def nose_frame(
    launch: Launch, distance: float, turned: float, reverse: bool, line: float | None = None
) -> tuple[Launch, Floats, Floats]:
    """Launch, centre (3,) and frame (3, 3) of a prism's nose at ``distance`` [m] along the beam.

    Reversed, the emitter stands upright at the other end of the line, ``line`` [m] from the first (twice ``distance``
    where nothing is said), and the prism is turned by half a turn about its exit.
    """
    centre = launch.origin + distance * launch.rotation[:, 0]
    if not reverse:
        return launch, centre, launch.rotation
    aside, up = launch.rotation.T[1:]
    exit_ = np.cos(turned) * up - np.sin(turned) * aside
    half_turn = 2.0 * np.outer(exit_, exit_) - np.eye(3)
    rotation = half_turn @ launch.rotation
    back = distance if line is None else line - distance
    upright = launch.rotation * np.array([-1.0, -1.0, 1.0])
    return Launch(centre - back * rotation[:, 0], upright, launch.beam_height, False), centre, rotation
