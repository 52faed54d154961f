"""A body held at its feet: rise of the stations and loads of the feet, from a stiffness and a load vector."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse import bmat, csc_matrix
from scipy.sparse.linalg import splu

from ..errors import GeometryError
from ..vectors import Floats
from .influence import Influence, plane_basis

__all__ = ["bed_weight", "elastic_influence", "held_at_feet", "require_sizes", "require_under_bed"]

STANDARD_GRAVITY = 9.80665  # m/s2; Source: CGPM 1901, conventional value
EDGE = 1e-9  # a place this share of the length outside the edge is rounding, not a mistake


def require_sizes(*sizes: float) -> None:
    """Raise ``GeometryError`` where a size or a material value is not a positive number."""
    if not all(np.isfinite(sizes)) or min(sizes) <= 0.0:
        raise GeometryError("Length, width, thickness, Young's modulus and density must all be greater than zero.")


def require_under_bed(places: Floats, what: str, length: float, width: float) -> None:
    """Raise ``GeometryError`` naming the first place outside the bed."""
    outside = np.flatnonzero((np.abs(places) > np.array([length, width]) / 2.0 + EDGE * length).any(axis=1))
    if outside.size:
        k = int(outside[0])
        raise GeometryError(
            f"{what} {k + 1} at x = {places[k, 0]:g} m, y = {places[k, 1]:g} m is not under the bed of "
            f"{length:g} m x {width:g} m; places count from the centre of the bed."
        )


def bed_weight(weight: float | None, density: float, volume: float) -> float:
    """Weight as given, or that of a solid body of this volume, newton."""
    return density * volume * STANDARD_GRAVITY if weight is None else weight


def elastic_influence(
    feet: Floats,
    stations: Floats,
    held: tuple[Floats, Floats, Floats],
    stiffness: float,
    weight: float,
    kind: str,
    note: str,
    *,
    row: bool = False,
) -> Influence:
    """Influence in SI units; the part that planes play in it is put in exactly, where the solver has it to rounding."""
    raw, own, change = held
    tilts = slice(0, 2) if row else slice(0, 3)
    at_feet, at_stations = plane_basis(feet)[:, tilts], plane_basis(stations)[:, tilts]
    plane_from_lifts = np.linalg.pinv(at_feet)
    bent = np.eye(len(feet)) - at_feet @ plane_from_lifts
    change = bent.T @ change @ bent
    return Influence(
        at_stations @ plane_from_lifts + raw @ bent, own * weight, stiffness * (change + change.T) / 2.0, kind, note
    )


def held_at_feet(
    stiffness: Any, load: Floats, feet: Any, stations: Any, pinned: Any = None
) -> tuple[Floats, Floats, Floats]:
    """Rise of the stations, own loads and change of loads of a body held at its feet by Lagrange multipliers."""
    m = feet.shape[0]
    if pinned is not None:
        kept = np.setdiff1d(np.arange(stiffness.shape[0]), pinned)
        stiffness, load = csc_matrix(stiffness)[kept][:, kept], load[kept]
        feet, stations = csc_matrix(feet)[:, kept], csc_matrix(stations)[:, kept]
    n = stiffness.shape[0]
    solver = splu(csc_matrix(bmat([[stiffness, -feet.T], [-feet, None]])))
    right = np.zeros((n + m, m + 1))
    right[n:, :m] = -np.eye(m)
    right[:n, m] = -load
    answer = solver.solve(right)
    return stations @ answer[:n, :m], answer[n:, m], answer[n:, :m]
