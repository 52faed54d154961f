"""Plane plates that a beam passes: the window of a see-through target, with the wedge between its faces."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats, dot
from .glass_faces import by_component, distance_to_face, leaning, reached, refracted, times

__all__ = ["through_plate"]


def through_plate(
    origin: Floats,
    direction: Floats,
    point: Floats,
    normal: Floats,
    thickness: Floats | float,
    index: Floats | float,
    wedge: Floats,
) -> tuple[Floats, Floats, Floats]:
    """Where beams leave a plate, their directions there, and their ways in the glass.

    A parallel plate keeps the direction. It displaces a beam that meets it at the angle th to ``normal`` by
    ``t sin th (1 - cos th / sqrt(n^2 - sin^2 th))``, square to the beam, toward ``normal - cos th direction``: the beam
    leaves nearer to the normal through the point at which it came in. A small wedge w turns a beam near the normal by
    ``-(n - 1) w``, toward the thick side.

    Parameters
    ----------
    origin, direction : (..., 3) float
        Any point of the beam before the plate, and its unit direction in air.
    point, normal : (..., 3) float
        A point of the front face, and its unit normal; it points the way in which the light goes.
    thickness : (...) float
        From ``point`` along ``normal`` to the back face, metres. Where it is 0 and so is ``wedge``, there is no plate:
        origin and direction come back as they are.
    index : (...) float
        Refractive index of the glass over that of the air.
    wedge : (..., 3) float
        Small vector in the front face: the normal of the back face is ``unit(normal + wedge)``, so that the plate is
        thinner by ``u . wedge`` at the distance ``u`` from ``point``.

    Returns
    -------
    exit_point, exit_direction : (..., 3) float
        In air, behind the back face; nan where the light does not get through (from behind, total reflection).
    glass : (...) float
        Length of the way in glass, metres.

    Notes
    -----
    The faces have no edges here. Source of the offset: any text on geometrical optics.
    """
    thickness, index = np.asarray(thickness), np.asarray(index)
    origin, direction, point, normal, wedge = map(by_component, (origin, direction, point, normal, wedge))
    back = leaning(normal, wedge)
    entered = reached(origin, direction, distance_to_face(origin, direction, point, normal))
    inside = refracted(direction, normal, 1.0 / index)
    glass = distance_to_face(entered, inside, point + times(thickness, normal), back)
    left = reached(entered, inside, glass)
    onward = refracted(inside, back, index)
    lost = np.isnan(onward[..., 0] + left[..., 0])
    bare = (thickness == 0.0) & (dot(wedge, wedge) == 0.0)
    return (
        np.where(bare[..., None], origin, np.where(lost[..., None], np.nan, left)),
        np.where(bare[..., None], direction, np.where(lost[..., None], np.nan, onward)),
        np.where(bare, 0.0, np.where(lost, np.nan, glass)),
    )
