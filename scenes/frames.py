"""Frames: right-handed, +z up (or out of the surface); ``a_from_b`` takes coordinates in b to coordinates in a."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .vectors import Floats, frozen, unit

__all__ = ["IDENTITY", "Pose", "pose_from_axes", "pose_from_turn", "rotation_along", "turn_about_z"]


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """Rigid motion ``x_a = rotation @ x_b + origin``: where frame b stands in frame a.

    Attributes
    ----------
    rotation : (3, 3) float, orthonormal, determinant +1
    origin : (3,) float, metres
    """

    rotation: Floats
    origin: Floats

    def __post_init__(self) -> None:
        """Copy, check and freeze the arrays."""
        object.__setattr__(self, "rotation", frozen(self.rotation, (3, 3)))
        object.__setattr__(self, "origin", frozen(self.origin, (3,)))
        if not np.allclose(self.rotation @ self.rotation.T, np.eye(3), atol=1e-12) or np.linalg.det(self.rotation) < 0:
            raise ValueError("the rotation of a pose must be orthonormal and right-handed")

    def points(self, points: Floats) -> Floats:
        """Points ``(..., 3)`` of frame b, in frame a."""
        result: Floats = points @ self.rotation.T + self.origin
        return result

    def directions(self, directions: Floats) -> Floats:
        """Directions ``(..., 3)`` of frame b, in frame a."""
        result: Floats = directions @ self.rotation.T
        return result

    def inverse(self) -> Pose:
        """``b_from_a``."""
        return Pose(self.rotation.T, -self.rotation.T @ self.origin)

    def __matmul__(self, other: Pose) -> Pose:
        """``a_from_b @ b_from_c`` is ``a_from_c``."""
        return Pose(self.rotation @ other.rotation, self.rotation @ other.origin + self.origin)


IDENTITY = Pose(np.eye(3), np.zeros(3))


def turn_about_z(angle: float) -> Floats:
    """Rotation matrix ``(3, 3)`` about +z by ``angle`` [rad], counter-clockwise seen from above."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def pose_from_turn(origin: ArrayLike, angle: float = 0.0) -> Pose:
    """Pose at ``origin`` [m], turned about +z by ``angle`` [rad]."""
    return Pose(turn_about_z(angle), np.asarray(origin, dtype=np.float64))


def pose_from_axes(origin: ArrayLike, z_axis: ArrayLike, x_hint: ArrayLike = (1.0, 0.0, 0.0)) -> Pose:
    """Pose at ``origin`` whose z runs along ``z_axis`` and whose x lies as near ``x_hint`` as it can.

    Where the hint runs along z, the next world axis takes its place.
    """
    z = unit(np.asarray(z_axis, dtype=np.float64))
    hint = np.asarray(x_hint, dtype=np.float64)
    across = hint - (hint @ z) * z
    if np.linalg.norm(across) < 1e-9 * np.linalg.norm(hint):
        hint = np.roll(hint, 1)
        across = hint - (hint @ z) * z
    x = unit(across)
    return Pose(np.column_stack([x, np.cross(z, x), z]), np.asarray(origin, dtype=np.float64))


def rotation_along(direction: Floats, up: Floats, other: Floats) -> Floats:
    """Rotation ``(3, 3)`` with x along ``direction`` and z as near ``up`` as can be.

    ``other`` takes the place of ``up`` where that runs along the direction.
    """
    x = unit(direction)
    across = up - (up @ x) * x
    if float(np.linalg.norm(across)) < 1e-6:
        across = other - (other @ x) * x
    z = unit(across)
    return np.column_stack([x, np.cross(z, x), z])
