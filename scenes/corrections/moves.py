"""Moves: what to do at each foot or bearing, in which order, and what that should leave."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..model.survey import Limit
from ..reductions.quantities.definition import Kind
from ..reductions.verdict import Verdict
from ..vectors import Floats, frozen
from .forecast import stood_deviations
from .movers import Movers
from .response import Answer, Shape

__all__ = ["SAFETY", "Forecast", "Moves", "Outcome", "StationMoves", "Step"]

SAFETY = (
    "Local rules come first. Stop the machine, lock it out and tag it, and prove that it is dead.",
    "Before a bolt is loosened, block the load so that it cannot fall or run; nobody reaches under a part on a jack.",
    "Jack only at points meant for it, little by little, and never leave a load on a jack: shim, then set it down.",
)
"""Said wherever moves are shown (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One thing to do.

    Attributes
    ----------
    number : int
        From 1.
    mover : int
        Which foot or bearing.
    amount : float
        Move, metres, + = up or to the positive side.
    words : str
        What to do.
    bend : float
        Largest deviation from the least-squares reference, either way together, after this step, metres.
    loads : (m,) float, optional
        On all feet after it, newton.
    """

    number: int
    mover: int
    amount: float
    words: str
    bend: float
    loads: Floats | None


@dataclass(frozen=True, slots=True, eq=False)
class StationMoves:
    """Deviations of the stations before and after; k entries, metres or rad.

    Attributes
    ----------
    of : str
        Component that they belong to.
    stations, components : tuple of str
    places, directions : (k, 3) float
        World.
    before, as_left, u_before, u_as_left : (k,) float
        With standard uncertainties.
    """

    of: str
    stations: tuple[str, ...]
    components: tuple[str, ...]
    places: Floats
    directions: Floats
    before: Floats
    as_left: Floats
    u_before: Floats
    u_as_left: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """One component of the task as found and as it should be left.

    Attributes
    ----------
    name, kind
    before, after : float
        Metres or rad.
    u_before, u_after : float
        Standard uncertainties; that of ``after`` has the moves and the influence in it.
    interval : (low, high)
        95 % of the true value as left.
    limit : Limit, optional
    probability : float, optional
        That the true value as left keeps the limit.
    verdict : Verdict, optional
        What the rule of the task would say to ``after`` with its uncertainty.
    """

    name: str
    kind: Kind
    before: float
    after: float
    u_before: float
    u_after: float
    interval: tuple[float, float]
    limit: Limit | None
    probability: float | None
    verdict: Verdict | None


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What any moves would leave.

    Attributes
    ----------
    as_left : tuple of (k,) float
        Deviations in the order of ``Moves.stations``, metres or rad.
    values : tuple of float
        In the order of ``Moves.components``.
    loads : (m,) float, optional
    outside : tuple of int
        Movers beyond their limits.
    unloaded : tuple of int
        Feet that would lift off.
    """

    as_left: tuple[Floats, ...]
    values: tuple[float, ...]
    loads: Floats | None
    outside: tuple[int, ...]
    unloaded: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """What to move and what it will do; m movers. Lengths in metres, loads in newton.

    Attributes
    ----------
    task, visit : str
    movers : Movers
    lifts : (m,) float
        Move of each mover from where it was found; the filled gap of a soft foot is in it.
    stacks : tuple of tuple of float, or None
        Shims for each mover, thickest first; empty where it needs none; None: no stock was stated.
    gaps, fills : (m,) float
        Gaps of soft feet, and the thickness that fills them.
    goal : str
        ``minimax`` or ``least squares``.
    reference : str
        What the moves aim at.
    reached, bound : float
        Goal reached, and the best that any thickness could reach within the same limits.
    components : tuple of Forecast
    stations : tuple of StationMoves
    steps : tuple of Step
    criterion : str
        By what the order of the steps was chosen.
    tilt : (2,) float, optional
        Turn of the whole bed about x and y, rad.
    loads_before, loads_after : (m,) float, optional
    first : tuple of str
        What to do before anything else.
    unread : tuple of str
        What rests on nothing, since stations of the task were not read; among the warnings too.
    warnings : tuple of str
    aim : Shape, optional
        Deviations by which the order of the steps is weighed.
    """

    task: str
    visit: str
    movers: Movers
    lifts: Floats
    stacks: tuple[tuple[float, ...], ...] | None
    gaps: Floats
    fills: Floats
    goal: str
    reference: str
    reached: float
    bound: float
    components: tuple[Forecast, ...]
    stations: tuple[StationMoves, ...]
    steps: tuple[Step, ...]
    criterion: str
    tilt: Floats | None
    loads_before: Floats | None
    loads_after: Floats | None
    first: tuple[str, ...]
    warnings: tuple[str, ...]
    answers: tuple[Answer, ...] = field(repr=False)
    shapes: tuple[Shape, ...] = field(repr=False)
    aim: Shape | None = field(repr=False)
    unread: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        m = len(self.movers)
        for name in ("lifts", "gaps", "fills"):
            object.__setattr__(self, name, frozen(getattr(self, name), (m,)))
        for name in ("loads_before", "loads_after", "tilt"):
            if getattr(self, name) is not None:
                object.__setattr__(self, name, frozen(getattr(self, name)))

    @property
    def safety(self) -> tuple[str, ...]:
        """What comes before every move."""
        return SAFETY

    @property
    def touched(self) -> tuple[int, ...]:
        """Movers that are moved."""
        return tuple(int(j) for j in np.flatnonzero(self.lifts))

    def evaluate(self, lifts: ArrayLike) -> Outcome:
        """What other moves ``(m,)`` [m] would leave; a few milliseconds.

        Raises
        ------
        GeometryError
            Where their number is not that of the movers.
        """
        wanted = np.asarray(lifts, dtype=np.float64)
        if wanted.shape != self.lifts.shape or not np.isfinite(wanted).all():
            raise GeometryError(f"{len(self.lifts)} moves are needed, one per foot or bearing, all of them numbers.")
        movers, slack = self.movers, 1e-9
        loads = None
        if self.loads_before is not None and movers.load_change is not None:
            loads = self.loads_before + movers.load_change @ wanted
        outside = np.flatnonzero((wanted < movers.lowest - slack) | (wanted > movers.highest + slack))
        off = np.zeros(0, dtype=np.int64) if loads is None else np.flatnonzero(loads <= 0.0)
        return Outcome(
            as_left=tuple(stood_deviations(self.answers, shape, wanted) for shape in self.shapes),
            values=tuple(answer.value(wanted) for answer in self.answers),
            loads=None if loads is None else frozen(loads),
            outside=tuple(int(j) for j in outside),
            unloaded=tuple(int(j) for j in off),
        )
