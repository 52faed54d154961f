"""The ways to aim, carried out on any stage that can be read; every reading between is kept, to be told or animated.

``read`` may be the traced model, a simulation or (``straight_stage``) what the first readings predict.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..vectors import Floats, Indices, frozen
from .aim import Aim, aim_from_readings
from .closing import overshoot_reading, tilt_distance
from .following import FOLLOWED, Move, Read, Step, follow, read_step
from .near_far import End, NearFar
from .setting import AS_FOUND, StageSetting, closing_setting

__all__ = ["Procedure", "perform_overshoot", "perform_rounds", "perform_setting", "steps_outside", "straight_stage"]

MOST_ROUNDS = 20


@dataclass(frozen=True, slots=True, eq=False)
class Procedure:
    """A procedure as it went, or as it is predicted to go.

    Attributes
    ----------
    steps : tuple of Step
        The first is the start.
    wanted : (2, 2) float
        What the targets show on the datum line, metres.
    within : float
        It ends when no reading is farther off than this, metres.
    """

    steps: tuple[Step, ...]
    wanted: Floats
    within: float

    @property
    def off(self) -> Floats:
        """How far the beam stood off at near and far after each step ``(n, 2, 2)``, metres."""
        return np.stack([step.readings for step in self.steps]) - self.wanted

    @property
    def left(self) -> float:
        """Largest of what is left at the end, metres."""
        return float(np.abs(self.off[-1]).max())

    @property
    def closed(self) -> bool:
        """True where it ended within what was asked."""
        return self.left <= self.within

    @property
    def rounds(self) -> int:
        """Rounds that were made."""
        return self.steps[-1].round


def straight_stage(aim: Aim) -> Read:
    """Reader that predicts near and far readings of one straight beam while its stage is moved."""

    def read(shift: Floats, tilt: Floats) -> Floats:
        off = aim.offset + shift + aim.line.distances[:, None] * np.tan(aim.angle + tilt)
        result: Floats = aim.wanted + np.einsum("eij,ej->ei", aim.line.targets_from_stage, off)
        return result

    return read


def _start(read: Read, wanted: ArrayLike | None, start: StageSetting) -> tuple[list[Step], Floats]:
    return [read_step(read, start, 0, Move.START)], frozen(np.zeros((2, 2)) if wanted is None else wanted, (2, 2))


def _answers(line: NearFar, first: End) -> tuple[Floats, Floats]:
    """Answers ``(2, 2)`` to a shift of the target ``first``, and to a tilt of the other one."""
    seen = line.targets_from_stage
    return seen[first], tilt_distance(line, first.other) * seen[first.other]


def _closed(step: Step, wanted: Floats, within: float) -> bool:
    return bool(np.abs(step.readings - wanted).max() <= within)


def perform_rounds(
    read: Read,
    line: NearFar,
    within: float,
    wanted: ArrayLike | None = None,
    *,
    most_rounds: int = MOST_ROUNDS,
    shift_at: End | None = None,
    start: StageSetting = AS_FOUND,
    followed: float = FOLLOWED,
) -> Procedure:
    """Rounds of "shift until one target is right, tilt until the other is", until both are right or rounds run out.

    Parameters
    ----------
    read : Read
    line : NearFar
        Only tells how far to turn at the first look; rounds need no distances.
    within : float
        End when no reading is farther off than this, metres.
    wanted : (2, 2) float, optional
        What the targets show on the datum line, metres; default 0.
    shift_at : End, optional
        Target watched while shifting; default: the one nearer to the pivot. The other way round runs away.
    start : StageSetting
        Where the stage stands at the start.
    followed : float
        A screw is turned until its reading is this near, metres.

    Raises
    ------
    GeometryError
        A target at the pivot while tilting, a beam that leaves a target, a reading that does not follow.
    """
    first = line.shift_at if shift_at is None else shift_at
    of_shift, of_tilt = _answers(line, first)
    steps, home = _start(read, wanted, start)
    moves = ((Move.SHIFT, first, of_shift), (Move.TILT, first.other, of_tilt))
    for number, (move, end, expected) in ((n + 1, each) for n in range(most_rounds) for each in moves):
        if _closed(steps[-1], home, within):
            break
        steps.append(follow(read, steps[-1], number, move, end, home[end], expected, followed))
    return Procedure(tuple(steps), home, within)


def perform_overshoot(
    read: Read,
    line: NearFar,
    within: float,
    wanted: ArrayLike | None = None,
    *,
    most_rounds: int = MOST_ROUNDS,
    shift_at: End | None = None,
    start: StageSetting = AS_FOUND,
    followed: float = FOLLOWED,
) -> Procedure:
    """Tilt until one target reads ``overshoot_reading``, then shift until the other is right: both are, in one round.

    Further rounds take out what wrong distances or a large angle have left. Arguments and errors are those of
    ``perform_rounds``.
    """
    first = line.shift_at if shift_at is None else shift_at
    of_shift, of_tilt = _answers(line, first)
    steps, home = _start(read, wanted, start)
    for number in range(1, most_rounds + 1):
        if _closed(steps[-1], home, within):
            break
        aim = aim_from_readings(steps[-1].readings, line, home)
        past = overshoot_reading(aim, first.other)
        steps.append(follow(read, steps[-1], number, Move.TILT, first.other, past, of_tilt, followed))
        steps.append(follow(read, steps[-1], number, Move.SHIFT, first, home[first], of_shift, followed))
    return Procedure(tuple(steps), home, within)


def perform_setting(
    read: Read,
    line: NearFar,
    within: float,
    wanted: ArrayLike | None = None,
    *,
    most_rounds: int = MOST_ROUNDS,
    start: StageSetting = AS_FOUND,
) -> Procedure:
    """Set shift and tilt at once by the scales of the screws, without watching; then read again.

    Arguments and errors are those of ``perform_rounds``.
    """
    steps, home = _start(read, wanted, start)
    for number in range(1, most_rounds + 1):
        if _closed(steps[-1], home, within):
            break
        aim = aim_from_readings(steps[-1].readings, line, home)
        steps.append(read_step(read, steps[-1].setting + closing_setting(aim), number, Move.SET))
    return Procedure(tuple(steps), home, within)


def steps_outside(procedure: Procedure, window: ArrayLike) -> Indices:
    """Numbers ``(k,)`` of the steps after which a spot stands outside its detector.

    Parameters
    ----------
    window : (2,) or (2, 2) float
        Full width and height of the detector, for both targets or for near and far, metres.
    """
    readings = np.stack([step.readings for step in procedure.steps])
    outside = np.abs(readings) > 0.5 * np.broadcast_to(np.asarray(window, dtype=np.float64), (2, 2))
    return np.flatnonzero(outside.any(axis=(1, 2))).astype(np.int64)
