"""How much to raise each foot of a bed so that its top is as flat, or as level, as its feet can make it.

The public face of the corrections: `propose_shims`, and the influence models by name.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..vectors import Floats, frozen
from .beam import beam_influence
from .influence import FLAT, Influence, checked_places, measured_influence, rigid_influence
from .lift_problem import free_basis, lift_problem, within_stacks
from .lifts import least_squares_lifts, minimax_lifts
from .outlook import about_zone, uncertainty_after
from .plate import plate_influence
from .proposal import ShimProposal
from .remarks import remarks_on
from .stacks import stacks_of
from .stock import stock_lifts
from .touched_feet import flattest_lifts

__all__ = [
    "GOALS",
    "REFERENCES",
    "Influence",
    "ShimProposal",
    "beam_influence",
    "measured_influence",
    "plate_influence",
    "propose_shims",
    "rigid_influence",
]

GOALS = ("minimax", "least squares")
REFERENCES = ("minimum zone", "level")


def propose_shims(
    deviations: ArrayLike,
    stations_xy: ArrayLike,
    influence: Influence,
    *,
    add_only: bool = True,
    travel: ArrayLike = 2e-3,
    stock: tuple[float, ...] | None = None,
    max_pieces: int = 4,
    goal: str = "minimax",
    covariance: ArrayLike | None = None,
    keep_loads: bool = True,
    least_load: float | None = None,
    loads: ArrayLike | None = None,
    reference: str = "minimum zone",
    slack: float = 0.0,
    generator: np.random.Generator | None = None,
    names: tuple[str, ...] | None = None,
    lowest: ArrayLike | None = None,
) -> ShimProposal:
    """Lifts of the feet that make the bed flattest (or most level), the deviations they leave, and what to mind.

    The value comes first: the flatness, or the root mean square. Of all lifts whose value is within ``slack`` of the
    best, those are taken that touch the fewest feet, and of these the ones of least total lift, then of the fewest
    shims. (Without slack and without stock: the least total lift of all that are equally good.) Raising all feet by a
    plane only tilts the bed and does not change its flatness; how much the lifts tilt it is stated. The lifts are
    relative to the feet as found.

    Parameters
    ----------
    deviations : (n,) float
        Deviations as found from any plane (for ``level``: from level), metres, + = high.
    stations_xy : (n, 2) float
        Places of the stations, metres.
    influence : Influence
        Rows in the order of the stations, columns in the order of the feet.
    add_only : bool
        True: feet are only raised. False: they may go down as far as they may go up.
    travel : float or (m,) float
        Largest move of each foot, metres; 0 leaves a foot alone.
    stock : tuple of float, optional
        Thicknesses at hand, metres. Each lift is then a sum of at most ``max_pieces`` of them.
    max_pieces : int
        Most shims under one foot.
    goal : str
        ``minimax`` or ``least squares``.
    covariance : (n, n) float, optional
        Covariance of the deviations, square metres.
    keep_loads : bool
        True: every foot keeps its least load, so that none lifts off. Off its foot the bed does not follow the linear
        influence, so without this a proposal can be wrong; a warning then names the foot.
    least_load : float, optional
        Least load on a foot, newton. Negative where anchor bolts pull the bed down. A tenth of the mean load if not
        given. A foot that carries less as found may not lose more.
    loads : (m,) float, optional
        Loads as found, newton, if they were measured; else those of the influence.
    reference : str
        ``minimum zone``: the plane is free. ``level``: only the height is free.
    slack : float
        How much worse than the best the value may be where that leaves feet untouched, metres. With stock it counts
        from the best value that the stock was found to reach and holds for both goals; without stock it counts from
        ``bound`` and holds for ``minimax``.
    generator : numpy.random.Generator, optional
        For the dithers of the stock and the draws of the uncertainty; one with a fixed seed if not given.
    names : tuple of str, optional
        Names of the feet for the warnings; ``foot 1``, ``foot 2``, ... if not given.
    lowest : float or (m,) float, optional
        How far each foot may go down at most, metres, zero or negative; a closer limit than ``travel`` sets.

    Raises
    ------
    GeometryError
        Too few stations, or arrays that do not belong together.
    ValueError
        Unknown goal or reference, negative travel, empty stock.

    Examples
    --------
    >>> corners = [[-1, -1], [1, -1], [1, 1], [-1, 1]]
    >>> bed = measured_influence([[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]])
    >>> proposal = propose_shims([0, 0, 0, -40e-6], corners, bed, keep_loads=False)
    >>> float(round(proposal.lifts.sum() * 1e6)), float(round(proposal.predicted * 1e6, 3) + 0)
    (40.0, 0.0)
    """
    _require_options(goal, reference, stock, max_pieces)
    if names is not None and len(names) != influence.matrix.shape[1]:
        raise ValueError(f"{len(names)} names for {influence.matrix.shape[1]} feet; one name per foot is needed")
    stations, found = _checked_readings(deviations, stations_xy, influence)
    generator = np.random.default_rng(20) if generator is None else generator
    basis = free_basis(stations, reference)
    problem = lift_problem(found, influence, basis, add_only, travel, goal, keep_loads, least_load, loads, lowest)
    stacks = None
    if stock is not None:
        stacks = stacks_of(stock, max_pieces, float(problem.highest.max()), add_only=add_only)
        problem = within_stacks(problem, stacks.heights)
    solve = (
        least_squares_lifts if goal == "least squares" else lambda case: minimax_lifts(case, 0.0 if stock else slack)
    )
    proven = None if stacks is None else flattest_lifts(problem)
    best_lifts, bound = solve(problem) if proven is None else (proven.lifts, proven.bound)
    lifts, chosen = best_lifts, None
    if stacks is not None:
        picked = stock_lifts(problem, stacks, best_lifts, generator, slack, None if proven is None else proven.held)
        lifts, chosen = stacks.heights[picked], tuple(stacks.shims[k] for k in picked)
    rise = influence.matrix @ lifts
    after, tilt = found + rise, _tilt_of(stations, rise)
    before, as_left = about_zone(stations, basis, found), about_zone(stations, basis, after)
    station_u, flatness_u, interval = uncertainty_after(basis, after, covariance, generator)
    own = influence.own_loads if loads is None else frozen(loads, (len(lifts),))
    change = influence.load_change
    loads_after = None if own is None or change is None else own + change @ lifts
    as_found, predicted = float(np.ptp(before)), float(np.ptp(as_left))
    return ShimProposal(
        lifts=frozen(lifts),
        stacks=chosen,
        goal=goal,
        reference=reference,
        as_found=as_found,
        predicted=predicted,
        reached=predicted if goal == "minimax" else float(problem.values(lifts[None])[0]),
        bound=bound,
        best_lifts=frozen(best_lifts),
        tilt=frozen(tilt),
        mean_lift=float(lifts.mean()),
        before=frozen(before),
        as_left=frozen(as_left),
        standard_uncertainty=station_u,
        predicted_uncertainty=flatness_u,
        predicted_interval=interval,
        loads_before=None if own is None else frozen(own),
        loads_after=None if loads_after is None else frozen(loads_after),
        warnings=remarks_on(
            problem, influence, lifts, own, as_found - predicted, flatness_u, keep_loads,
            None if reference == "level" else tilt, names or tuple(f"foot {k + 1}" for k in range(len(lifts))),
        ),
    )  # fmt: skip


def _tilt_of(stations: Floats, rise: Floats) -> Floats:
    """Turn about x and y, radians, ``(2,)``, of the plane nearest to the rise of the stations [m]."""
    centred = stations - stations.mean(axis=0)
    slope_x, slope_y = np.linalg.lstsq(centred, rise - rise.mean(), rcond=FLAT)[0]
    return np.array([slope_y, -slope_x])


def _require_options(goal: str, reference: str, stock: tuple[float, ...] | None, max_pieces: int) -> None:
    if goal not in GOALS:
        raise ValueError(f"the goal {goal!r} is not known; there are: {', '.join(GOALS)}")
    if reference not in REFERENCES:
        raise ValueError(f"the reference {reference!r} is not known; there are: {', '.join(REFERENCES)}")
    if stock is not None and (not stock or min(stock) < 1e-9 or max_pieces < 1):
        raise ValueError("the stock needs at least one thickness greater than zero and at least one piece per foot")


def _checked_readings(deviations: ArrayLike, stations_xy: ArrayLike, influence: Influence) -> tuple[Floats, Floats]:
    stations = checked_places(stations_xy, "stations", 1)
    found = np.asarray(deviations, dtype=np.float64)
    n = len(stations)
    if found.shape != (n,) or len(influence.matrix) != n:
        raise GeometryError(
            f"There are {found.size} deviations, {n} stations and {len(influence.matrix)} rows of influence; "
            "each station needs one of each."
        )
    if not np.isfinite(found).all():
        missing = np.flatnonzero(~np.isfinite(found))
        raise GeometryError(
            f"Station {missing[0] + 1} has no deviation ({missing.size} of {n} have none); leave it out together with "
            "its row of influence."
        )
    return stations, found
