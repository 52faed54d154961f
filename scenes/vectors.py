"""Plain vector algebra on rows of points, ``(..., 3)`` float64."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Flags",
    "Floats",
    "Indices",
    "dot",
    "frozen",
    "length",
    "rotation_between",
    "rotation_from_vector",
    "skew",
    "unit",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]
Flags = NDArray[np.bool_]


def frozen(values: ArrayLike, shape: tuple[int, ...] | None = None) -> Floats:
    """Read-only float64 copy of ``values``, checked to be finite and, if given, of ``shape`` (-1: any)."""
    array = np.array(values, dtype=np.float64)
    if shape is not None and (
        array.ndim != len(shape) or any(want not in (-1, have) for want, have in zip(shape, array.shape, strict=True))
    ):
        raise ValueError(f"an array of shape {shape} was expected, not {array.shape}")
    if not np.isfinite(array).all():
        raise ValueError("all values must be finite")
    array.setflags(write=False)
    return array


def dot(a: Floats, b: Floats) -> Floats:
    """Inner product along the last axis: ``(..., 3) x (..., 3) -> (...)``."""
    result: Floats = np.einsum("...i,...i->...", a, b)
    return result


def length(a: Floats) -> Floats:
    """Euclidean length along the last axis."""
    return np.sqrt(dot(a, a))


def unit(a: Floats) -> Floats:
    """Vectors of length one in the direction of ``a``; raises ``ValueError`` for a zero vector."""
    size = length(a)
    if np.any(size == 0.0):
        raise ValueError("a vector of length zero has no direction")
    result: Floats = a / size[..., None]
    return result


def skew(w: Floats) -> Floats:
    """Matrices ``(..., 3, 3)`` of the cross product with ``w``: ``skew(w) @ x == cross(w, x)``."""
    matrix = np.zeros((*w.shape[:-1], 3, 3))
    matrix[..., 0, 1], matrix[..., 0, 2], matrix[..., 1, 2] = -w[..., 2], w[..., 1], -w[..., 0]
    matrix[..., 1, 0], matrix[..., 2, 0], matrix[..., 2, 1] = w[..., 2], -w[..., 1], w[..., 0]
    return matrix


def rotation_from_vector(w: Floats) -> Floats:
    """Rotation matrices ``(..., 3, 3)`` about the axes ``w`` by the angles ``|w|`` [rad].

    Written with sin(x)/x, so that it is exact to rounding for angles near zero.
    Source: O. Rodrigues (1840), in the form of any text on rigid motion.
    """
    angle = length(w)[..., None, None]
    cross = skew(w)
    first = np.sinc(angle / np.pi)
    second = 0.5 * np.sinc(angle / (2.0 * np.pi)) ** 2
    result: Floats = np.eye(3) + first * cross + second * (cross @ cross)
    return result


def rotation_between(start: Floats, end: Floats) -> Floats:
    """Rotation matrices ``(..., 3, 3)`` that take unit vectors ``start`` to ``end`` the short way."""
    cross = skew(np.cross(start, end))
    result: Floats = np.eye(3) + cross + cross @ cross / (1.0 + dot(start, end))[..., None, None]
    return result
