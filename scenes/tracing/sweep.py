"""The swept plane itself: where the beam of a set-up passes while its base turns, hit by no target."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from ..vectors import Floats, Indices, dot
from .beam import distance_to_plane, point_on_path
from .geometry import SurveyGeometry
from .spots import beams_at
from .state import RowState

__all__ = ["Sweep", "rows_at", "state_at", "swept_points"]


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """Points of a swept plane.

    Attributes
    ----------
    points : (a, r, 3) float
        World, metres: one line of points for each azimuth.
    height : (a, r) float
        Of the points above the nominal plane through the nominal exit point, along the nominal axis, metres.
    origin, axis : (3,) float
        That exit point and that axis, world.
    """

    points: Floats
    height: Floats
    origin: Floats
    axis: Floats


def rows_at(geometry: SurveyGeometry, index: Indices) -> SurveyGeometry:
    """The rows ``index`` (k,) of ``geometry``, repeated or left out as asked."""
    return geometry.chosen(index)


def state_at(state: RowState, index: Indices) -> RowState:
    """The rows ``index`` (k,) of ``state``; fields that are the same for all rows stay as they are."""
    changed = {}
    for field in fields(state):
        value = np.asarray(getattr(state, field.name))
        if value.ndim and value.shape[-1] > 1:
            changed[field.name] = value[..., index]
    return replace(state, **changed)


def swept_points(
    geometry: SurveyGeometry,
    state: RowState,
    row: int,
    azimuths: Floats,
    radii: Floats,
) -> Sweep:
    """Points that the beam of one reading passes while its base turns, found with the model of the readings.

    Parameters
    ----------
    geometry : SurveyGeometry
    state : RowState, fields that broadcast to ``(m,)``
    row : int
        The reading whose moment is taken: its set-up, the drift until then, the bearing error there.
    azimuths : (a,) float
        Of the base about its axis, rad, from its own x.
    radii : (r,) float
        Distances from the axis of turning, metres.
    """
    index = np.full(len(azimuths), row, dtype=np.int64)
    turned = rows_at(geometry, index)
    light = beams_at(turned, state_at(state, index), azimuths)
    level = np.stack([np.cos(azimuths), np.sin(azimuths), np.zeros_like(azimuths)], axis=-1)
    outward = np.einsum("...ij,...j->...i", turned.launch_rotation, level)[:, None, :]
    start, direction, curvature = light.origin[:, None, :], light.direction[:, None, :], light.curvature[:, None, :]
    rims = turned.beam_origins()[:, None, :] + radii[None, :, None] * outward
    path = distance_to_plane(start, direction, curvature, rims, np.broadcast_to(outward, rims.shape))
    points = point_on_path(start, direction, curvature, path)
    origin, axis = turned.beam_origins()[0], turned.launch_rotation[0, :, 2]
    return Sweep(points, dot(points - origin, axis), origin, axis)
