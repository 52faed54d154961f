"""Beams: their path and their radius."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats, dot

__all__ = ["beam_radius", "distance_to_plane", "point_on_path"]


def beam_radius(distance: Floats, waist_radius: Floats, wavelength: Floats) -> Floats:
    """Radius [m] of a Gaussian beam at 1/e^2 of its intensity, ``distance`` [m] behind its waist.

    Source: any text on lasers: w(z) = w0 sqrt(1 + (z/zR)^2) with zR = pi w0^2 / wavelength.
    """
    rayleigh = np.pi * waist_radius**2 / wavelength
    result: Floats = waist_radius * np.hypot(1.0, distance / rayleigh)
    return result


def point_on_path(origin: Floats, direction: Floats, curvature: Floats, s: Floats) -> Floats:
    """Points ``(..., 3)`` after the path ``s`` [m] of beams with constant curvature vectors."""
    result: Floats = origin + s[..., None] * (direction + (0.5 * s)[..., None] * curvature)
    return result


def distance_to_plane(origin: Floats, direction: Floats, curvature: Floats, point: Floats, normal: Floats) -> Floats:
    """Path ``s`` [m] of bent beams to planes; nan where a beam runs along its plane or away from it.

    All arguments ``(..., 3)``; ``point`` and ``normal`` are of the planes.
    """
    a = 0.5 * dot(curvature, normal)
    b = dot(direction, normal)
    c = dot(origin - point, normal)
    with np.errstate(invalid="ignore", divide="ignore"):
        root = np.sqrt(b * b - 4.0 * a * c)
        s = -2.0 * c / (b + np.copysign(root, b))
    return np.where((b != 0.0) & (s >= 0.0), s, np.nan)
