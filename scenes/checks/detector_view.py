"""The face of a detector as the emitter sees it: window, room for the spot, the spot itself and its margins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracing.sight import Sight
from ..tracing.spots import Spots
from ..vectors import Flags, Floats, Indices, dot, frozen
from .plan import Plan
from .window import wanted_travel

__all__ = ["SIDES", "DetectorView", "detector_view", "rows_of_station"]

SIDES = ("left", "right", "below", "above")
"""Order of the margins."""

OUTLINE = 48
"""Points of a spot's outline."""


@dataclass(frozen=True, slots=True, eq=False)
class DetectorView:
    """One reading on the face of its detector; metres and radians.

    Points are ``(h, v)`` in the axes of the detector: h to the right as seen from the emitter, v up along the mount,
    both turned with the target where it is read at a clock position. The centre of the window is the origin.

    Attributes
    ----------
    setup, station, target : str
    side : int
        0: as set up, 1: reversed.
    clock : float
        Turn of the target about the axis of its station.
    arrives : bool
        False where nothing of the beam comes here: it is blocked, or never meets the detector.
    sight : Sight
    by : str
        Surface that blocks or clips the beam; empty where none does.
    window : (2,) float
        Full width and height of the sensitive area.
    usable : (2,) float
        The centre of the spot may stand this far either way while the whole spot is on the window; negative where the
        spot is wider than the window.
    travel : float
        The surface may move the spot this far either way within the limits of the tasks.
    spot : (2,) float
        Centre of the spot as the detector reads it; nan where the beam never meets the detector.
    radius : float
        Beam radius at 1/e^2.
    outline : (48, 2) float
        Where that radius meets the detector: an ellipse where the beam comes at a slant; nan as for ``spot``.
    margin : (4,) float
        Way of the spot's centre to the end of the usable room to the left, right, below and above (``SIDES``);
        negative where it is past it.
    tells : (2,) bool
        Whether h and v carry information; what does not is brought to the middle by the crew.
    angles : (2,) float
        Pitch and yaw of the beam to the detector.
    angle_window : float
        The target reads angles this far either way; 0: it reads none.
    incidence, angular_range : float
        Angle of the beam to the detector's normal, and the largest at which it reads properly.
    largest_spot : float
        Largest beam radius that is read properly.
    light, least_light : float
        Share of the emitter's light that comes here, and the least that is read properly.
    mount_up : (2,) float
        Direction of the mount, from the surface to the target; ``(0, 0)`` where the detector looks along it.
    """

    setup: str
    station: str
    target: str
    side: int
    clock: float
    arrives: bool
    sight: Sight
    by: str
    window: Floats
    usable: Floats
    travel: float
    spot: Floats
    radius: float
    outline: Floats
    margin: Floats
    tells: Flags
    angles: Floats
    angle_window: float
    incidence: float
    angular_range: float
    largest_spot: float
    light: float
    least_light: float
    mount_up: Floats

    @property
    def least_margin(self) -> float:
        """Smallest of the four margins less the travel of the surface; nan where the beam meets no detector."""
        return float(self.margin.min()) - self.travel


def rows_of_station(plan: Plan, station: str, setup: str = "") -> Indices:
    """Rows ``(k,)`` in which ``station`` is read (from ``setup``, where given): sides, clock positions, re-readings."""
    rows = plan.geometry.rows
    if station not in rows.stations or (setup and setup not in rows.setups):
        return np.zeros(0, dtype=np.int64)
    mine = rows.station == rows.stations.index(station)
    if setup:
        mine &= rows.setup == rows.setups.index(setup)
    result: Indices = np.nonzero(mine)[0]
    return result


def _outline(toward: Floats, spot: Floats, radius: float) -> Floats:
    """Ellipse ``(48, 2)`` in which a round beam along ``toward`` (2,) [in the axes of the detector] meets it."""
    turn = np.linspace(0.0, 2.0 * np.pi, OUTLINE, endpoint=False)
    slant = float(np.hypot(*toward))
    stretch = 1.0 / np.sqrt(max(1.0 - slant**2, 1e-6))
    one = toward / slant if slant > 0.0 else np.array([1.0, 0.0])
    two = np.array([-one[1], one[0]])
    result: Floats = spot + radius * (stretch * np.cos(turn)[:, None] * one + np.sin(turn)[:, None] * two)
    return result


def detector_view(plan: Plan, row: int, seen: Spots | None = None) -> DetectorView:
    """The face of the detector of one ``row`` of the plan.

    Parameters
    ----------
    plan : Plan
    row : int
        Row of ``plan.geometry.rows``; those of a station come from ``rows_of_station``.
    seen : Spots, optional
        Another trace of the same rows without leading axes, such as one with errors set; that of the plan where not
        given.
    """
    trace = plan.spots if seen is None else seen
    geometry, rows = plan.geometry, plan.geometry.rows
    name, target = rows.stations[rows.station[row]], plan.layout.targets[rows.targets[rows.target[row]]]
    spot = np.array([trace.h[row], trace.v[row]])
    radius, window = float(trace.radius[row]), np.array(geometry.window[row])
    usable = 0.5 * window - radius
    sight = Sight(int(plan.sight.sight[row]))
    axes = np.stack([geometry.axis_h[row], geometry.axis_v[row]])
    pitch, yaw = float(trace.pitch[row]), float(trace.yaw[row])
    toward = np.array([np.tan(yaw), np.tan(pitch), 1.0])
    toward /= np.linalg.norm(toward)
    return DetectorView(
        setup=rows.setups[rows.setup[row]],
        station=name,
        target=target.name,
        side=int(rows.side[row]),
        clock=float(rows.clock[row]),
        arrives=bool(np.isfinite(spot).all()) and sight is not Sight.BLOCKED,
        sight=sight,
        by="" if sight is Sight.CLEAR else plan.obstacles.names[plan.sight.by[row]],
        window=frozen(window),
        usable=usable,
        travel=float(wanted_travel(plan.layout, (name,))[0]),
        spot=spot,
        radius=radius,
        outline=_outline(toward[:2], spot, radius),
        margin=np.array([usable[0] + spot[0], usable[0] - spot[0], usable[1] + spot[1], usable[1] - spot[1]]),
        tells=np.array([geometry.reads["h"][row], geometry.reads["v"][row]]),
        angles=np.array([pitch, yaw]),
        angle_window=target.angle_window if target.reads_angles else 0.0,
        incidence=float(trace.incidence[row]),
        angular_range=target.angular_range,
        largest_spot=target.largest_spot,
        light=float(plan.paths.light[row, -1]) if np.isfinite(plan.paths.light[row, -1]) else 0.0,
        least_light=target.least_light,
        mount_up=dot(axes, np.broadcast_to(geometry.normal[row], axes.shape)),
    )
