"""Lifts of the feet of a bed or a rail for one task: the gaps of soft feet first, then the best shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..vectors import Floats, frozen
from .influence import Influence
from .lift_problem import free_basis, lift_problem
from .movers import Movers
from .proposal import ShimProposal
from .shims import propose_shims
from .soft_feet import SoftFeet, loads_with_gaps
from .stacks import stacks_of
from .touched_feet import bounds_of_choices, choices_of

__all__ = ["FeetLifts", "feet_lifts"]

TRIED_CHOICES = 4
"""Choices of feet that are worked out in full where only so many may be touched."""


@dataclass(frozen=True, slots=True, eq=False)
class FeetLifts:
    """Lifts with what they rest on.

    Attributes
    ----------
    lifts : (m,) float
        From where the feet were found, filled gaps included, metres.
    stacks : tuple of tuple of float, optional
    proposal : ShimProposal
        Of what is lifted after the gaps are filled.
    loads : (m,) float, optional
        As found, newton.
    warnings : tuple of str
    """

    lifts: Floats
    stacks: tuple[tuple[float, ...], ...] | None
    proposal: ShimProposal
    loads: Floats | None
    warnings: tuple[str, ...]

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        object.__setattr__(self, "lifts", frozen(self.lifts))


def feet_lifts(
    found: Floats, places: Floats, influence: Influence, movers: Movers, soft: SoftFeet, goal: str, reference: str,
    most_feet: int | None, slack: float, rng: np.random.Generator,
) -> FeetLifts:  # fmt: skip
    """Lifts of the feet that bring deviations ``found`` (k,) at ``places`` (k, 2) near the reference.

    Parameters
    ----------
    influence : Influence
        Rows in the order of the places, with the sign in which the deviations count.
    most_feet : int, optional
        Most feet that may be touched, soft ones not counted.
    slack : float
        How much worse than the best the goal may become to leave a foot alone, metres.
    """
    loads = loads_with_gaps(influence, soft.gaps)
    after = found + influence.matrix @ soft.fill
    loads_after = None
    if loads is not None and influence.load_change is not None:
        loads_after = loads + influence.load_change @ soft.fill
    highest = np.maximum(movers.highest - soft.fill, 0.0)
    lowest = np.where(soft.gaps > 0.0, 0.0, movers.lowest)
    add_only = not bool((movers.lowest < 0.0).any())
    stock, pieces = movers.stock[0] or None, movers.most_pieces[0]

    def proposed(travel: Floats) -> ShimProposal:
        return propose_shims(
            after, places, influence, add_only=add_only, travel=travel, stock=stock, max_pieces=pieces, goal=goal,
            loads=loads_after, reference=reference, slack=slack, generator=np.random.default_rng(rng.integers(2**32)),
            names=movers.names, lowest=np.maximum(lowest, -travel),
        )  # fmt: skip

    if most_feet is None or most_feet >= int((highest > 0.0).sum()):
        proposal = proposed(highest)
    else:
        chosen = _best_choices(after, places, influence, highest, lowest, add_only, goal, reference, loads_after,
                               most_feet)  # fmt: skip
        proposal = min((proposed(np.where(each, highest, 0.0)) for each in chosen), key=lambda p: p.reached)
    lifts = soft.fill + proposal.lifts
    stacks, said = _stacks(movers, proposal, soft.fill, lifts)
    return FeetLifts(lifts, stacks, proposal, None if loads is None else frozen(loads), (*proposal.warnings, *said))


def _best_choices(
    found: Floats, places: Floats, influence: Influence, highest: Floats, lowest: Floats, add_only: bool, goal: str,
    reference: str, loads: Floats | None, most: int,
) -> Floats:  # fmt: skip
    """The choices ``(b, m)`` of at most ``most`` feet that can reach least, with any thickness."""
    basis = free_basis(places, reference)
    problem = lift_problem(found, influence, basis, add_only, highest, goal, True, None, loads, lowest)
    chosen = choices_of(problem, most)
    least = bounds_of_choices(problem, chosen, np.inf).least
    return np.asarray(chosen[np.argsort(least, kind="stable")[:TRIED_CHOICES]])


def _stacks(
    movers: Movers, proposal: ShimProposal, fill: Floats, lifts: Floats
) -> tuple[tuple[tuple[float, ...], ...] | None, list[str]]:
    """Shims of every foot, those that fill gaps among them, and what to say about them."""
    if proposal.stacks is None:
        return None, []
    if not fill.any():
        return proposal.stacks, []
    found, said = [], []
    for j, stack in enumerate(proposal.stacks):
        if fill[j] == 0.0:
            found.append(stack)
            continue
        heap = stacks_of(movers.stock[j], movers.most_pieces[j], float(lifts[j]) + 1e-9, add_only=True)
        k = int(np.argmin(np.abs(heap.heights - lifts[j])))
        if abs(heap.heights[k] - lifts[j]) < 1e-9:
            found.append(heap.shims[k])
            continue
        more = stacks_of(movers.stock[j], 2 * movers.most_pieces[j], float(lifts[j]) + 1e-9, add_only=True)
        k = int(np.argmin(np.abs(more.heights - lifts[j])))
        found.append(more.shims[k])
        said.append(f"{movers.names[j]} needs {len(more.shims[k])} shims, more than the {movers.most_pieces[j]} that "
                    "may lie under it: have one ground to size.")  # fmt: skip
    return tuple(found), said
