"""The measurement model: where the beam meets each detector, and what the detector says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..vectors import Floats, dot
from .beam import beam_radius
from .geometry import SurveyGeometry
from .state import NOMINAL, RowState
from .train import Leg, Train, aimed_turns, detectors, last_legs, turned_legs

__all__ = ["Spots", "aimed_azimuths", "beams", "beams_at", "spots"]


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """What reaches the detectors, each ``(..., m)`` or ``(..., m, 3)``; nan where a beam never meets its detector.

    Attributes
    ----------
    h, v : float
        Readings, metres: the spot in the axes of the detector, with the detector's own errors.
    pitch, yaw : float
        Angles of the beam to the detector's normal, rad: + = it rises, goes to the right.
    hit : float
        The spot in the world.
    path : float
        Length of the beam from the emitter (the axis of a base), metres.
    radius : float
        Beam radius at the detector (1/e^2), metres.
    incidence : float
        Angle of the beam to the detector's normal, rad.
    train : Train
        The way of the light until the last leg.
    """

    h: Floats
    v: Floats
    pitch: Floats
    yaw: Floats
    hit: Floats
    path: Floats
    radius: Floats
    incidence: Floats
    train: Train


def aimed_azimuths(geometry: SurveyGeometry, state: RowState = NOMINAL) -> Floats:
    """Turns ``(..., m)`` of the base or of the prism's nose [rad] at which the beams meet the places aimed at."""
    return aimed_turns(geometry, state)


def beams_at(geometry: SurveyGeometry, state: RowState, azimuth: Floats) -> Leg:
    """Last legs of every row with the base, or the nose of the prism, turned to ``azimuth`` (..., m) [rad]."""
    return turned_legs(geometry, state, azimuth).leg


def beams(geometry: SurveyGeometry, state: RowState = NOMINAL) -> Leg:
    """Last legs of every row: base or nose is turned until the beam stands over the place that the crew aims at.

    A plane is swept where the beam is square to the axis of turning; an elevation of the beam sweeps a cone.
    """
    return last_legs(geometry, state, detectors(geometry, state)).leg


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
    stands = detectors(geometry, state)
    train = last_legs(geometry, state, stands)
    hit, direction, last = train.leg.to_plane(stands.centre, stands.facing)
    off = hit - stands.centre
    right = dot(off, stands.axis_h) + state.turbulence_side
    up = dot(off, stands.axis_v) + state.turbulence
    cos, sin = np.cos(state.roll), np.sin(state.roll)
    gain = 1.0 + np.asarray(state.scale)
    h = gain * (cos * right - sin * up) + state.zero_h + state.noise_h
    v = gain * (sin * right + cos * up) + state.zero_v + state.noise_v
    inward = -dot(direction, stands.facing)
    rising = np.arctan2(dot(direction, stands.axis_v), inward)
    swinging = np.arctan2(dot(direction, stands.axis_h), inward)
    pitch = sin * swinging + cos * rising + state.zero_pitch + state.noise_pitch
    yaw = cos * swinging - sin * rising + state.zero_yaw + state.noise_yaw
    path = train.before + last
    radius = beam_radius(path, geometry.waist_radius, geometry.wavelength)
    incidence = np.arccos(np.clip(inward, -1.0, 1.0))
    return Spots(h, v, pitch, yaw, hit, path, radius, incidence, train)
