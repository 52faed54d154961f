"""What the feet of a bed can do to the deviations of its stations, and the limits of their lifts."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..vectors import Floats, frozen
from .influence import FLAT, Influence
from .minimum_zones import zone_widths

__all__ = ["LiftProblem", "free_basis", "lift_problem", "within_stacks"]

LEAST_LOAD = 0.1  # share of the mean foot load that must stay on every foot where nothing else is stated


@dataclass(frozen=True, slots=True, eq=False)
class LiftProblem:
    """What the feet can do to the deviations, and their limits.

    Attributes
    ----------
    deviations : (n,) float
        As found, metres.
    matrix : (n, m) float
        Rise of the stations per lift of the feet.
    basis : (n, p) float
        Functions of the place that cost nothing: 1, x, y for flatness; 1 for level; scaled to about one.
    free_lifts : (m, p) float
        Lifts that move the stations by the columns of ``basis``.
    lowest, highest : (m,) float
        Limits of the lifts, metres; ``lowest <= 0 <= highest``.
    own_loads, load_change, least_loads : float or None
        Loads (m,), their change per lift (m, m) and what must stay on each foot (m,); None: loads are not limited.
    goal : str
        ``minimax`` (flatness) or ``least squares`` (root mean square).
    """

    deviations: Floats
    matrix: Floats
    basis: Floats
    free_lifts: Floats
    lowest: Floats
    highest: Floats
    own_loads: Floats | None
    load_change: Floats | None
    least_loads: Floats | None
    goal: str

    @property
    def scale(self) -> float:
        """Size of the deviations that lifts may mend, metres; one micrometre at least."""
        return max(float(np.abs(self.deviations - self.deviations.mean()).max()), 1e-6)

    def values(self, lifts: Floats) -> Floats:
        """Goal reached by each row of ``lifts`` ``(k, m)``: flatness or root mean square, metres, ``(k,)``."""
        after = self.deviations + lifts @ self.matrix.T
        if self.goal == "minimax":
            return zone_widths(self.basis, after)
        q, _ = np.linalg.qr(self.basis)
        rest = after - (after @ q) @ q.T
        return np.asarray(np.sqrt(np.mean(rest**2, axis=1)))

    def missing_loads(self, lifts: Floats) -> Floats:
        """How far the loads of each row of ``lifts`` fall short of their limits, newton, summed over feet, ``(k,)``."""
        if self.own_loads is None or self.load_change is None or self.least_loads is None:
            return np.zeros(len(lifts))
        loads = self.own_loads + lifts @ self.load_change.T
        slack = 1e-9 * np.abs(self.own_loads).sum()
        short = self.least_loads - loads
        return np.asarray(np.where(short > slack, short, 0.0).sum(axis=1))

    def load_rows(self) -> tuple[Floats, Floats]:
        """Limits on the loads as ``rows @ lifts >= limits``, as shares of all the weight."""
        if self.own_loads is None or self.load_change is None or self.least_loads is None:
            return np.zeros((0, self.matrix.shape[1])), np.zeros(0)
        total = np.abs(self.own_loads).sum()
        if total <= 0.0:
            raise GeometryError("The loads on the feet are all zero, so they cannot be kept positive.")
        return self.load_change / total, (self.least_loads - self.own_loads) / total


def free_basis(stations: Floats, reference: str) -> Floats:
    """Functions of the place that do not count: 1, and the tilts that the stations can tell; about one in size."""
    if reference == "level":
        if len(stations) < 2:
            raise GeometryError("One station has no difference of height to another; level needs two.")
        return np.ones((len(stations), 1))
    centred = stations - stations.mean(axis=0)
    _, spread, axes = np.linalg.svd(centred, full_matrices=False)
    tilts = int((spread > FLAT * max(spread[0], 1e-300)).sum())
    if len(stations) <= tilts + 1:
        raise GeometryError(
            f"{len(stations)} stations always fit a {'plane' if tilts == 2 else 'line'}, so there is nothing to "
            "correct; read more of them."
        )
    along = centred @ axes[:tilts].T
    return np.column_stack([np.ones(len(stations)), along / np.abs(along).max(axis=0)])


def lift_problem(
    found: Floats,
    influence: Influence,
    basis: Floats,
    add_only: bool,
    travel: ArrayLike,
    goal: str,
    keep_loads: bool,
    least_load: float | None,
    loads: ArrayLike | None,
    lowest: ArrayLike | None = None,
) -> LiftProblem:
    """What the feet can do, and their limits; arguments as in `scenes.corrections.shims.propose_shims`."""
    m = influence.matrix.shape[1]
    highest = np.broadcast_to(np.asarray(travel, dtype=np.float64), (m,)).copy()
    if not (highest >= 0.0).all():
        raise ValueError("the travel of a foot cannot be negative; use add_only=False to allow lowering")
    down = np.zeros(m) if add_only else -highest
    if lowest is not None:
        down = np.maximum(down, np.broadcast_to(np.asarray(lowest, dtype=np.float64), (m,)))
        if (down > 0.0).any():
            raise ValueError("the lowest lift of a foot cannot be above zero")
    own = influence.own_loads if loads is None else frozen(loads, (m,))
    least = None
    if keep_loads and own is not None and influence.load_change is not None:
        wanted = LEAST_LOAD * float(own.sum()) / m if least_load is None else least_load
        least = np.minimum(wanted, own)
    return LiftProblem(
        deviations=found,
        matrix=influence.matrix,
        basis=basis,
        free_lifts=np.asarray(np.linalg.lstsq(influence.matrix, basis, rcond=1e-9)[0], dtype=np.float64),
        lowest=down,
        highest=highest,
        own_loads=own,
        load_change=influence.load_change,
        least_loads=least,
        goal=goal,
    )


def within_stacks(problem: LiftProblem, heights: Floats) -> LiftProblem:
    """The same problem with limits at the greatest of ``heights``, so that its bound is the one stock compares with."""
    return replace(
        problem,
        lowest=heights[np.searchsorted(heights, problem.lowest - 1e-9)],
        highest=heights[np.searchsorted(heights, problem.highest + 1e-9) - 1],
    )
