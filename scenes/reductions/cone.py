"""Cones: what a beam that is not square to the axis of its base does to the deviations, and whether that can be found.

A cone lifts the beam by cone x radius. A plane through the stations takes up part of it; the rest looks like a dish.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..model.survey import UnknownCone
from ..tracing.geometry import SurveyGeometry
from ..tracing.rows import Rows
from ..tracing.sensitivity import sensitivities
from ..vectors import Floats, Indices
from .ties import centred_design

__all__ = ["EQUAL_RADII", "ConeTerms", "cone_terms", "no_cone", "radius_spread"]

EQUAL_RADII = 1e-3
"""Radii count as equal where what a plane leaves of them is below this share of their mean."""


@dataclass(frozen=True, slots=True, eq=False)
class ConeTerms:
    """Cones to be fitted.

    Attributes
    ----------
    bases : tuple of str
        Bases whose cone is an unknown.
    base_of_row : (m,) int
    conditions : (n, c) float
        What the deviations must be square to: the plane, and the shape of each cone that nothing else determines.
    from_shape : bool
        True where a cone can be found only by taking the surface as free of such a dish.
    shape : (n, B) float
        Height that a cone of 1 rad puts on the stations, beyond a plane, metres.
    """

    bases: tuple[str, ...]
    base_of_row: Indices
    conditions: Floats
    from_shape: bool
    shape: Floats


def no_cone(rows: Rows, places: Floats) -> ConeTerms:
    """Terms for a reduction with the stated cones."""
    return ConeTerms((), np.zeros(len(rows), dtype=np.int64), centred_design(places), False, np.zeros((len(places), 0)))


def radius_spread(radius: Floats, places: Floats) -> float:
    """What a plane over ``places`` (n, 2) leaves of ``radius`` (n,): root mean square, as a share of the mean."""
    left = _beyond(radius[:, None], centred_design(places))[:, 0]
    return float(np.sqrt(np.mean(left**2)) / np.mean(np.abs(radius)))


def _beyond(columns: Floats, design: Floats) -> Floats:
    """What a least-squares fit with ``design`` leaves of each column."""
    q, _ = np.linalg.qr(design)
    result: Floats = columns - q @ (q.T @ columns)
    return result


def cone_terms(geometry: SurveyGeometry, places: Floats, base_names: tuple[str, ...], cone: UnknownCone) -> ConeTerms:
    """Whether and how the cone of each base is solved for.

    Parameters
    ----------
    places : (n, 2) float, metres
    base_names : tuple of str
        Base of each set-up of ``geometry.rows``.

    Raises
    ------
    GeometryError
        Where all radii are equal (seen against a plane), so that a cone only lifts or tilts the whole reading.
    """
    rows = geometry.rows
    if cone is UnknownCone.STATED:
        return no_cone(rows, places)
    bases = tuple(dict.fromkeys(base_names))
    base_of_row = np.array([bases.index(base_names[i]) for i in rows.setup], dtype=np.int64)
    slope = sensitivities(geometry, ("cone",))["cone"]
    design = centred_design(places)
    n = len(rows.stations)
    lift_of_row = np.zeros((len(rows), len(bases)))
    lift_of_row[np.arange(len(rows)), base_of_row] = slope
    count = np.bincount(rows.station, minlength=n)
    shape = np.zeros((n, len(bases)))
    for number in range(len(bases)):
        shape[:, number] = np.bincount(rows.station, lift_of_row[:, number], n) / count
    determined = _rank_with_cones(rows, design, lift_of_row) - _rank_with_cones(rows, design, lift_of_row[:, :0])
    if determined == len(bases):
        return ConeTerms(bases, base_of_row, design, False, _beyond(shape, design))
    left = np.sqrt(np.mean(_beyond(shape, design) ** 2, axis=0)) / np.sqrt(np.mean(shape**2, axis=0))
    if np.any(left < EQUAL_RADII):
        base = bases[int(np.argmin(left))]
        raise GeometryError(
            f"the cone of {base} cannot be found: all stations stand at the same radius from it, or a tilted plane "
            "follows their radii, so a cone only lifts or tilts all readings together; read stations at clearly "
            "different radii or from a second set-up, or take the cone as stated"
        )
    conditions = np.column_stack([design, shape / np.abs(shape).max()])
    return ConeTerms(bases, base_of_row, conditions, True, _beyond(shape, design))


def _rank_with_cones(rows: Rows, design: Floats, lift: Floats) -> int:
    """Rank of the differences between readings of the same stations, in planes of the set-ups and the given columns."""
    m, n, setups = len(rows), len(rows.stations), len(rows.setups)
    columns = np.zeros((m, 3 * setups))
    for column in range(3):
        columns[np.arange(m), 3 * rows.setup + column] = design[rows.station, column]
    table = np.column_stack([columns, lift / (np.abs(lift).max() if lift.size else 1.0)])
    mean = np.zeros((n, table.shape[1]))
    np.add.at(mean, rows.station, table)
    mean /= np.bincount(rows.station, minlength=n)[:, None]
    return int(np.linalg.matrix_rank(table - mean[rows.station], tol=EQUAL_RADII * np.sqrt(m)))
