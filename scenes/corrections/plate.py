"""Influence of the feet of a bed that bends like a thin plate with free edges."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..vectors import Floats
from .elastic import bed_weight, elastic_influence, held_at_feet, require_sizes, require_under_bed
from .influence import Influence, checked_places, require_spread, rigid_influence

__all__ = ["flexural_rigidity", "plate_influence"]

PIECES = 20  # elements along the longer side; the corner-supported plate is then right to 1e-5
FEWEST_PIECES = 8  # elements along the shorter side
THICK = 0.2  # thickness / least distance of feet above which the shear that the model leaves out is felt


def flexural_rigidity(youngs_modulus: float, poisson: float, thickness: float) -> float:
    """Bending stiffness D = E t^3 / (12 (1 - nu^2)) of a plate, newton metre.

    Source: G. Kirchhoff (1850), in any text on plates.
    """
    return youngs_modulus * thickness**3 / (12.0 * (1.0 - poisson**2))


def plate_influence(
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
    """Influence and foot loads of a rectangular bed, taken as a thin plate with free edges on point supports.

    The plate is an approximation. Real beds are ribbed and open below: give ``effective_thickness``, the thickness of
    the solid plate that bends as much as the bed does, and ``weight``. Shear, the give of feet and foundation and the
    pull of anchor bolts are left out, all of which make the real bed softer than the model; the change of the loads is
    affected most, in proportion to the cube of the thickness. An influence measured on the bed
    (`measured_influence`) is better than any model.

    With three feet nothing bends and the result is exact for any bed.

    Parameters
    ----------
    feet_xy : (m, 2) float
        Places of 3 to 12 feet, metres, from the centre of the plate.
    stations_xy : (n, 2) float
        Places of the stations, metres, same frame.
    length, width, thickness : float
        Sizes along x, y and z, metres.
    youngs_modulus : float
        Pascal.
    poisson : float
        Poisson's ratio.
    density : float
        Kilogram per cubic metre, for the loads.
    effective_thickness : float, optional
        Thickness that counts for bending, metres; ``thickness`` if not given.
    weight : float, optional
        Weight, newton, spread evenly; from sizes and density if not given.

    Raises
    ------
    GeometryError
        Too few feet or stations, feet on one line, or a place outside the plate.

    Notes
    -----
    Source: the energy of G. Kirchhoff (1850), discretised with the conforming rectangle of F. K. Bogner, R. L. Fox and
    L. A. Schmit (1965).
    """
    feet = checked_places(feet_xy, "feet", 3)
    stations = checked_places(stations_xy, "stations", 1)
    require_sizes(length, width, thickness, youngs_modulus, density)
    if not -1.0 < poisson <= 0.5:
        raise GeometryError(f"Poisson's ratio of a material lies between -1 and 0.5; {poisson:g} does not.")
    require_under_bed(feet, "Foot", length, width)
    require_under_bed(stations, "Station", length, width)
    require_spread(feet)
    heavy = bed_weight(weight, density, length * width * thickness)
    if len(feet) == 3:
        return rigid_influence(feet, stations, weight=heavy)
    bending = thickness if effective_thickness is None else effective_thickness
    if bending <= 0.0:
        raise GeometryError("The effective thickness must be greater than zero.")
    stiffness, load, probe = _plate_system(feet, length, width, poisson)
    held = held_at_feet(stiffness, load, probe(feet), probe(stations))
    rigidity = flexural_rigidity(youngs_modulus, poisson, bending)
    return elastic_influence(feet, stations, held, rigidity / length**2, heavy, "plate", _plate_note(feet, bending))


def _plate_note(feet: Floats, thickness: float) -> str:
    apart = np.linalg.norm(feet[:, None] - feet[None], axis=2)[np.triu_indices(len(feet), 1)].min()
    note = "Thin plate with free edges: an approximation for a ribbed bed; a measured influence is better."
    if thickness > THICK * apart:
        note += (
            f" The thickness is {thickness / apart:.2f} of the least distance of two feet, so shear, which is left out,"
            " makes the real bed softer than this."
        )
    return note


def _grid_lines(half: float, marks: Floats, step: float) -> Floats:
    """Lines from -half to half through the marks, at most ``step`` apart; marks that nearly coincide are merged."""
    wanted = np.unique(np.concatenate([[-half, half], marks]))
    lines = [-half]
    for mark in wanted[1:]:
        if mark - lines[-1] > step / 8.0 and (half - mark > step / 8.0 or mark == half):
            lines.append(float(mark))
    lines[-1] = half
    pieces = [np.linspace(a, b, int(np.ceil((b - a) / step)) + 1)[:-1] for a, b in pairwise(lines)]
    return np.concatenate([*pieces, [half]])


def _plate_system(feet: Floats, length: float, width: float, poisson: float) -> tuple[Any, Floats, Any]:
    """Stiffness for D = 1, load of a weight of 1, and rows of values at places; lengths in units of ``length``."""
    from skfem import Basis, BilinearForm, ElementQuadBFS, LinearForm, MeshQuad  # slow to import, so only on need
    from skfem.helpers import dd

    ratio = width / length
    marks = feet / length
    step = max(1.0, ratio) / PIECES
    x = _grid_lines(0.5, marks[:, 0], min(step, 1.0 / FEWEST_PIECES))
    y = _grid_lines(ratio / 2.0, marks[:, 1], min(step, ratio / FEWEST_PIECES))
    basis = Basis(MeshQuad.init_tensor(x, y), ElementQuadBFS(), intorder=6)

    @BilinearForm  # type: ignore[untyped-decorator]
    def bending(u: Any, v: Any, _: Any) -> Any:
        a, b = dd(u), dd(v)
        mixed = a[0, 0] * b[1, 1] + a[1, 1] * b[0, 0]
        return a[0, 0] * b[0, 0] + a[1, 1] * b[1, 1] + poisson * mixed + 2.0 * (1.0 - poisson) * a[0, 1] * b[0, 1]

    @LinearForm  # type: ignore[untyped-decorator]
    def spread_evenly(v: Any, _: Any) -> Any:
        return 1.0 * v

    limit = np.array([0.5, ratio / 2.0])

    def probe(places: Floats) -> Any:
        return basis.probes(np.clip(places / length, -limit, limit).T)

    return bending.assemble(basis), spread_evenly.assemble(basis) / ratio, probe
