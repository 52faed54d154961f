"""Swept planes and cones: where the beam of a set-up passes while base, prism or emitter turns, hit by no target."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from ..vectors import Floats, Indices, dot
from .beam import distance_to_plane, point_on_path
from .geometry import SurveyGeometry
from .spots import beams
from .state import PLATE_FIELDS, RowState
from .train import Leg, detectors, last_legs

__all__ = ["Sweep", "SweepFrame", "rows_at", "state_at", "sweep_frame", "swept_cone", "swept_points"]


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """Points of a swept plane or cone.

    Attributes
    ----------
    points : (a, r, 3) float
        World, metres: one line of points for each turn.
    height : (a, r) float
        Of the points above the nominal plane, along the nominal axis, metres; for a cone, off the axis.
    origin, axis : (3,) float
        A point of the nominal plane on the axis of turning, and that axis, world.
    """

    points: Floats
    height: Floats
    origin: Floats
    axis: Floats


@dataclass(frozen=True, slots=True, eq=False)
class SweepFrame:
    """Nominal frame of turning of k rows: a base about its z, a prism about its incoming beam, world.

    Attributes
    ----------
    origin : (k, 3) float
        Where the nominal beam leaves the axis, metres.
    axis, start, aside : (k, 3) float
        Axis of turning, direction of the nominal beam at turn 0, and that a quarter turn (right-handed) later.
    """

    origin: Floats
    axis: Floats
    start: Floats
    aside: Floats

    def outward(self, turn: Floats) -> Floats:
        """Directions ``(k, 3)`` of the nominal beams at the turns (k,) [rad]."""
        result: Floats = np.cos(turn)[:, None] * self.start + np.sin(turn)[:, None] * self.aside
        return result


def sweep_frame(geometry: SurveyGeometry) -> SweepFrame:
    """Frame of turning of every row, nominal."""
    x, y, z = np.moveaxis(geometry.launch_rotation, -1, 0).copy()
    origin = geometry.beam_origins()
    axis, start, aside = z.copy(), x.copy(), y.copy()
    noses = geometry.noses
    origin[noses.rows], axis[noses.rows] = noses.centre, noses.frame[:, :, 0]
    start[noses.rows], aside[noses.rows] = noses.frame[:, :, 2], -noses.frame[:, :, 1]
    return SweepFrame(origin, axis, start, aside)


def rows_at(geometry: SurveyGeometry, index: Indices) -> SurveyGeometry:
    """The rows ``index`` (k,) of ``geometry``, repeated or left out as asked."""
    return geometry.chosen(index)


def state_at(state: RowState, index: Indices) -> RowState:
    """The rows ``index`` (k,) of ``state``; fields that are the same for all rows stay as they are."""
    changed = {}
    for field in fields(state):
        value = np.asarray(getattr(state, field.name))
        if field.name in PLATE_FIELDS:
            if value.ndim > 1 and value.shape[-2] > 1:
                changed[field.name] = value[..., index, :]
        elif value.ndim and value.shape[-1] > 1:
            changed[field.name] = value[..., index]
    return replace(state, **changed)


def _free(geometry: SurveyGeometry, row: int, count: int) -> SurveyGeometry:
    """One row ``count`` times, with no see-through target in its beam."""
    bare = replace(geometry.plates, **{
        each.name: getattr(geometry.plates, each.name)[:, :0] for each in fields(geometry.plates)
    })  # fmt: skip
    return rows_at(replace(geometry, plates=bare), np.full(count, row, dtype=np.int64))


def _met(leg: Leg, point: Floats, normal: Floats) -> Floats:
    """Points ``(a, r, 3)`` where legs (a) meet planes through ``point`` (a, r, 3) square to ``normal`` (a, 1, 3)."""
    start, direction, curvature = (part[:, None, :] for part in (leg.origin, leg.direction, leg.curvature))
    path = distance_to_plane(start, direction, curvature, point, np.broadcast_to(normal, point.shape))
    return point_on_path(start, direction, curvature, path)


def swept_points(
    geometry: SurveyGeometry,
    state: RowState,
    row: int,
    azimuths: Floats,
    radii: Floats,
) -> Sweep:
    """Points that the beam of one reading passes while its base or prism turns, found with the model of the readings.

    Parameters
    ----------
    geometry : SurveyGeometry
    state : RowState, fields that broadcast to ``(m,)``
    row : int
        The reading whose moment is taken: its set-up, the drift until then, the bearing error there.
    azimuths : (a,) float
        Of the base about its axis from its own x, or of the prism about its incoming beam from the up of the emitter,
        rad.
    radii : (r,) or (a, r) float
        Distances from the axis of turning, metres; others for every turn, where they are so given.
    """
    turned = _free(geometry, row, len(azimuths))
    moment = state_at(state, np.full(len(azimuths), row))
    of_base, of_nose = np.where(turned.sweeps, azimuths, 0.0), azimuths[turned.noses.rows]
    light = last_legs(turned, moment, detectors(turned, moment), of_base, of_nose).leg
    frame = sweep_frame(turned)
    outward = frame.outward(azimuths)[:, None, :]
    reach = np.broadcast_to(radii, (len(azimuths), np.shape(radii)[-1]))
    points = _met(light, frame.origin[:, None, :] + reach[..., None] * outward, outward)
    origin, axis = frame.origin[0], frame.axis[0]
    return Sweep(points, dot(points - origin, axis), origin, axis)


def swept_cone(geometry: SurveyGeometry, state: RowState, row: int, turns: Floats, ways: Floats) -> Sweep:
    """Points that the beam of one reading passes while its emitter turns about its own axis: spindle or V-block.

    Parameters
    ----------
    turns : (a,) float
        Of the emitter, rad.
    ways : (r,) float
        Distances from the emitter along the axis, metres.
    """
    turned = replace(_free(geometry, row, len(turns)), turn=np.asarray(turns, dtype=np.float64))
    light = beams(turned, state_at(state, np.full(len(turns), row)))
    origin, axis = turned.beam_origins()[0], turned.launch_rotation[0, :, 0]
    rims = np.broadcast_to(origin + ways[:, None] * axis, (len(turns), len(ways), 3))
    points = _met(light, rims, axis[None, None, :])
    off = points - origin
    return Sweep(points, np.linalg.norm(off - dot(off, axis)[..., None] * axis, axis=-1), origin, axis)
