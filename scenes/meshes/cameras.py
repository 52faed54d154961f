"""Camera places: where to stand to see the whole scene, or one thing in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..vectors import Floats, frozen, unit

__all__ = ["PRESETS", "VIEW_ANGLE", "Camera", "camera_preset", "camera_toward"]

VIEW_ANGLE = 30.0
"""Full angle of view [deg] that the distances are made for; the usual one of the drawing library."""

BREATHING = 1.08
"""Room left around what is shown."""

PRESETS: dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "whole": ((-0.55, -0.75, 0.48), (0.0, 0.0, 1.0)),
    "top": ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0)),
    "along x": ((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "along y": ((0.0, -1.0, 0.0), (0.0, 0.0, 1.0)),
}
"""Name -> from where it looks (world), and what is up in the picture."""


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Position, point looked at, and what is up in the picture; (3,) float each, world, metres."""

    position: Floats
    focal_point: Floats
    up: Floats

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        for name in ("position", "focal_point", "up"):
            object.__setattr__(self, name, frozen(getattr(self, name), (3,)))


def camera_toward(point: Floats, away: ArrayLike, radius: float, up: ArrayLike = (0.0, 0.0, 1.0)) -> Camera:
    """Camera that shows a ball of ``radius`` [m] around ``point``, standing off in the direction ``away``."""
    distance = max(radius, 1e-3) / np.sin(0.5 * np.deg2rad(VIEW_ANGLE))
    return Camera(point + distance * unit(np.asarray(away, dtype=np.float64)), point, np.asarray(up, dtype=np.float64))


def camera_preset(name: str, points: Floats, aspect: float = 1.5) -> Camera:
    """One of ``PRESETS``, as near as all ``points`` (n, 3) [metres, world] still fit the picture.

    ``aspect`` is the width of the picture over its height.

    Raises
    ------
    KeyError
        Where there is no preset of that name.
    """
    away, up = (np.asarray(axis) for axis in PRESETS[name])
    toward = unit(away)
    right = unit(np.cross(up, toward))
    above = np.cross(toward, right)
    half = np.tan(0.5 * np.deg2rad(VIEW_ANGLE)) / BREATHING
    depth = points @ toward
    aside, far = _fitted(points @ right, depth, half * aspect)
    height, far_too = _fitted(points @ above, depth, half)
    eye = max(far, far_too, float(depth.max()) + 1e-3)
    focus = aside * right + height * above + float(depth.mean()) * toward
    return Camera(focus + (eye - float(depth.mean())) * toward, focus, up)


def _fitted(offset: Floats, depth: Floats, half: float) -> tuple[float, float]:
    """Sideways place of an eye, and its least depth from which all points lie within the tangent ``half``."""
    one, other = float(np.max(offset + half * depth)), float(np.max(half * depth - offset))
    return 0.5 * (one - other), 0.5 * (one + other) / half
