"""Form values: flatness of a surface and straightness of a profile, with what holds each value.

All distances are orthogonal to the reference; + = high. The value is the distance from the highest to the lowest
point. Every result carries its gradient, so that uncertainty can be propagated without a second computation.

Source for the terms: ISO 12780-1 (straightness), ISO 12781-1 (flatness).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from scenes.errors import GeometryError
from scenes.reductions.fitted_references import (
    FittedReference,
    end_points,
    least_squares,
    leverages,
    line_through,
    plane_through,
)
from scenes.reductions.form_of_trials import form_of_trials
from scenes.reductions.minimum_zone import minimum_zone
from scenes.reductions.reference import OF_POINTS, Reference
from scenes.reductions.spans import UPRIGHT, FloatArray, checked_points, upward

__all__ = [
    "FormResult",
    "Reference",
    "flatness",
    "flatness_of_trials",
    "leverages",
    "straightness",
    "straightness_of_trials",
]


@dataclass(frozen=True, slots=True, eq=False)
class FormResult:
    """A form value and what holds it. Lengths are in the unit of the points (inside datumray: metres).

    Attributes
    ----------
    quantity : str
        "flatness" or "straightness".
    reference : Reference
    value : float
        Distance from the highest to the lowest point, orthogonal to the reference.
    deviations : (n,) float
        Signed distances from the reference, + = high; for the minimum zone from the middle of the zone.
    normal : (3,) or (2,) float
        Unit normal of the reference, + = high: +z, or for an upright face the larger horizontal component.
    offset : float
        The reference holds all places with ``normal @ place == offset``.
    high, low : (k,) int
        Points that touch the zone from inside on either side; for a fitted reference its highest and lowest point.
    high_weights, low_weights : (k,) float
        Convex weights of these points. For the minimum zone both weighted means are the same place of the reference,
        which proves the zone.
    datum : (m,) int
        Points that the reference goes through (three points, end points).
    gradient : (n,) float
        d value / dz of every point.
    criterion : str
        Contacts on the high and low side of a minimum zone, such as "3-1"; empty otherwise.
    """

    quantity: str
    reference: Reference
    value: float
    deviations: FloatArray
    normal: FloatArray
    offset: float
    high: npt.NDArray[np.intp]
    low: npt.NDArray[np.intp]
    high_weights: FloatArray
    low_weights: FloatArray
    datum: npt.NDArray[np.intp]
    gradient: FloatArray
    criterion: str = ""

    def __post_init__(self) -> None:
        for field in fields(self):
            part = getattr(self, field.name)
            if isinstance(part, np.ndarray):
                part.flags.writeable = False

    @property
    def coefficients(self) -> FloatArray:
        """(a, b, c) of the plane z = a + b x + c y, or (a, b) of the line z = a + b x.

        Raises
        ------
        GeometryError
            For an upright face, where z is no function of the position.
        """
        if abs(self.normal[-1]) < UPRIGHT:
            raise GeometryError("The reference stands upright, so z is no function of the position; use the normal.")
        return np.asarray(np.append(self.offset, -self.normal[:-1]) / self.normal[-1])


def flatness(
    points: npt.ArrayLike,
    reference: Reference = Reference.MINIMUM_ZONE,
    *,
    datum: npt.ArrayLike | None = None,
    weights: npt.ArrayLike | None = None,
) -> FormResult:
    """Return the flatness of points (n, 3).

    Parameters
    ----------
    points : (n, 3) float
        x, y, z; z is the height. Faces of any attitude are measured across themselves.
    reference : Reference
        Minimum zone, least squares or three points.
    datum : (3,) int, optional
        Indices of the three points; by default those of the largest triangle.
    weights : (n,) float, optional
        Least squares only: one over the variance of each point, up to a common factor.

    Raises
    ------
    GeometryError
        When the points span no plane, a coordinate is not finite, or the reference does not make a plane.

    Examples
    --------
    >>> corners = [[0, 0, 0.0], [1, 0, 0.0], [1, 1, 0.0], [0, 1, 0.0], [0.5, 0.5, 20e-6]]
    >>> result = flatness(corners, Reference.LEAST_SQUARES)
    >>> f"{1e6 * result.value:.1f} um"
    '20.0 um'
    """
    rows = checked_points(points, 3)
    reference = Reference(reference)
    refuse_idle(reference, datum, weights, Reference.THREE_POINTS)
    if reference is Reference.MINIMUM_ZONE:
        return from_zone("flatness", rows)
    if reference is Reference.LEAST_SQUARES:
        fit = least_squares(rows, None if weights is None else np.asarray(weights, dtype=np.float64))
    elif reference is Reference.THREE_POINTS:
        fit = plane_through(rows, datum)
    else:
        raise not_of_points(reference, "plane", "for flatness choose minimum zone, least squares or three points")
    return from_fit("flatness", reference, rows, fit)


def straightness(
    points: npt.ArrayLike,
    reference: Reference = Reference.MINIMUM_ZONE,
    *,
    datum: npt.ArrayLike | None = None,
    weights: npt.ArrayLike | None = None,
) -> FormResult:
    """Return the straightness of a profile (n, 2).

    Parameters
    ----------
    points : (n, 2) float
        Position along the line and height (or sideways deviation) across it.
    reference : Reference
        Minimum zone, least squares or end points.
    datum : (2,) int, optional
        Indices of the two points that stand in for the end points.
    weights : (n,) float, optional
        Least squares only: one over the variance of each point, up to a common factor.

    Raises
    ------
    GeometryError
        When all positions are the same, a coordinate is not finite, or the reference does not make a line.

    Examples
    --------
    >>> result = straightness([[0, 0.0], [1, 30e-6], [2, 0.0]], Reference.END_POINTS)
    >>> f"{1e6 * result.value:.1f} um"
    '30.0 um'
    """
    rows = checked_points(points, 2)
    reference = Reference(reference)
    refuse_idle(reference, datum, weights, Reference.END_POINTS)
    if reference is Reference.MINIMUM_ZONE:
        return from_zone("straightness", rows)
    if reference is Reference.LEAST_SQUARES:
        fit = least_squares(rows, None if weights is None else np.asarray(weights, dtype=np.float64))
    elif reference is Reference.END_POINTS:
        fit = end_points(rows) if datum is None else line_through(rows, datum)
    else:
        raise not_of_points(reference, "line", "for straightness choose minimum zone, least squares or end points")
    return from_fit("straightness", reference, rows, fit)


def not_of_points(reference: Reference, wanted: str, advice: str) -> GeometryError:
    """Return the error for a reference that does not make the line or plane that is wanted of points."""
    if reference in OF_POINTS:
        points, other = ("Three points", "plane") if wanted == "line" else ("End points", "line")
        return GeometryError(f"{points} tell a {other} and not a {wanted}: {advice}.")
    return GeometryError(f"Points by themselves tell no {reference}: {advice}.")


def refuse_idle(
    reference: Reference, datum: npt.ArrayLike | None, weights: npt.ArrayLike | None, through: Reference
) -> None:
    """Raise when a datum or weights are given that the reference would not use."""
    if datum is not None and reference is not through:
        raise GeometryError(f"A reference of {reference} takes no datum points; choose {through} to go through them.")
    if weights is not None and reference is not Reference.LEAST_SQUARES:
        raise GeometryError(f"A reference of {reference} takes no weights; only least squares does.")


def from_fit(quantity: str, reference: Reference, points: FloatArray, fit: FittedReference) -> FormResult:
    """Return the form value over a fitted reference."""
    deviations = points @ fit.normal - fit.offset
    high, low = int(deviations.argmax()), int(deviations.argmin())
    return FormResult(
        quantity,
        reference,
        float(deviations[high] - deviations[low]),
        deviations,
        fit.normal,
        fit.offset,
        np.array([high]),
        np.array([low]),
        np.ones(1),
        np.ones(1),
        fit.datum,
        fit.gradient(high, low),
    )


def from_zone(quantity: str, points: FloatArray) -> FormResult:
    """Return the form value of the minimum zone."""
    zone = minimum_zone(points)
    normal, offset, deviations = zone.normal, zone.offset, zone.deviations
    sides = [(zone.high, zone.high_weights), (zone.low, zone.low_weights)]
    if upward(normal) is not normal:
        normal, offset = -normal, -offset
        np.negative(deviations, out=deviations)
        sides.reverse()
    (high, high_weights), (low, low_weights) = sides
    gradient = np.zeros(len(points))
    np.add.at(gradient, high, high_weights * normal[-1])
    np.add.at(gradient, low, -low_weights * normal[-1])
    return FormResult(
        quantity,
        Reference.MINIMUM_ZONE,
        zone.width,
        deviations,
        normal,
        offset,
        high,
        low,
        high_weights,
        low_weights,
        np.empty(0, dtype=np.intp),
        gradient,
        f"{high.size}-{low.size}",
    )


def flatness_of_trials(
    xy: npt.ArrayLike,
    z: npt.ArrayLike,
    reference: Reference = Reference.MINIMUM_ZONE,
    *,
    datum: npt.ArrayLike | None = None,
) -> FloatArray:
    """Return the flatness (t,) of each of t trials over the same stations.

    Parameters
    ----------
    xy : (n, 2) float
        Stations.
    z : (n, t) float
        Heights, one row per station, one column per trial.
    reference : Reference
        Minimum zone, least squares or three points.
    datum : (3,) int, optional
        Stations of the three points; by default those of the largest triangle.

    Raises
    ------
    GeometryError
        As ``flatness``.
    """
    reference = Reference(reference)
    refuse_idle(reference, datum, None, Reference.THREE_POINTS)
    if reference not in OF_POINTS or reference is Reference.END_POINTS:
        raise not_of_points(reference, "plane", "choose another reference for flatness")
    return form_of_trials(np.array(xy, dtype=np.float64), np.asarray(z, dtype=np.float64), reference, datum)


def straightness_of_trials(
    positions: npt.ArrayLike,
    heights: npt.ArrayLike,
    reference: Reference = Reference.MINIMUM_ZONE,
    *,
    datum: npt.ArrayLike | None = None,
) -> FloatArray:
    """Return the straightness (t,) of each of t trials over the same stations.

    Parameters
    ----------
    positions : (n,) float
    heights : (n, t) float
        One row per station, one column per trial.
    reference : Reference
        Minimum zone, least squares or end points.
    datum : (2,) int, optional
        Stations that stand in for the end points.

    Raises
    ------
    GeometryError
        As ``straightness``.
    """
    reference = Reference(reference)
    refuse_idle(reference, datum, None, Reference.END_POINTS)
    if reference not in OF_POINTS or reference is Reference.THREE_POINTS:
        raise not_of_points(reference, "line", "choose another reference for straightness")
    stations = np.array(positions, dtype=np.float64).reshape(-1, 1)
    return form_of_trials(stations, np.asarray(heights, dtype=np.float64), reference, datum)
