"""What near and far readings say about the two practical procedures of bucking in.

A tilt t about the pivot and a shift x move the spot at distance s by s t + x. Let the beam stand off by e1 at s1 and by
e2 at s2.

*Rounds.* Shifting until near is right leaves d = e2 - e1 at far. Tilting until far is right moves near by -d s1/s2, and
the next shift brings d s1/s2 back to far: each round leaves the share s1/s2.

*Overshoot.* A shift moves both spots alike, so it brings both home only if both are equally far off, that is, if the
beam runs parallel to the datum line. The tilt for that is t = -(e2 - e1)/(s2 - s1), and far then stands off by
e2 + s2 t = (e1 s2 - e2 s1)/(s2 - s1): the offset of the beam at the pivot, which no tilt can move. If near was brought
home by a shift before, that is -d s1/(s2 - s1): far is tilted past home by the share s1/(s2 - s1) of what it was off.
"""

from __future__ import annotations

import numpy as np

from ..errors import GeometryError
from ..vectors import Floats, Indices
from .aim import Aim
from .near_far import LEAST_APART, End, NearFar

__all__ = ["overshoot_reading", "overshoot_share", "round_share", "rounds_needed", "tilt_distance"]


def tilt_distance(line: NearFar, end: End) -> float:
    """Distance of the target at which a tilt is watched from the pivot, metres.

    Raises
    ------
    GeometryError
        Where it stands at the pivot.
    """
    distance = line.distance(end)
    if abs(distance) < LEAST_APART:
        raise GeometryError(
            f"the {end.name.lower()} target stands at the pivot of the stage: a tilt turns the beam about that very "
            "point and does not move the spot; watch the other target while tilting, and this one while shifting"
        )
    return distance


def round_share(line: NearFar, shift_at: End | None = None) -> float:
    """Share of the error that a round "shift at one target, tilt at the other" leaves; negative: it swings over.

    ``shift_at`` is the target watched while shifting, by default the one nearer to the pivot.
    """
    first = line.shift_at if shift_at is None else shift_at
    return line.distance(first) / tilt_distance(line, first.other)


def rounds_needed(aim: Aim, within: float, shift_at: End | None = None) -> Indices:
    """Rounds until no reading is farther than ``within`` [m] from what is wanted ``(...)``; 0: it stands so already.

    Raises
    ------
    GeometryError
        Where rounds do not close at all.
    """
    if not within > 0.0:
        raise ValueError("readings can only be brought to within more than zero")
    share = abs(round_share(aim.line, shift_at))
    if share >= 1.0:
        raise GeometryError(_runs_away(aim.line, shift_at))
    off = np.abs(aim.off).max(axis=(-2, -1))
    apart = np.abs(aim.off[..., 1, :] - aim.off[..., 0, :]).max(axis=-1)
    with np.errstate(divide="ignore"):
        shrinks = np.log(within / apart) / np.log(share) if share > 0.0 else np.ones_like(apart)
    rounds: Indices = np.where(off <= within, 0, np.maximum(np.ceil(shrinks), 1.0)).astype(np.int64)
    return rounds


def _runs_away(line: NearFar, shift_at: End | None) -> str:
    first = line.shift_at if shift_at is None else shift_at
    shift, tilt = line.distance(first), line.distance(first.other)
    places = f"shifting {abs(shift):.3f} m and tilting {abs(tilt):.3f} m from the pivot"
    if abs(abs(shift) - abs(tilt)) < LEAST_APART:
        return (
            f"{places}: the pivot lies midway between the targets, so each tilt puts back at one what the shift took "
            "out at the other, and rounds never close; use the overshoot, or move one target"
        )
    return f"{places}: every round makes it worse; shift at the target nearer to the pivot and tilt at the farther one"


def overshoot_reading(aim: Aim, tilt_at: End = End.FAR) -> Floats:
    """Reading ``(..., 2)`` to set at ``tilt_at`` by tilt alone, after which one shift brings both targets home, metres.

    Raises
    ------
    GeometryError
        Where that target stands at the pivot.
    """
    tilt_distance(aim.line, tilt_at)
    result: Floats = aim.wanted[tilt_at] + aim.offset @ aim.line.targets_from_stage[tilt_at].T
    return result


def overshoot_share(line: NearFar, shift_at: End | None = None) -> float:
    """How far past home to tilt, as a share of what is read there once a shift has brought the other target home.

    Negative: stop short of home by that share, since the pivot lies between the targets.
    """
    first = line.shift_at if shift_at is None else shift_at
    shift, tilt = line.distance(first), tilt_distance(line, first.other)
    return shift / (tilt - shift)
