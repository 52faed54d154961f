"""Every planned reading as a beam: its corners with their devices, its spot with the margins, and what stops it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.checks.plan import Plan
from scenes.tracing.sight import Sight
from scenes.vectors import Floats, unit

__all__ = ["SIGHT_WORDS", "Corner", "TracedBeam", "traced_beams"]

SIGHT_WORDS = {Sight.CLEAR: "clear", Sight.CLIPPED: "clipped", Sight.BLOCKED: "blocked"}


@dataclass(frozen=True, slots=True, eq=False)
class Corner:
    """A vertex of a beam: device, what of it, point (world), way until there, beam radius; metres; light behind it."""

    device: str
    place: str
    point: Floats
    way: float
    radius: float
    light: float


@dataclass(frozen=True, slots=True, eq=False)
class TracedBeam:
    """One planned reading, traced; SI units, nan where a beam never meets its detector.

    Attributes
    ----------
    number : int
        Of the reading in the planned order, counted from 1.
    setup, method, station, target : str
    stop : str
        Stop of the prism, or empty.
    reversed : bool
    turn, clock : float
        Turn of the emitter and of the target, rad; nan where the set-up or the station knows none.
    time : float
        Seconds since the first reading of the set-up.
    corners : tuple of Corner
        In the order of the light; the last one is the target, if the beam meets it.
    spot : dict of channel to float
        h, v, and pitch, yaw where the target reads them.
    free : str
        Channel that tells nothing, since the crew brings the spot to the middle along it; or empty.
    margin : dict of channel to float
        From the edge of the beam to the edge of the window (of the angular window for an angle); negative beyond it.
    incidence : float
        Angle of the beam to the detector's normal.
    prism_margin : float
        From the edge of the beam to that of the prism's faces; nan without a prism.
    sight : str
        ``clear``, ``clipped`` or ``blocked``, by ``stopped_by`` at the point ``stopped_at`` (3,), ``stopped_after``
        metres from the emitter.
    """

    number: int
    setup: str
    method: str
    station: str
    target: str
    stop: str
    reversed: bool
    turn: float
    clock: float
    time: float
    corners: tuple[Corner, ...]
    spot: dict[str, float]
    free: str
    margin: dict[str, float]
    incidence: float
    prism_margin: float
    sight: str
    stopped_by: str
    stopped_at: Floats | None
    stopped_after: float

    @property
    def met(self) -> bool:
        """Whether the beam meets its detector."""
        return bool(np.isfinite(self.spot["h"]))

    @property
    def length(self) -> float:
        """Length of the beam from the emitter to the detector, metres."""
        return self.corners[-1].way if self.met else float("nan")

    @property
    def radius(self) -> float:
        """Beam radius at the detector, metres."""
        return self.corners[-1].radius if self.met else float("nan")

    @property
    def light(self) -> float:
        """Share of the emitter's light that reaches the detector."""
        return self.corners[-1].light if self.met else float("nan")


def traced_beams(plan: Plan) -> tuple[TracedBeam, ...]:
    """All beams of ``plan`` in the planned order."""
    return tuple(_beam(plan, row) for row in range(len(plan.geometry.rows)))


def _beam(plan: Plan, row: int) -> TracedBeam:
    layout, geometry = plan.layout, plan.geometry
    rows, seen = geometry.rows, plan.spots
    setup, station = layout.setups[rows.setups[rows.setup[row]]], layout.stations[rows.stations[rows.station[row]]]
    reads = {channel: bool(flags[row]) for channel, flags in geometry.reads.items()}
    free = "" if reads["h"] and reads["v"] else "v" if reads["h"] else "h"
    stop = setup.prism.stops[int(rows.stop[row])].name if setup.prism is not None and rows.stop[row] >= 0 else ""
    channels = ("h", "v", *(("pitch", "yaw") if reads["pitch"] else ()))
    spot = {channel: float(getattr(seen, channel)[row]) for channel in channels}
    by = int(plan.sight.by[row])
    stopped_at, stopped_after = _stopped(plan, row) if by >= 0 else (None, float("nan"))
    return TracedBeam(
        number=row + 1, setup=setup.name, method=str(setup.method), station=station.name,
        target=rows.targets[rows.target[row]], stop=stop, reversed=bool(rows.side[row]),
        turn=float(rows.turn[row]) if setup.clocks else float("nan"),
        clock=float(rows.clock[row]) if station.clocks else float("nan"), time=float(rows.time[row]),
        corners=_corners(plan, row), spot=spot, free=free, margin=_margins(plan, row, spot),
        incidence=float(seen.incidence[row]), prism_margin=_prism_margin(plan, row),
        sight=SIGHT_WORDS[Sight(int(plan.sight.sight[row]))], stopped_by=plan.obstacles.names[by] if by >= 0 else "",
        stopped_at=stopped_at, stopped_after=stopped_after,
    )  # fmt: skip


def _corners(plan: Plan, row: int) -> tuple[Corner, ...]:
    paths = plan.paths
    return tuple(
        Corner(
            paths.device(plan.layout, plan.geometry, row, corner), _place(paths.places[corner]),
            paths.points[row, corner], float(paths.way[row, corner]), float(paths.radius[row, corner]),
            float(paths.light[row, corner]),
        )
        for corner in np.nonzero(paths.here[row])[0].tolist()
    )  # fmt: skip


def _place(place: str) -> str:
    """What of its device a corner is; the faces of see-through targets without their number."""
    return place.partition(" ")[0] if place.startswith(("front", "back")) else place


def _margins(plan: Plan, row: int, spot: dict[str, float]) -> dict[str, float]:
    geometry, target = plan.geometry, plan.layout.targets[plan.geometry.rows.targets[plan.geometry.rows.target[row]]]
    half, radius = 0.5 * geometry.window[row], float(plan.spots.radius[row])
    room = {"h": half[0] - radius, "v": half[1] - radius, "pitch": target.angle_window, "yaw": target.angle_window}
    return {channel: float(room[channel] - abs(value)) for channel, value in spot.items()}


def _prism_margin(plan: Plan, row: int) -> float:
    """Room between the edge of the beam at the prism's exit, where it is widest, and the edges of the faces."""
    room = float(np.broadcast_to(plan.spots.train.margin, len(plan.geometry.rows))[row])
    if "exit" not in plan.paths.places or not np.isfinite(room):
        return float("nan")
    return room - float(plan.paths.radius[row, plan.paths.places.index("exit")])


def _stopped(plan: Plan, row: int) -> tuple[Floats, float]:
    """Point ``(3,)`` up to which the beam gets, and its way from the emitter until there, metres."""
    start, toward, reach = plan.stopped_from[row], plan.stopped_toward[row], float(plan.sight.reach[row])
    corner = np.nonzero(np.all(plan.paths.points[row] == start, axis=-1))[0]
    before = float(plan.paths.way[row, corner[0]]) if len(corner) else 0.0
    return start + (reach - before) * unit(toward - start), reach if len(corner) else float("nan")
