"""How much to raise each foot of a bed so that its top is as flat, or as level, as its feet can make it.

The public face of the corrections: `propose_shims`, and the influence models by name.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..reductions.minimum_zone import minimum_zone
from ..vectors import Floats, frozen
from .beam import beam_influence
from .influence import FLAT, Influence, checked_places, measured_influence, rigid_influence
from .lifts import LiftProblem, least_squares_lifts, minimax_lifts
from .minimum_zones import minimum_zones
from .plate import plate_influence
from .remarks import remarks_on
from .stock import Stacks, stacks_of, stock_lifts

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
TRIALS = 2000
LEAST_LOAD = 0.1  # share of the mean foot load that must stay on every foot where nothing else is stated


@dataclass(frozen=True, slots=True, eq=False)
class ShimProposal:
    """What to put under each foot and what it will do. Lengths in metres, loads in newton.

    Attributes
    ----------
    lifts : (m,) float
        Lift of each foot, + = up.
    stacks : tuple of tuple of float, or None
        Shims per foot, thickest first, negative for shims taken out; None: any thickness was allowed.
    goal : str
        ``minimax``: the flatness itself is least; ``least squares``: the root mean square deviation is.
    reference : str
        ``minimum zone`` (flatness, or straightness where the stations are on one line) or ``level``.
    as_found, predicted : float
        Width of the zone of the deviations before, and after the lifts.
    reached : float
        Value of the goal with these lifts.
    bound : float
        Best value of the goal with the same limits and any thickness in place of stock.
    best_lifts : (m,) float
        Lifts that reach ``bound``.
    before, as_left : (n,) float
        Deviations from the middle of the zone, as found and predicted.
    standard_uncertainty : (n,) float or None
        Of ``as_left``, where a covariance was given.
    predicted_uncertainty : float or None
        Standard uncertainty of ``predicted``.
    predicted_interval : (low, high) or None
        Central 95 % of the flatness that a new reading of the corrected bed would show, noise included. The noise of
        the readings makes such a flatness larger on the average; this interval is not centred on ``predicted``.
    loads_before, loads_after : (m,) float or None
        Loads on the feet; None: not known.
    warnings : tuple of str
        What a fitter should know before using it.
    """

    lifts: Floats
    stacks: tuple[tuple[float, ...], ...] | None
    goal: str
    reference: str
    as_found: float
    predicted: float
    reached: float
    bound: float
    best_lifts: Floats
    before: Floats
    as_left: Floats
    standard_uncertainty: Floats | None
    predicted_uncertainty: float | None
    predicted_interval: tuple[float, float] | None
    loads_before: Floats | None
    loads_after: Floats | None
    warnings: tuple[str, ...]


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
) -> ShimProposal:
    """Lifts of the feet that make the bed flattest (or most level), the deviations they leave, and what to mind.

    Raising all feet by a plane only tilts the bed, so for flatness the plane is free and the smallest lifts are taken
    of all that are equally good. The lifts are relative to the feet as found.

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
        How much worse the value may be where that leaves feet untouched, metres.
    generator : numpy.random.Generator, optional
        For the dithers of the stock and the draws of the uncertainty; one with a fixed seed if not given.

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
    stations, found = _checked_readings(deviations, stations_xy, influence)
    generator = np.random.default_rng(20) if generator is None else generator
    basis = _free_basis(stations, reference)
    problem = _problem(found, influence, basis, add_only, travel, goal, keep_loads, least_load, loads)
    stacks = None
    if stock is not None:
        stacks = stacks_of(stock, max_pieces, float(problem.highest.max()), add_only=add_only)
        problem = _within(problem, stacks)
    solve = least_squares_lifts if goal == "least squares" else lambda case: minimax_lifts(case, slack)
    best_lifts, bound = solve(problem)
    lifts, chosen = best_lifts, None
    if stacks is not None:
        picked = stock_lifts(problem, stacks, best_lifts, generator, slack)
        lifts, chosen = stacks.heights[picked], tuple(stacks.shims[k] for k in picked)
    after = found + influence.matrix @ lifts
    before, as_left = _about_zone(stations, basis, found), _about_zone(stations, basis, after)
    station_u, flatness_u, interval = _uncertainty(basis, after, covariance, generator)
    own = influence.own_loads if loads is None else frozen(loads, (len(lifts),))
    change = influence.load_change
    loads_after = None if own is None or change is None else own + change @ lifts
    return ShimProposal(
        lifts=frozen(lifts),
        stacks=chosen,
        goal=goal,
        reference=reference,
        as_found=float(np.ptp(before)),
        predicted=float(np.ptp(as_left)),
        reached=float(problem.values(lifts[None])[0]),
        bound=bound,
        best_lifts=frozen(best_lifts),
        before=frozen(before),
        as_left=frozen(as_left),
        standard_uncertainty=station_u,
        predicted_uncertainty=flatness_u,
        predicted_interval=interval,
        loads_before=None if own is None else frozen(own),
        loads_after=None if loads_after is None else frozen(loads_after),
        warnings=remarks_on(problem, influence, lifts, own, flatness_u, float(np.ptp(before)), keep_loads),
    )


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
        missing = ", ".join(str(k + 1) for k in np.flatnonzero(~np.isfinite(found)))
        raise GeometryError(f"Station {missing} has no deviation; leave it out together with its row of influence.")
    return stations, found


