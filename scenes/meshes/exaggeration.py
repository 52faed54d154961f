"""Exaggeration: how much larger than life small heights are drawn, so that they show."""

from __future__ import annotations

import numpy as np

from ..tracing.geometry import SurveyGeometry
from ..vectors import Flags, Floats, dot

__all__ = ["default_factor", "default_lift", "enlarged", "raised", "rounded_125", "sweep_axes"]

SHARE = 0.08
"""The largest deviation is drawn about this large against the longer side of its surface."""


def rounded_125(value: float) -> float:
    """The number out of ..., 1, 2, 5, 10, 20, 50, ... nearest to ``value`` in ratio; ``value`` must be positive.

    >>> [rounded_125(value) for value in (0.03, 1.3, 1.6, 7.5, 480.0)]
    [0.02, 1.0, 2.0, 10.0, 500.0]
    """
    decade = 10.0 ** np.floor(np.log10(value))
    choices = np.array([1.0, 2.0, 5.0, 10.0]) * decade
    return float(np.round(choices[np.argmin(np.abs(np.log(choices / value)))], 12))


def default_factor(deviations: Floats, longer_side: float) -> float:
    """Factor 1-2-5 with which the largest of ``deviations`` [m] takes about 8 % of ``longer_side`` [m], at least 1."""
    finite = np.abs(deviations[np.isfinite(deviations)])
    largest = float(finite.max()) if len(finite) else 0.0
    if largest <= 0.0 or longer_side <= 0.0:
        return 1.0
    return max(1.0, rounded_125(SHARE * longer_side / largest))


def default_lift(deviations: Floats, factor: float, longer_side: float) -> float:
    """Height [m] of the zero level over the surface, so that the lowest drawn deviation stays clear above it."""
    finite = deviations[np.isfinite(deviations)]
    lowest = float(finite.min()) if len(finite) else 0.0
    return 0.01 * longer_side + factor * max(0.0, -lowest)


def raised(points: Floats, origin: Floats, axis: Floats, factor: float) -> Floats:
    """``points`` (..., 3) with their heights above the plane through ``origin`` square to ``axis`` multiplied.

    ``origin`` and ``axis`` broadcast to the points; world, metres.
    """
    height = dot(points - origin, np.broadcast_to(axis, points.shape))
    result: Floats = points + ((factor - 1.0) * height)[..., None] * axis
    return result


def enlarged(points: Floats, nominal: Floats, factor: float, axis: Floats, across_only: Flags) -> Floats:
    """``points`` (..., 3) with what they stand off their ``nominal`` places multiplied by ``factor``.

    Where ``across_only`` (...) is true, only the part along the unit vectors ``axis`` (..., 3) is: what lies in a swept
    plane carries no information. World, metres.
    """
    off = points - nominal
    along = dot(off, np.broadcast_to(axis, off.shape))[..., None] * axis
    result: Floats = points + (factor - 1.0) * np.where(across_only[..., None], along, off)
    return result


def sweep_axes(geometry: SurveyGeometry) -> tuple[Floats, Flags]:
    """Axis ``(m, 3)`` about which the beam of each row is swept to its station, and whether it is swept at all."""
    axis = np.array(geometry.launch_rotation[:, :, 2])
    sweeps = np.array(geometry.sweeps)
    axis[geometry.noses.rows] = geometry.noses.frame[:, :, 0]
    sweeps[geometry.noses.rows] = geometry.noses.sweeps
    return axis, sweeps
