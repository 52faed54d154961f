"""What a fitter should know before using a proposal, in plain sentences."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..vectors import Floats
from .influence import Influence
from .lift_problem import LiftProblem

__all__ = ["remarks_on"]

BLIND = 1e-6  # a foot whose full effect on every station is below this share of its lift is not seen
AT_LIMIT = 1e-9


def remarks_on(
    problem: LiftProblem,
    influence: Influence,
    lifts: Floats,
    own_loads: Floats | None,
    gain: float,
    uncertainty: float | None,
    keep_loads: bool,
) -> tuple[str, ...]:
    """Warnings about a proposal of ``lifts`` that makes the zone narrower by ``gain`` [m]; feet count from 1."""
    return (
        *_blind_feet(problem),
        *_few_stations(problem),
        *_planes(problem, influence),
        *_travel(problem, lifts),
        *_loads(problem, influence, lifts, own_loads, keep_loads),
        *_doubt(gain, uncertainty),
    )


def _named(feet: NDArray[np.bool_]) -> str:
    """``foot 2`` or ``feet 2, 5`` for the positions that are true."""
    numbers = [str(k + 1) for k in np.flatnonzero(feet)]
    return f"foot {numbers[0]}" if len(numbers) == 1 else f"feet {', '.join(numbers)}"


def _blind_feet(problem: LiftProblem) -> list[str]:
    unseen = np.abs(problem.matrix).max(axis=0) < BLIND
    if unseen.any():
        return [f"No station sees {_named(unseen)}: a lift there moves none of them, so none is proposed."]
    q, _ = np.linalg.qr(problem.basis)
    bent = problem.matrix - q @ (q.T @ problem.matrix)
    if np.abs(bent).max() < BLIND:
        return ["The feet only tilt the bed and do not change its shape, so shims cannot make it better."]
    return []


def _few_stations(problem: LiftProblem) -> list[str]:
    n, m = problem.matrix.shape
    if n <= max(m, problem.basis.shape[1]):
        return [
            f"{n} stations for {m} feet: the feet can bring every station on the reference, which says nothing about "
            "the bed between them. Read more stations."
        ]
    return []


def _planes(problem: LiftProblem, influence: Influence) -> list[str]:
    short = np.abs(problem.matrix @ problem.free_lifts - problem.basis).max()
    if short > 1e-6 and influence.kind == "measured":
        return [
            f"No lifts of the feet move the stations by a plane (the nearest is off by {100.0 * short:.2g} % of its "
            "height at the edge), so the measured influence carries errors of about that size."
        ]
    return []


def _travel(problem: LiftProblem, lifts: Floats) -> list[str]:
    if not problem.highest.any() and not problem.lowest.any():
        return ["No foot can move: the travel is zero, or less than the thinnest shim."]
    full = (problem.highest > 0.0) & (
        (lifts >= problem.highest - AT_LIMIT) | ((problem.lowest < 0.0) & (lifts <= problem.lowest + AT_LIMIT))
    )
    if not full.any():
        return []
    return [
        f"{_named(full).capitalize()} {'uses' if full.sum() == 1 else 'use'} the whole travel (or the thickest stack): "
        "more travel may make the bed better."
    ]


def _loads(
    problem: LiftProblem, influence: Influence, lifts: Floats, own: Floats | None, keep_loads: bool
) -> list[str]:
    if own is None or influence.load_change is None:
        if influence.kind == "rigid":
            return []
        return ["The loads on the feet are not known, so nothing stops this proposal from taking a foot off its seat."]
    said = []
    if (own <= 0.0).any():
        said.append(f"The weight does not rest on {_named(own <= 0.0)} as found: a soft foot. Seat it first.")
    after = own + influence.load_change @ lifts
    lost = (after <= 0.0) & (own > 0.0)
    if lost.any():
        said.append(
            f"{_named(lost).capitalize()} would lift off; the bed then no longer follows the influence, and this "
            "prediction does not hold unless bolts hold the bed down."
        )
    if keep_loads and problem.least_loads is not None:
        total = float(np.abs(own).sum())
        held = after <= problem.least_loads + 1e-6 * total
        if held.any():
            said.append(
                f"The least load on {_named(held)} limits the proposal ({', '.join(f'{v:.0f} N' for v in after[held])} "
                "left). With bolts that pull the bed down, state a smaller least load."
            )
    return said


def _doubt(gain: float, uncertainty: float | None) -> list[str]:
    if uncertainty is not None and gain < 2.0 * uncertainty:
        return [
            f"The predicted gain of {gain * 1e6:.1f} um is less than twice the standard uncertainty of the flatness "
            f"({uncertainty * 1e6:.1f} um): read again before moving anything."
        ]
    return []
