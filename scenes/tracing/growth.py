"""Thermal growth: how a machine surface departs from its shape at the reference temperature.

Deviations count along the normal of the measured side, + = high, relative to the drawn shape at 20 degC. A part that is
warmer on its measured side than on the opposite one is longer there and crowns: its ends lie lower than its middle.

Every result broadcasts: places are rows ``(..., n, 2 or 3)`` in the frame of the surface, and the other values may be
single, one per place ``(n,)`` or one per trial ``(trials, 1)``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..vectors import Floats

__all__ = ["REFERENCE_TEMPERATURE", "bow", "column_growth", "plate_growth", "rail_growth", "relative_growth"]

REFERENCE_TEMPERATURE = 293.15
"""Temperature at which a size counts: 20 degC. Source: ISO 1 (from memory)."""


def relative_growth(expansion: ArrayLike, temperature: ArrayLike) -> Floats:
    """Share ``(...)`` by which every length of a part is longer than at the reference temperature.

    Times a distance within a surface, a height of a column, or a radius it is the growth of these in metres.

    Parameters
    ----------
    expansion : (...) float
        Linear thermal expansion, 1/K.
    temperature : (...) float
        Mean temperature of the part, K.

    Examples
    --------
    A metre of steel that is 1 K too warm, in micrometres:

    >>> round(float(relative_growth(11.5e-6, 294.15)) * 1e6, 3)
    11.5
    """
    return np.asarray(expansion, dtype=np.float64) * (np.asarray(temperature, dtype=np.float64) - REFERENCE_TEMPERATURE)


def bow(distance: ArrayLike, thickness: ArrayLike, expansion: ArrayLike, across: ArrayLike) -> Floats:
    """Deviation ``(...)`` [m] at a ``distance`` [m] from the place where a bowed part keeps its place and its slope.

    Parameters
    ----------
    distance : (...) float
        Along the measured side, metres.
    thickness : (...) float
        From the measured side to the opposite one, metres.
    expansion : (...) float
        1/K.
    across : (...) float
        How much warmer the measured side is than the opposite one, K.

    Raises
    ------
    GeometryError
        Where the part has no thickness.

    Notes
    -----
    The temperature is taken as changing evenly over the thickness. A part that nothing holds then stays free of stress
    and bows with the curvature expansion * across / thickness in every direction along it, whatever its outline;
    feet, bolts and its own weight hold it back, so that this is the most that it does.
    Source: B. A. Boley and J. H. Weiner, Theory of Thermal Stresses, chapter 9 (from memory).
    """
    thick = np.asarray(thickness, dtype=np.float64)
    if not np.all(thick > 0.0):
        raise GeometryError("A part without thickness has no two sides that could differ in temperature.")
    result: Floats = -0.5 * np.square(distance) * np.asarray(expansion) * np.asarray(across) / thick
    return result


def plate_growth(
    at: ArrayLike, thickness: ArrayLike, expansion: ArrayLike, temperature: ArrayLike, across: ArrayLike = 0.0
) -> Floats:
    """Deviation ``(..., n)`` [m] of the measured side of a plate, ring or disc that stands on its opposite side.

    Parameters
    ----------
    at : (..., n, 2 or 3) float
        Places in the frame of the plate, x and y from its middle, metres.
    thickness, expansion, temperature, across : (...) float
        As in `bow` and `relative_growth`.

    Notes
    -----
    The side rises by the growth of the thickness and bows about the middle, which keeps its height.

    Examples
    --------
    A plate of cast iron 3 m x 0.3 m, 2 K warmer on top; its ends against its middle, in micrometres:

    >>> plate_growth([[0.0, 0.0], [1.5, 0.0]], 0.3, 10.8e-6, 293.15, 2.0).round(7) * 1e6
    array([  0., -81.])
    """
    places = _places(at)
    rise = relative_growth(expansion, temperature) * np.asarray(thickness, dtype=np.float64)
    result: Floats = rise + bow(np.hypot(places[..., 0], places[..., 1]), thickness, expansion, across)
    return result


def rail_growth(
    at: ArrayLike,
    length: ArrayLike,
    height: ArrayLike,
    expansion: ArrayLike,
    temperature: ArrayLike,
    across: ArrayLike = 0.0,
) -> Floats:
    """Deviation ``(..., n)`` [m] of the top of a rail or a long bed that stands on its underside.

    Parameters
    ----------
    at : (..., n, 2 or 3) float
        Places in the frame of the rail, x along it from its start, metres.
    length, height : (...) float
        Metres. The middle of the length keeps its height.
    expansion, temperature, across : (...) float
        As in `bow` and `relative_growth`.

    Notes
    -----
    Over the width the same curvature acts; on a rail it is left out (0.1 um over 0.1 m).
    """
    tall = np.asarray(height, dtype=np.float64)
    from_middle = _places(at)[..., 0] - 0.5 * np.asarray(length, dtype=np.float64)
    result: Floats = relative_growth(expansion, temperature) * tall + bow(from_middle, tall, expansion, across)
    return result


def column_growth(
    at: ArrayLike, depth: ArrayLike, expansion: ArrayLike, temperature: ArrayLike, across: ArrayLike = 0.0
) -> Floats:
    """Deviation ``(..., n)`` [m] of an upright side of a column that is held at its foot.

    Parameters
    ----------
    at : (..., n, 3) float
        Places in the frame of the column, z up from its foot, metres.
    depth : (...) float
        From the measured side to the opposite one, metres.
    expansion, temperature, across : (...) float
        As in `bow` and `relative_growth`.

    Notes
    -----
    The side moves out by the growth of half the depth, the axis keeping its place, and bows about the foot: a column
    leans away from its warm side. Its height grows by `relative_growth` times the height.
    """
    places = _places(at)
    if places.shape[-1] != 3:
        raise ValueError("places on the side of a column have a height: three coordinates")
    out = relative_growth(expansion, temperature) * 0.5 * np.asarray(depth, dtype=np.float64)
    result: Floats = out + bow(places[..., 2], depth, expansion, across)
    return result


def _places(at: ArrayLike) -> Floats:
    places = np.asarray(at, dtype=np.float64)
    if places.ndim < 2 or places.shape[-1] not in (2, 3):
        raise ValueError(f"places are rows of two or three coordinates, not of the shape {places.shape}")
    return places
