r"""The pentaprism as real glass: two refracting faces and two mirrors, with their errors.

Frame P of the prism: origin where the nominal axes of the entering and of the leaving beam cross, x along the entering
beam, y along the leaving beam, z = x cross y along the edges; angles count from x toward y. With the side a of the
clear aperture::

               exit
            +----------+             entrance face  x = -a/2, y and z within a/2
            |           \            exit face      y = +a/2, x and z within a/2
   entrance |            \ mirror 1  mirror 1       through (a/sqrt 2, 0), normal at 202.5 deg
            |             \          mirror 2       through (0, -a/sqrt 2), normal at 67.5 deg
            +--__          +         way in glass   a (2 + sqrt 2)
                 --__     /
            mirror 2 --__/
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..vectors import Floats
from .glass_faces import by_component, distance_to_face, leaning, reached, reflected, refracted, times

__all__ = ["PYRAMID_GAIN", "PrismPath", "through_pentaprism"]

SLANT = np.pi / 8.0
"""Angle of incidence of the axis on both mirrors, rad."""

PYRAMID_GAIN = 2.0 * np.cos(SLANT)
"""Turn of the beam out of the x-y plane, in the glass, over the lean of mirror 2; outside times the index."""

_X, _Y, _Z = np.eye(3)
_MIRROR_1 = np.array([np.cos(SLANT), np.sin(SLANT), 0.0])  # outward: the normals above point into the glass
_AT_1, _AT_2 = np.array([np.sqrt(0.5), 0.0, 0.0]), np.array([0.0, -np.sqrt(0.5), 0.0])
_NO_WEDGE = np.zeros(3)


@dataclass(frozen=True, slots=True, eq=False)
class PrismPath:
    """The way of beams through a pentaprism, frame P; nan where the light does not get through.

    Attributes
    ----------
    points : (..., 4, 3) float
        Where it meets entrance face, mirror 1, mirror 2 and exit face, metres.
    direction : (..., 3) float
        Unit direction behind the exit face, in air.
    glass : (...) float
        Length of the way in glass, metres.
    margin : (...) float
        Least distance of the beam's axis from the edges of all four faces, seen along the nominal beam, metres;
        negative where the axis misses a face of the five-sided prism.
    """

    points: Floats
    direction: Floats
    glass: Floats
    margin: Floats


def through_pentaprism(
    origin: Floats,
    direction: Floats,
    aperture: Floats | float,
    index: Floats | float,
    mirror: Floats | float = 0.0,
    pyramid: Floats | float = 0.0,
    entrance_wedge: Floats = _NO_WEDGE,
    exit_wedge: Floats = _NO_WEDGE,
) -> PrismPath:
    """The way of beams through a pentaprism, all in the frame P of the prism.

    To first order, errors of the prism turn the beam that leaves it by ``2 n mirror`` from y toward x, by
    ``PYRAMID_GAIN n pyramid`` from y toward z, by ``(n - 1) (-entrance_wedge_y, 0, entrance_wedge_z)`` and by
    ``-(n - 1) exit_wedge``.

    Parameters
    ----------
    origin, direction : (..., 3) float
        Any point of the straight beam in air, metres, and its unit direction.
    aperture : (...) float
        Side of the entrance and the exit face, metres.
    index : (...) float
        Refractive index of the glass over that of the air.
    mirror : (...) float
        Error of the angle between the mirrors, rad: mirror 2 turned about its middle, clockwise about z.
    pyramid : (...) float
        Lean of mirror 2 out of the principal section, rad: its normal into the glass turned toward +z.
    entrance_wedge, exit_wedge : (..., 3) float
        Small vectors in the faces: their normals are ``unit(x + entrance_wedge)`` and ``unit(y + exit_wedge)``.

    Returns
    -------
    PrismPath
        With leading axes as broadcast.
    """
    side, index = np.asarray(aperture), np.asarray(index)
    origin, direction = by_component(origin), by_component(direction)
    entrance, leaving = leaning(_X, by_component(entrance_wedge)), leaning(_Y, by_component(exit_wedge))
    mirror_2 = _normal_of_mirror_2(np.asarray(mirror), np.asarray(pyramid))

    entered = reached(origin, direction, distance_to_face(origin, direction, times(-0.5 * side, _X), entrance))
    first = refracted(direction, entrance, 1.0 / index)
    way_1 = _ahead(distance_to_face(entered, first, times(side, _AT_1), _MIRROR_1))
    hit_1 = reached(entered, first, way_1)
    second = reflected(first, _MIRROR_1)
    way_2 = _ahead(distance_to_face(hit_1, second, times(side, _AT_2), mirror_2))
    hit_2 = reached(hit_1, second, way_2)
    third = reflected(second, mirror_2)
    way_3 = _ahead(distance_to_face(hit_2, third, times(0.5 * side, _Y), leaving))
    left = reached(hit_2, third, way_3)
    onward = refracted(third, leaving, index)

    lost = np.isnan(onward[..., 0] + left[..., 0])
    hits = [np.where(lost[..., None], np.nan, hit) for hit in (entered, hit_1, hit_2, left)]
    points = np.moveaxis(np.stack([np.moveaxis(hit, -1, 0) for hit in hits]), (0, 1), (-2, -1))
    return PrismPath(
        points,
        np.where(lost[..., None], np.nan, onward),
        np.where(lost, np.nan, way_1 + way_2 + way_3),
        _margin(hits[0], hits[3], side),
    )


def _normal_of_mirror_2(mirror: Floats, pyramid: Floats) -> Floats:
    """Outward normals ``(..., 3)`` of mirror 2: a lean of the inward one toward +z is one of these toward -z."""
    angle = 3.0 * SLANT - mirror - np.pi
    flat = np.cos(pyramid)
    parts = np.broadcast_arrays(flat * np.cos(angle), flat * np.sin(angle), -np.sin(pyramid))
    return np.moveaxis(np.stack(parts), 0, -1)


def _ahead(way: Floats) -> Floats:
    """Ways that lead on; nan where the next face lies behind."""
    return np.where(way > 0.0, way, np.nan)


def _margin(entered: Floats, left: Floats, side: Floats) -> Floats:
    """Least distance ``(...)`` of the beam's axis from the edges, as seen along the nominal beam, metres.

    Unfolded at its mirrors, the prism is a straight tunnel: a beam that is inside at both ends is inside all the way,
    and both mirrors of the five-sided shape just fill the tunnel. So the mirrors never cut a beam first.
    """
    off = np.maximum(np.abs(entered[..., 1]), np.abs(left[..., 0]))
    result: Floats = 0.5 * side - np.maximum(off, np.maximum(np.abs(entered[..., 2]), np.abs(left[..., 2])))
    return result
