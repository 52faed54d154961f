"""Plane faces of glass: where a beam meets them, and how they refract and reflect it.

Vectors are ``(..., 3)`` as everywhere. They are fastest when memory holds them component by component: numpy's inner
loops then run over the rays and not over three numbers. ``by_component`` brings them there, ``times`` keeps them there.
"""

from __future__ import annotations

import numpy as np

from ..vectors import Floats, dot, length

__all__ = ["by_component", "distance_to_face", "leaning", "reached", "reflected", "refracted", "times"]


def by_component(vectors: Floats) -> Floats:
    """The same vectors ``(..., 3)``, each component contiguous in memory."""
    last = vectors.ndim - 1
    components = np.ascontiguousarray(vectors.transpose(last, *range(last)))
    return components.transpose(*range(1, last + 1), 0)


def times(amount: Floats, vectors: Floats) -> Floats:
    """Vectors ``(..., 3)`` multiplied by numbers ``(...)``, by component in memory."""
    product = np.empty((3, *np.broadcast(amount, vectors[..., 0]).shape))
    for k in range(3):
        np.multiply(amount, vectors[..., k], out=product[k, ...])
    return product.transpose(*range(1, product.ndim), 0)


def reached(origin: Floats, direction: Floats, way: Floats) -> Floats:
    """Points ``(..., 3)`` at a way ``(...)`` [m] along straight beams."""
    result: Floats = origin + times(way, direction)
    return result


def refracted(direction: Floats, normal: Floats, index_ratio: Floats | float) -> Floats:
    """Directions of beams behind a plane face; nan where the light is totally reflected.

    Parameters
    ----------
    direction, normal : (..., 3) float
        Unit vectors; the sense of the normal does not matter.
    index_ratio : (...) float
        Refractive index before the face over that behind it.

    Returns
    -------
    (..., 3) float
        Unit vectors; the part along the face is ``index_ratio`` times that of ``direction``.

    Notes
    -----
    Source: Snell's law in vector form, any text on geometrical optics.
    """
    across = dot(direction, normal)
    along = times(np.asarray(index_ratio), direction - times(across, normal))
    left = 1.0 - dot(along, along)
    behind = np.sqrt(np.where(left >= 0.0, left, np.nan))
    result: Floats = along + times(np.copysign(behind, across), normal)
    return result


def reflected(direction: Floats, normal: Floats) -> Floats:
    """Directions ``(..., 3)`` of beams after a plane mirror; all are unit vectors, the sense of the normal is free."""
    result: Floats = direction - times(2.0 * dot(direction, normal), normal)
    return result


def distance_to_face(origin: Floats, direction: Floats, point: Floats, normal: Floats) -> Floats:
    """Way along straight beams to a plane face, metres; nan unless the beam goes the way in which the normal points.

    Parameters
    ----------
    origin, direction : (..., 3) float
        Any point of the beam and its unit direction.
    point, normal : (..., 3) float
        A point of the face and its normal.

    Returns
    -------
    (...) float
        Negative where the face lies behind the origin.
    """
    across = dot(direction, normal)
    result: Floats = dot(point - origin, normal) / np.where(across > 0.0, across, np.nan)
    return result


def leaning(normal: Floats, wedge: Floats) -> Floats:
    """Unit normals ``(..., 3)`` of faces that lean by ``wedge``, a small vector in the face (tangent of the angle)."""
    tilted: Floats = normal + wedge
    return times(1.0 / length(tilted), tilted)
