"""How the stations of a bed rise when one of its feet is lifted and the other feet are held."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..vectors import Floats, frozen

__all__ = ["Influence", "measured_influence", "plane_basis", "rigid_influence"]

MOST_FEET = 12
FLAT = 1e-6  # feet or stations are on one line when their spread across it is smaller than this share of that along it


@dataclass(frozen=True, slots=True, eq=False)
class Influence:
    """Rise of ``n`` stations and change of ``m`` foot loads for a unit lift of each foot, the other feet held.

    Attributes
    ----------
    matrix : (n, m) float
        Rise of a station per lift of a foot, metre per metre.
    own_loads : (m,) float or None
        Load on each foot before anything is moved, newton; None: not known.
    load_change : (m, m) float or None
        Change of each foot load (row) per lift of a foot (column), newton per metre; None: not known.
    kind : str
        ``plate``, ``beam``, ``rigid`` or ``measured``.
    note : str
        What the model leaves out, in plain words.
    sideways : bool
        The feet move sideways: that takes no load off any of them.
    """

    matrix: Floats
    own_loads: Floats | None
    load_change: Floats | None
    kind: str
    note: str = ""
    sideways: bool = False

    def __post_init__(self) -> None:
        """Freeze the arrays and check that they belong together."""
        matrix = frozen(self.matrix, (-1, -1))
        n, m = matrix.shape
        if n == 0 or m == 0:
            raise GeometryError("An influence needs at least one station and one foot.")
        if m > MOST_FEET:
            raise GeometryError(f"{m} feet are more than the {MOST_FEET} that the correction is built for.")
        object.__setattr__(self, "matrix", matrix)
        if self.own_loads is not None:
            object.__setattr__(self, "own_loads", frozen(self.own_loads, (m,)))
        if self.load_change is not None:
            object.__setattr__(self, "load_change", frozen(self.load_change, (m, m)))


def plane_basis(places: Floats) -> Floats:
    """Values of 1, x and y at ``places``, ``(n, 3)``."""
    return np.column_stack([np.ones(len(places)), places])


def checked_places(places: ArrayLike, what: str, fewest: int) -> Floats:
    """``places`` as a read-only ``(n, 2)`` array of at least ``fewest`` rows; raises ``GeometryError``."""
    array = np.asarray(places, dtype=np.float64)
    if array.size == 0:
        raise GeometryError(f"There are no {what}, so there is nothing to correct.")
    array = frozen(array, (-1, 2))
    if len(array) < fewest:
        raise GeometryError(
            f"{len(array)} {what} are too few: {fewest} are needed, because fewer do not hold the bed in height "
            "and tilt."
        )
    return array


def require_spread(feet: Floats) -> None:
    """Raise ``GeometryError`` where the feet coincide or lie on one line."""
    apart = np.linalg.norm(feet[:, None] - feet[None], axis=2)[np.triu_indices(len(feet), 1)]
    if apart.min() <= FLAT * apart.max():
        raise GeometryError("Two feet stand at the same place; a lift of one with the other held has no meaning.")
    spread = np.linalg.svd(feet - feet.mean(axis=0), compute_uv=False)
    if spread[-1] <= FLAT * spread[0]:
        raise GeometryError(
            "The feet stand on one line: the bed could roll about that line, so its tilt across the line is not "
            "held by any foot. Add a foot beside the line, or use the beam influence for a straight line of stations."
        )


def rigid_influence(
    feet_xy: ArrayLike,
    stations_xy: ArrayLike,
    *,
    weight: float | None = None,
    centre_of_gravity: tuple[float, float] = (0.0, 0.0),
) -> Influence:
    """Influence of three feet, exactly: three feet only move and tilt the bed and never bend it.

    Parameters
    ----------
    feet_xy : (3, 2) float
        Places of the feet, metres.
    stations_xy : (n, 2) float
        Places of the stations in the same frame, metres.
    weight : float, optional
        Weight of the bed, newton. Without it the loads on the feet stay unknown.
    centre_of_gravity : tuple of float
        Where the weight acts, metres.

    Raises
    ------
    GeometryError
        Not three feet, feet on one line, or no stations.

    Examples
    --------
    >>> rigid_influence([[0, 0], [2, 0], [0, 1]], [[1, 0]]).matrix.tolist()
    [[0.5, 0.5, 0.0]]
    """
    feet = checked_places(feet_xy, "feet", 3)
    stations = checked_places(stations_xy, "stations", 1)
    if len(feet) != 3:
        raise GeometryError(
            f"A rigid bed stands on three feet, not on {len(feet)}: with more, its shape depends on how it bends."
        )
    require_spread(feet)
    plane_from_feet = np.linalg.inv(plane_basis(feet))
    matrix = plane_basis(stations) @ plane_from_feet
    loads = None if weight is None else weight * (plane_basis(np.array([centre_of_gravity])) @ plane_from_feet)[0]
    return Influence(matrix, loads, np.zeros((3, 3)), "rigid", "Three feet tilt the bed and do not bend it: exact.")


def measured_influence(
    matrix: ArrayLike, *, own_loads: ArrayLike | None = None, load_change: ArrayLike | None = None
) -> Influence:
    """Influence found by lifting one foot at a time on the real bed and reading all stations: the best there is.

    Parameters
    ----------
    matrix : (n, m) float
        Rise of each station per lift of each foot, metre per metre.
    own_loads : (m,) float, optional
        Loads on the feet as found, newton, for example by jacks.
    load_change : (m, m) float, optional
        Change of each load (row) per lift of each foot (column), newton per metre.
    """
    return Influence(
        np.asarray(matrix, dtype=np.float64),
        None if own_loads is None else np.asarray(own_loads, dtype=np.float64),
        None if load_change is None else np.asarray(load_change, dtype=np.float64),
        "measured",
        "Measured on the bed itself: ribs, bolts and foundation are in it, and so is the noise of the readings.",
    )
