"""Which station a click in the picture means."""

from __future__ import annotations

import numpy as np

from scenes.meshes.cameras import VIEW_ANGLE, Camera
from scenes.vectors import Floats, unit

__all__ = ["nearest", "on_screen"]


def on_screen(points: Floats, camera: Camera, size: tuple[float, float]) -> Floats:
    """Pixels ``(n, 2)`` of world ``points`` (n, 3), from the upper left corner; nan behind the eye."""
    toward = unit(camera.position - camera.focal_point)
    right = unit(np.cross(camera.up, toward))
    above = np.cross(toward, right)
    off = points - camera.position
    depth = -(off @ toward)
    depth = np.where(depth > 1e-6, depth, np.nan)
    scale = 0.5 * size[1] / np.tan(0.5 * np.deg2rad(VIEW_ANGLE)) / depth
    return np.column_stack([0.5 * size[0] + scale * (off @ right), 0.5 * size[1] - scale * (off @ above)])


def nearest(points: Floats, camera: Camera, size: tuple[float, float], x: float, y: float, within: float) -> int | None:
    """Number of the point nearest to the pixel ``(x, y)``, or None where none is ``within`` so many pixels."""
    if len(points) == 0:
        return None
    away = np.linalg.norm(on_screen(points, camera, size) - [x, y], axis=1)
    if not np.any(np.isfinite(away)):
        return None
    number = int(np.nanargmin(away))
    return number if away[number] <= within else None
