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
MOST_TILT = 50e-6  # radians; a press bed is usually kept square to its slide within 0.05 mm/m (common practice)


def remarks_on(
    problem: LiftProblem,
    influence: Influence,
    lifts: Floats,
    own_loads: Floats | None,
    gain: float,
    uncertainty: float | None,
    keep_loads: bool,
    tilt: Floats | None,
    names: tuple[str, ...],
) -> tuple[str, ...]:
    """Warnings about a proposal of ``lifts`` that makes the zone narrower by ``gain`` [m].

    ``tilt`` is the turn [rad] of the whole bed about x and y where it is a side effect; ``names`` are those of the
    feet.
    """
    return (
        *_blind_feet(problem, names),
        *_few_stations(problem),
        *_planes(problem, influence),
        *_travel(problem, lifts, names),
        *_tilt(tilt),
        *_loads(problem, influence, lifts, own_loads, keep_loads, names),
        *_doubt(gain, uncertainty),
    )


def _named(feet: NDArray[np.bool_], names: tuple[str, ...]) -> str:
    """``F2``, ``F2 and F5``, or ``F2, F3 and F5`` for the positions that are true."""
    chosen = [names[k] for k in np.flatnonzero(feet)]
    return " and ".join([", ".join(chosen[:-1]), chosen[-1]] if len(chosen) > 1 else chosen)


def _starting(text: str) -> str:
    """The same text with a capital at its start."""
    return text[:1].upper() + text[1:]


def _blind_feet(problem: LiftProblem, names: tuple[str, ...]) -> list[str]:
    unseen = np.abs(problem.matrix).max(axis=0) < BLIND
    if unseen.any():
        return [f"No station sees {_named(unseen, names)}: a lift there moves none of them, so none is proposed."]
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


def _travel(problem: LiftProblem, lifts: Floats, names: tuple[str, ...]) -> list[str]:
    if not problem.highest.any() and not problem.lowest.any():
        return ["No foot can move: the travel is zero, or less than the thinnest shim."]
    full = (problem.highest > 0.0) & (
        (lifts >= problem.highest - AT_LIMIT) | ((problem.lowest < 0.0) & (lifts <= problem.lowest + AT_LIMIT))
    )
    if not full.any():
        return []
    uses = "uses its" if full.sum() == 1 else "use their"
    return [
        f"{_starting(_named(full, names))} {uses} whole travel, or the thickest stack within it: more travel may make "
        "the bed better."
    ]


def _tilt(tilt: Floats | None) -> list[str]:
    if tilt is None or float(np.linalg.norm(tilt)) <= MOST_TILT:
        return []
    about_x, about_y = tilt * 1e3
    return [
        f"The lifts tilt the whole bed by {about_x:+.2f} mm/m about x and {about_y:+.2f} mm/m about y, more than the "
        f"{MOST_TILT * 1e3:g} mm/m of common practice: check that it stays square to its slide and level enough."
    ]


def _loads(
    problem: LiftProblem,
    influence: Influence,
    lifts: Floats,
    own: Floats | None,
    keep_loads: bool,
    names: tuple[str, ...],
) -> list[str]:
    if own is None or influence.load_change is None:
        if influence.kind == "rigid" or influence.sideways:
            return []
        return ["The loads on the feet are not known, so nothing stops this proposal from taking a foot off its seat."]
    said = []
    if (own <= 0.0).any():
        said.append(f"The weight does not rest on {_named(own <= 0.0, names)} as found: a soft foot. Seat it first.")
    after = own + influence.load_change @ lifts
    lost = (after <= 0.0) & (own > 0.0)
    if lost.any():
        said.append(
            f"{_starting(_named(lost, names))} would lift off; the bed then no longer follows the influence, and this "
            "prediction does not hold unless bolts hold the bed down."
        )
    if keep_loads and problem.least_loads is not None:
        total = float(np.abs(own).sum())
        held = after <= problem.least_loads + 1e-6 * total
        if held.any():
            left = ", ".join(f"{load:.0f} N" for load in after[held])
            said.append(
                f"The least load on {_named(held, names)} limits the proposal ({left} left). With bolts that "
                "pull the bed down, state a smaller least load."
            )
    return said


def _doubt(gain: float, uncertainty: float | None) -> list[str]:
    if uncertainty is not None and gain < 2.0 * uncertainty:
        return [
            f"The predicted gain of {gain * 1e6:.1f} um is less than twice the standard uncertainty of the flatness "
            f"({uncertainty * 1e6:.1f} um): read again before moving anything."
        ]
    return []
