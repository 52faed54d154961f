"""Influence of the feet of a long narrow bed that bends and twists like a beam."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import csc_matrix

from ..errors import GeometryError
from ..vectors import Floats
from .elastic import bed_weight, elastic_influence, held_at_feet, require_sizes, require_under_bed
from .influence import Influence, checked_places, require_spread

__all__ = ["beam_influence", "torsion_constant"]


def beam_influence(
    feet_xy: ArrayLike,
    stations_xy: ArrayLike,
    length: float,
    width: float,
    thickness: float,
    youngs_modulus: float,
    poisson: float,
    density: float,
    *,
    effective_thickness: float | None = None,
    weight: float | None = None,
) -> Influence:
    """Influence and foot loads of a long narrow bed, taken as a beam along x whose cross-sections stay straight.

    The beam bends along its length and twists (even torsion of a solid rectangle). Feet in one row under the middle
    (all at the same y) are allowed: the bed then does not twist, and only straightness along x can be corrected.
    Parameters, frame and errors are those of `plate_influence`; the same warnings about ribs apply.

    Notes
    -----
    Source: J. Bernoulli and L. Euler's beam; torsion constant of a rectangle as in W. C. Young, Roark's Formulas for
    Stress and Strain (from memory; it agrees with Saint-Venant's series within 0.5 %).
    """
    feet = checked_places(feet_xy, "feet", 2)
    stations = checked_places(stations_xy, "stations", 1)
    require_sizes(length, width, thickness, youngs_modulus, density)
    require_under_bed(feet, "Foot", length, width)
    require_under_bed(stations, "Station", length, width)
    row = bool(np.ptp(feet[:, 1]) <= 1e-6 * length)
    if np.ptp(feet[:, 0]) <= 1e-6 * length:
        raise GeometryError("The feet stand on one line across the beam: its slope along x is not held.")
    if not row:
        require_spread(feet)
        if len(feet) < 3:
            raise GeometryError("Two feet that are not in one row along x leave the tilt across the beam free.")
    bending = thickness if effective_thickness is None else effective_thickness
    modulus_of_shear = youngs_modulus / (2.0 * (1.0 + poisson))
    bend = youngs_modulus * width * bending**3 / 12.0
    twist = modulus_of_shear * torsion_constant(width, bending)
    nodes = np.unique(np.concatenate([feet[:, 0] / length, [-0.5, 0.5]]).round(12))
    stiffness, load = _beam_system(nodes, twist / bend)
    held = held_at_feet(
        stiffness,
        load,
        _beam_rows(nodes, feet / length, row),
        _beam_rows(nodes, stations / length, row),
        pinned=np.arange(2, 3 * len(nodes), 3) if row else None,
    )
    heavy = bed_weight(weight, density, length * width * thickness)
    note = "Beam along x with straight cross-sections: approximate for a bed that is not long and narrow."
    return elastic_influence(feet, stations, held, bend / length**3, heavy, "beam", note, row=row)


def torsion_constant(a: float, b: float) -> float:
    """Torsion constant of a solid rectangle a x b, metre to the fourth power."""
    long, short = max(a, b), min(a, b)
    ratio = short / long
    return long * short**3 * (1.0 / 3.0 - 0.21 * ratio * (1.0 - ratio**4 / 12.0))


def _beam_system(nodes: Floats, twist: float) -> tuple[Any, Floats]:
    """Stiffness for EI = 1 and GJ = ``twist``, and load vector of a weight of 1, per node: height, slope, turn."""
    count = 3 * len(nodes)
    stiffness, load = np.zeros((count, count)), np.zeros(count)
    for k, h in enumerate(np.diff(nodes)):
        bend = [3 * k, 3 * k + 1, 3 * k + 3, 3 * k + 4]
        turn = [3 * k + 2, 3 * k + 5]
        first, cross = np.array([12.0, 6.0 * h, -12.0, 6.0 * h]), np.array([6.0 * h, 4.0 * h**2, -6.0 * h, 2.0 * h**2])
        last = np.array([6.0 * h, 2.0 * h**2, -6.0 * h, 4.0 * h**2])
        stiffness[np.ix_(bend, bend)] += np.array([first, cross, -first, last]) / h**3
        stiffness[np.ix_(turn, turn)] += twist * np.array([[1.0, -1.0], [-1.0, 1.0]]) / h
        load[bend] += np.array([h / 2.0, h**2 / 12.0, h / 2.0, -(h**2) / 12.0])
    return stiffness, load


def _beam_rows(nodes: Floats, places: Floats, row: bool) -> Any:
    """Rows that give the height at ``places`` from heights, slopes and turns at the nodes."""
    element = np.clip(np.searchsorted(nodes, places[:, 0], side="right") - 1, 0, len(nodes) - 2)
    h = np.diff(nodes)[element]
    s = (places[:, 0] - nodes[element]) / h
    y = np.zeros(len(places)) if row else places[:, 1]
    values = np.column_stack(
        [1 - 3 * s**2 + 2 * s**3, h * (s - 2 * s**2 + s**3), y * (1 - s), 3 * s**2 - 2 * s**3, h * (s**3 - s**2), y * s]
    )
    rows = np.zeros((len(places), 3 * len(nodes)))
    np.put_along_axis(rows, 3 * element[:, None] + np.arange(6), values, axis=1)
    return csc_matrix(rows)
