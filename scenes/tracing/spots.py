"""The measurement model: where the beam meets each detector, and what the detector says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..vectors import Floats, dot, rotation_from_vector
from .air import bend
from .beam import beam_radius, distance_to_plane, point_on_path
from .geometry import SurveyGeometry
from .state import NOMINAL, RowState

__all__ = ["Beams", "Spots", "aimed_azimuths", "beams", "beams_at", "spots"]


@dataclass(frozen=True, slots=True, eq=False)
class Beams:
    """Beams toward the detectors, world: ``origin``, unit ``direction``, ``curvature`` [1/m], each ``(..., m, 3)``."""

    origin: Floats
    direction: Floats
    curvature: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """What reaches the detectors, each ``(..., m)`` or ``(..., m, 3)``; nan where a beam never meets its detector.

    Attributes
    ----------
    h, v : float
        Readings, metres: the spot in the axes of the detector, with the detector's own errors.
    hit : float
        The spot in the world.
    path : float
        Length of the beam from the axis of turning, metres.
    radius : float
        Beam radius at the detector (1/e^2), metres.
    """

    h: Floats
    v: Floats
    hit: Floats
    path: Floats
    radius: Floats


def _rotation(geometry: SurveyGeometry, state: RowState) -> Floats:
    """world_from_base of every row, ``(..., m, 3, 3)``, with the tilt of the state."""
    tilt_x, tilt_y = np.broadcast_arrays(state.tilt_x, state.tilt_y)
    if not tilt_x.any() and not tilt_y.any():
        return geometry.base_rotation
    result: Floats = geometry.base_rotation @ rotation_from_vector(np.stack([tilt_x, tilt_y, 0.0 * tilt_x], axis=-1))
    return result


def _centres(geometry: SurveyGeometry, state: RowState) -> Floats:
    """Detector centres ``(..., m, 3)``: nominal foot, deviation of the surface, mount and target."""
    rise = geometry.rise + state.mount + state.deviation
    result: Floats = geometry.foot + rise[..., None] * geometry.normal
    return result


def _pivot(geometry: SurveyGeometry, state: RowState) -> Floats:
    """Foot of the base ``(..., m, 3)``, lifted as the state says."""
    result: Floats = geometry.base_origin + np.asarray(state.lift)[..., None] * geometry.base_rotation[:, :, 2]
    return result


def _aimed(geometry: SurveyGeometry, state: RowState, rotation: Floats) -> Floats:
    """Azimuths ``(..., m)`` at which the beams stand over the places that the crew aims at."""
    aimed = _centres(geometry, state) + np.asarray(state.aim)[..., None] * geometry.axis_h
    in_base = np.einsum("...ji,...j->...i", rotation, aimed - _pivot(geometry, state))
    azimuth: Floats = np.arctan2(in_base[..., 1], in_base[..., 0])
    return azimuth


def _turned(geometry: SurveyGeometry, state: RowState, rotation: Floats, azimuth: Floats) -> Beams:
    """Beams of every row with the base turned to ``azimuth`` (..., m)."""
    elevation = geometry.cone + state.cone + state.elevation + state.drift * geometry.rows.time
    azimuth, elevation = np.broadcast_arrays(azimuth, elevation)
    level = np.cos(elevation)
    local = np.stack([level * np.cos(azimuth), level * np.sin(azimuth), np.sin(elevation)], axis=-1)
    direction = np.einsum("...ij,...j->...i", rotation, local)
    origin = _pivot(geometry, state) + geometry.beam_height[:, None] * rotation[..., 2]
    gradient = np.broadcast_to(geometry.gradient + state.gradient, direction.shape[:-1])
    return Beams(np.broadcast_to(origin, direction.shape), direction, bend(direction, gradient, geometry.temperature))


def aimed_azimuths(geometry: SurveyGeometry, state: RowState = NOMINAL) -> Floats:
    """Azimuths ``(..., m)`` of the base [rad, from its own x] at which the beams meet the places aimed at."""
    return _aimed(geometry, state, _rotation(geometry, state))


def beams_at(geometry: SurveyGeometry, state: RowState, azimuth: Floats) -> Beams:
    """Beams of every row with the base turned to ``azimuth`` (..., m) [rad, from its own x], aimed at nothing."""
    return _turned(geometry, state, _rotation(geometry, state), azimuth)


def beams(geometry: SurveyGeometry, state: RowState = NOMINAL) -> Beams:
    """Beams of every row: the base is turned until the beam stands over the place that the crew aims at.

    A plane is swept where the beam is square to the axis of turning; an elevation of the beam sweeps a cone.
    """
    rotation = _rotation(geometry, state)
    return _turned(geometry, state, rotation, _aimed(geometry, state, rotation))


def spots(geometry: SurveyGeometry, state: RowState = NOMINAL) -> Spots:
    """Readings ``f(layout, device errors, air, deviation)`` of every row.

    Parameters
    ----------
    geometry : SurveyGeometry, m rows
    state : RowState
        Fields that broadcast to ``(..., m)``; leading axes are trials.

    Returns
    -------
    Spots
        With leading axes of the state.
    """
    light = beams(geometry, state)
    centre = _centres(geometry, state)
    path = distance_to_plane(light.origin, light.direction, light.curvature, centre, geometry.facing)
    hit = point_on_path(light.origin, light.direction, light.curvature, path)
    off = hit - centre
    right = dot(off, geometry.axis_h)
    up = dot(off, geometry.axis_v) + state.turbulence
    cos, sin = np.cos(state.roll), np.sin(state.roll)
    gain = 1.0 + np.asarray(state.scale)
    h = gain * (cos * right - sin * up) + state.zero_h + state.noise_h
    v = gain * (sin * right + cos * up) + state.zero_v + state.noise_v
    radius = beam_radius(path, geometry.waist_radius, geometry.wavelength)
    return Spots(h=h, v=v, hit=hit, path=path, radius=radius)
