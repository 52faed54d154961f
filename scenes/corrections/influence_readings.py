"""An influence from readings: one foot at a time is lifted by a known amount, and all stations are read."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..hints import listed
from ..model.layout import Layout
from ..model.survey import Feet
from ..reductions.quantities.definition import Zone
from ..reductions.quantities.measured import Measured, shape_of
from ..reductions.survey import SurveyResult
from ..units import UnitError, parse_quantity
from ..vectors import Floats, frozen
from .influence import plane_basis

__all__ = ["FoundInfluence", "influence_from_lifts", "is_lift", "lift_of_visit"]

_LIFT = re.compile(r"lift\s+(?P<foot>.+?)\s+(?P<amount>[+-]?[\d.,]+\s*[a-zµμ]+)", re.IGNORECASE)


@dataclass(frozen=True, slots=True, eq=False)
class FoundInfluence:
    """An influence that was measured; n stations, m feet.

    Attributes
    ----------
    stations : tuple of str
    matrix, u : (n, m) float
        Rise of each station per lift of each foot, and its standard uncertainty without what both visits share.
    known_to : float
        Root mean square of ``u`` as a share of that of what bends: for ``influence known to``.
    """

    stations: tuple[str, ...]
    matrix: Floats
    u: Floats
    known_to: float

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        object.__setattr__(self, "matrix", frozen(self.matrix))
        object.__setattr__(self, "u", frozen(self.u))


def lift_of_visit(visit: str) -> tuple[str, float] | None:
    """Foot and lift [m] of a visit named like ``lift F1 0.5 mm``; None for any other."""
    found = _LIFT.fullmatch(visit.strip())
    if found is None:
        return None
    try:
        return found["foot"], parse_quantity(found["amount"], "length")
    except UnitError as error:
        raise GeometryError(f"The visit {visit!r} tells no lift: {error}") from None


def is_lift(visit: str) -> bool:
    """Whether a visit is one of a lifted foot."""
    return _LIFT.fullmatch(visit.strip()) is not None


def influence_from_lifts(layout: Layout, survey: SurveyResult, feet: Feet, task: str, base: str) -> FoundInfluence:
    """Influence of the feet from visits ``lift FOOT AMOUNT``, each against the visit ``base``.

    What the readings of a flatness task cannot tell is how the part as a whole follows each foot; there it follows as
    a stiff one would, in such a way that lifting all feet by a plane moves all stations by that plane.

    Raises
    ------
    GeometryError
        Where a foot was not lifted, or a visit does not determine the task.
    """
    first = _shape(survey, task, base)
    names, found, u_found = first
    columns: dict[str, list[tuple[Floats, Floats]]] = {}
    for visit in survey.visits:
        lift = lift_of_visit(visit)
        if lift is None:
            continue
        foot, amount = lift
        if foot not in feet.names or amount == 0.0:
            raise GeometryError(f"The visit {visit!r} lifts no foot of {feet.surface}: these are {listed(feet.names)}.")
        mine, heights, u = _shape(survey, task, visit)
        if mine != names:
            raise GeometryError(f"The visit {visit!r} has not read the same stations as {base}.")
        columns.setdefault(foot, []).append(((heights - found) / amount, np.hypot(u, u_found) / abs(amount)))
    missing = [foot for foot in feet.names if foot not in columns]
    if missing:
        raise GeometryError(
            f"No visit lifts {listed(missing)}: read all stations once more for each foot, the visit named such as "
            f"'lift {missing[0]} 0.5 mm'."
        )
    bent = np.column_stack([np.mean([rise for rise, _ in columns[foot]], axis=0) for foot in feet.names])
    u = np.column_stack([np.sqrt(np.mean([each**2 for _, each in columns[foot]], axis=0) / len(columns[foot]))
                         for foot in feet.names])  # fmt: skip
    return _with_planes(layout, feet, names, bent, u)


def _shape(survey: SurveyResult, task: str, visit: str) -> tuple[tuple[str, ...], Floats, Floats]:
    measured: Measured | None = survey.of(task, visit)
    if measured is None:
        raise GeometryError(f"The visit {visit!r} does not determine the task {task}.")
    zone = next((each for each in measured.definition.values if isinstance(each, Zone)), None)
    if zone is None:
        raise GeometryError(f"The task {task} shows no shape; take one for flatness or straightness.")
    heights, jacobian = shape_of(measured.evidence, zone)
    return zone.profile.stations, heights, measured.evidence.network.spread_of(jacobian).standard_uncertainty()


def _with_planes(layout: Layout, feet: Feet, names: tuple[str, ...], bent: Floats, u: Floats) -> FoundInfluence:
    at = plane_basis(np.array([layout.stations[name].at[:2] for name in names]))
    tilts = 2 if np.ptp(feet.at[:, 1]) <= 1e-6 * np.ptp(feet.at[:, 0]) else 3
    at_feet = plane_basis(feet.at)[:, :tilts]
    follow = np.linalg.pinv(at_feet)
    bent = bent @ (np.eye(len(feet.names)) - at_feet @ follow)
    size = float(np.sqrt(np.mean(bent**2)))
    if size <= 0.0:
        raise GeometryError("No lift bends the part: its influence is rigid.")
    return FoundInfluence(names, at[:, :tilts] @ follow + bent, u, float(np.sqrt(np.mean(u**2))) / size)
