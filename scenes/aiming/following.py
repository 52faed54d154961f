"""Turning screws until one target reads what it should, as a person does: look, turn, look again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..vectors import Floats, frozen
from .near_far import End
from .setting import StageSetting

__all__ = ["FOLLOWED", "Move", "Read", "Step", "follow", "read_step"]

Read = Callable[[Floats, Floats], ArrayLike]
"""``read(shift, tilt)``: readings ``(2, 2)``, rows near, far, columns h, v [m], with the stage at shift ``(2,)`` [m]
(right and up) and tilt ``(2,)`` [rad] (yaw to the right and pitch up), both counted from where it stood as found."""

FOLLOWED = 1.0e-9
"""A screw is turned until the reading is this near [m]; give more where readings scatter."""

MOST_LOOKS = 30
DEAD = 1.0e-6  # a reading that answers by less than this share does not follow
WILD = 10.0  # one that goes off by this factor does not either


class Move(StrEnum):
    """What was done in a step."""

    START = "start"
    SHIFT = "shift"
    TILT = "tilt"
    SET = "set"


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One step of a procedure, and what both targets read after it.

    Attributes
    ----------
    round : int
        Counts from 1; 0 for the start.
    move : Move
    end : End or None
        The target that was watched.
    aimed : (2,) float or None
        What it was to read, metres.
    setting : StageSetting
        Where the stage stands now.
    readings : (2, 2) float
        Rows near, far; columns h, v; metres.
    """

    round: int
    move: Move
    end: End | None
    aimed: Floats | None
    setting: StageSetting
    readings: Floats


def read_step(read: Read, setting: StageSetting, number: int, move: Move) -> Step:
    """Step that sets the stage and reads.

    Raises
    ------
    GeometryError
        Where a target reads nothing.
    """
    return Step(number, move, None, None, setting, _look(read, setting))


def _look(read: Read, setting: StageSetting) -> Floats:
    readings = np.asarray(read(setting.shift, setting.tilt), dtype=np.float64)
    if readings.shape != (2, 2):
        raise ValueError(f"near and far readings (2, 2) were expected, not {readings.shape}")
    if not np.isfinite(readings).all():
        lost = " and ".join(end.name.lower() for end in End if not np.isfinite(readings[end]).all())
        raise GeometryError(
            f"the beam does not reach the {lost} target at this setting, so there is nothing to aim by; aim roughly by "
            "hand until both targets read"
        )
    return frozen(readings)


def follow(
    read: Read,
    last: Step,
    number: int,
    move: Move,
    end: End,
    aimed: Floats,
    expected: Floats,
    followed: float = FOLLOWED,
) -> Step:
    """Step that turns both screws of one kind until the target at ``end`` reads ``aimed``.

    How the reading answers is learned while turning (rank-one updates), so that a wrongly stated distance, a rolled
    target or a bent beam does no harm.

    Parameters
    ----------
    expected : (2, 2) float
        Answer of h and v to the two screws by which the first turn is made, m/m for a shift and m/rad for a tilt.

    Raises
    ------
    GeometryError
        Where the reading does not follow the screws.

    Source: C. G. Broyden, A class of methods for solving nonlinear simultaneous equations, Math. Comp. 19 (1965) 577.
    """
    setting, readings, answer = last.setting, last.readings, expected
    off = readings[end] - aimed
    for _ in range(MOST_LOOKS):
        if np.abs(off).max() <= followed:
            return Step(number, move, end, frozen(aimed), setting, readings)
        try:
            turn = -np.linalg.solve(answer, off)
        except np.linalg.LinAlgError:
            break
        setting = setting + _moved(move, turn)
        readings = _look(read, setting)
        left = readings[end] - aimed
        largest = np.abs(off).max()
        if np.abs(left - off).max() < DEAD * largest or np.abs(left).max() > WILD * largest:
            break
        answer = answer + np.outer(left, turn) / (turn @ turn)
        off = left
    left_um = np.abs(off).max() * 1e6
    raise GeometryError(
        f"the reading of the {end.name.lower()} target does not follow the {move}: it stays {left_um:.3g} um off; "
        "check the distance from the pivot, and that this beam is the one that the stage moves"
    )


def _moved(move: Move, turn: Floats) -> StageSetting:
    still = np.zeros(2)
    return StageSetting(turn, still) if move is Move.SHIFT else StageSetting(still, turn)
