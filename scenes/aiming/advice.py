"""Everything that a person at the stage wants to know after one near and one far reading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..model.devices import Stage
from ..vectors import Indices
from .aim import Aim
from .closing import overshoot_share, round_share, rounds_needed
from .following import FOLLOWED, Read
from .near_far import End
from .procedures import (
    Procedure,
    perform_overshoot,
    perform_rounds,
    perform_setting,
    steps_outside,
    straight_stage,
)
from .setting import StageSetting
from .travel import Overrun, Turns, overruns_of, turns_of

__all__ = ["COVERAGE", "MOST_FORETOLD", "AimAdvice", "advise"]

COVERAGE = 2.0
"""Coverage factor of stated uncertainties, about 95 % for normal errors."""

MOST_FORETOLD = 6
"""Rounds that are foretold step by step, ..."""

SWINGS_FORETOLD = 2
"""... and these where rounds never close: enough to see it."""


@dataclass(frozen=True, slots=True, eq=False)
class AimAdvice:
    """What to set, and how.

    Attributes
    ----------
    aim : Aim
        Where the beam stands.
    stage : Stage
    setting : StageSetting
        Move that closes at once: its tilt alone makes the beam parallel, tilt and shift lay it on the datum line.
    turns : Turns
        The same in turns of the screws.
    overruns : tuple of Overrun
        Where the stage does not reach that far, counted from the middle of its travel.
    shift_at : End
        Target to watch while shifting; the other one while tilting.
    overshoot : Procedure
        Foretold: tilt past home, then shift.
    overshoot_share : float
        How far past home, as a share of the reading once the other target is home.
    rounds : Procedure
        Foretold: the first rounds of shift and tilt.
    round_share : float
        Share of the error that each round leaves.
    rounds_needed : int or None
        Until the readings are within what was asked; None where rounds never close, and ``rounds_trouble`` says why.
    outside_overshoot, outside_rounds : (k,) int
        Steps after which a spot would stand outside its detector; empty where no window is stated.
    lost_in_doubt : bool
        True where neither reading nor the angle is off by more than its own uncertainty: there is nothing to set.
    """

    aim: Aim
    stage: Stage
    setting: StageSetting
    turns: Turns
    overruns: tuple[Overrun, ...]
    shift_at: End
    overshoot: Procedure
    overshoot_share: float
    rounds: Procedure
    round_share: float
    rounds_needed: int | None
    rounds_trouble: str
    outside_overshoot: Indices
    outside_rounds: Indices
    lost_in_doubt: bool


def advise(
    aim: Aim, stage: Stage, within: float, window: ArrayLike | None = None, read: Read | None = None
) -> AimAdvice:
    """What to set so that the beam of ``aim`` (one, no trials) lies on its datum line.

    Parameters
    ----------
    aim : Aim
    stage : Stage
        Its screws and travel; infinite ranges and a pitch or lever of 0 where they are not stated.
    within : float
        How near to what is wanted both readings are to be brought, metres.
    window : (2,) or (2, 2) float, optional
        Full width and height of the detectors, metres.
    read : Read, optional
        What the targets will read while the stage is moved; by default what a straight beam does.
    """
    read, line, wanted = read or straight_stage(aim), aim.line, aim.wanted
    setting = perform_setting(read, line, FOLLOWED, wanted).steps[-1].setting
    needed, trouble = None, ""
    try:
        needed = int(rounds_needed(aim, within))
    except GeometryError as error:
        trouble = str(error)
    rounds = perform_rounds(
        read, line, within, wanted, most_rounds=MOST_FORETOLD if needed is not None else SWINGS_FORETOLD
    )
    overshoot = perform_overshoot(read, line, within, wanted)
    nowhere = np.full((2, 2), np.inf) if window is None else window
    return AimAdvice(
        aim, stage, setting, turns_of(setting, stage), overruns_of(setting, stage), line.shift_at,
        overshoot, overshoot_share(line), rounds, round_share(line), needed, trouble,
        steps_outside(overshoot, nowhere), steps_outside(rounds, nowhere), _in_doubt(aim),
    )  # fmt: skip


def _in_doubt(aim: Aim) -> bool:
    if aim.covariance is None:
        return False
    angle_u = aim.angle_u
    assert angle_u is not None
    assert aim.off_u is not None
    readings_in_doubt = np.abs(aim.off) <= COVERAGE * aim.off_u
    return bool(np.all(readings_in_doubt) and np.all(np.abs(aim.angle) <= COVERAGE * angle_u))