def _free_basis(stations: Floats, reference: str) -> Floats:
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


def _problem(
    found: Floats,
    influence: Influence,
    basis: Floats,
    add_only: bool,
    travel: ArrayLike,
    goal: str,
    keep_loads: bool,
    least_load: float | None,
    loads: ArrayLike | None,
) -> LiftProblem:
    m = influence.matrix.shape[1]
    highest = np.broadcast_to(np.asarray(travel, dtype=np.float64), (m,)).copy()
    if not (highest >= 0.0).all():
        raise ValueError("the travel of a foot cannot be negative; use add_only=False to allow lowering")
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
        lowest=np.zeros(m) if add_only else -highest,
        highest=highest,
        own_loads=own,
        load_change=influence.load_change,
        least_loads=least,
        goal=goal,
    )


def _within(problem: LiftProblem, stacks: Stacks) -> LiftProblem:
    """The same problem with limits at the greatest stacks, so that the bound is the one stock is compared with."""
    heights = stacks.heights
    top = heights[np.searchsorted(heights, problem.highest + 1e-9) - 1]
    bottom = heights[np.searchsorted(heights, problem.lowest - 1e-9)]
    return LiftProblem(
        problem.deviations,
        problem.matrix,
        problem.basis,
        problem.free_lifts,
        bottom,
        top,
        problem.own_loads,
        problem.load_change,
        problem.least_loads,
        problem.goal,
    )


def _about_zone(stations: Floats, basis: Floats, deviations: Floats) -> Floats:
    """Deviations from the middle of their zone: orthogonal to it for flatness, vertical for a line or level."""
    if basis.shape[1] == 3:
        zone = minimum_zone(np.column_stack([stations, deviations]))
        return np.asarray(zone.deviations if zone.normal[2] > 0.0 else -zone.deviations, dtype=np.float64)
    return minimum_zones(basis, deviations[None])[1][0]


def _uncertainty(
    basis: Floats, after: Floats, covariance: ArrayLike | None, generator: np.random.Generator
) -> tuple[Floats | None, float | None, tuple[float, float] | None]:
    """Standard uncertainties of the predicted deviations and of their zone, and an interval, by random draws.

    The lifts are decided and carry no uncertainty of their own. At the best lifts many stations touch the zone at
    once; the width is then not smooth, and draws tell what a derivative cannot.
    """
    if covariance is None:
        return None, None, None
    matrix = frozen(covariance, (len(after), len(after)))
    values, axes = np.linalg.eigh((matrix + matrix.T) / 2.0)
    if values.min() < -1e-9 * max(values.max(), 0.0):
        raise ValueError("the covariance has a negative variance in some direction, so it is not one")
    noise = generator.standard_normal((TRIALS, len(after))) * np.sqrt(np.maximum(values, 0.0))
    half, rest = minimum_zones(basis, after + noise @ axes.T)
    low, high = np.quantile(2.0 * half, [0.025, 0.975])
    return frozen(rest.std(axis=0)), float((2.0 * half).std()), (float(low), float(high))
