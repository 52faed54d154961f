"""From a setting to screws, and how far the travel of a stage reaches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.devices import Stage
from ..vectors import Floats
from .near_far import NearFar
from .setting import AS_FOUND, StageSetting

__all__ = ["Overrun", "Turns", "overruns_of", "reach_of", "turns_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Turns:
    """Turns of the screws of a stage, + = to the right and up ``(..., 2)``; None where the screw is not stated."""

    shift: Floats | None
    tilt: Floats | None


@dataclass(frozen=True, slots=True)
class Overrun:
    """A setting that the stage cannot reach along one axis.

    Attributes
    ----------
    move : str
        ``shift`` or ``tilt``.
    axis : str
        ``h`` (right, yaw) or ``v`` (up, pitch).
    asked : float
        Where the stage would have to stand, from the middle of its travel, metres or rad.
    most : float
        Its travel either way.
    """

    move: str
    axis: str
    asked: float
    most: float

    @property
    def beyond(self) -> float:
        """What is asked beyond the end of the travel, with its sign."""
        return float(np.copysign(abs(self.asked) - self.most, self.asked))


def turns_of(setting: StageSetting, stage: Stage) -> Turns:
    """Turns of the screws that make this move.

    A shift screw moves the emitter by its pitch with each turn; a tilt screw stands ``lever`` from the pivot and moves
    square to it, so that it has to advance by lever times the tangent of the tilt.
    """
    if stage.screw_pitch <= 0.0:
        return Turns(None, None)
    tilt = None if stage.lever <= 0.0 else stage.lever * np.tan(setting.tilt) / stage.screw_pitch
    return Turns(setting.shift / stage.screw_pitch, tilt)


def overruns_of(setting: StageSetting, stage: Stage, at: StageSetting = AS_FOUND) -> tuple[Overrun, ...]:
    """Where this move (one, no trials) leaves the travel of the stage, which stands ``at`` from its middle now."""
    end = at + setting
    asked = [("shift", end.shift, stage.shift_range), ("tilt", end.tilt, stage.tilt_range)]
    return tuple(
        Overrun(move, axis, float(value), most)
        for move, values, most in asked
        for axis, value in zip("hv", values, strict=True)
        if abs(value) > most
    )


def reach_of(stage: Stage, line: NearFar) -> Floats:
    """How far the stage moves the spot at near and far, either way from the middle of its travel ``(2,)``, metres."""
    result: Floats = stage.shift_range + np.abs(line.distances) * np.tan(min(stage.tilt_range, np.pi / 2))
    return result
