"""Settings of a stage: two shifts across the beam and two tilts about its pivot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..vectors import Floats, frozen
from .aim import Aim

__all__ = ["AS_FOUND", "StageSetting", "closing_setting", "parallel_setting"]


@dataclass(frozen=True, slots=True, eq=False)
class StageSetting:
    """Where a stage stands, or by how much it is moved; leading axes are trials.

    Attributes
    ----------
    shift : (..., 2) float
        To the right and up, metres.
    tilt : (..., 2) float
        Yaw (beam to the right) and pitch (beam rises), rad.
    """

    shift: Floats
    tilt: Floats

    def __post_init__(self) -> None:
        """Copy, check and freeze the arrays."""
        for name in ("shift", "tilt"):
            values = frozen(getattr(self, name))
            if values.shape[-1:] != (2,):
                raise ValueError(f"a {name} (..., 2) was expected, not {values.shape}")
            object.__setattr__(self, name, values)

    def __add__(self, other: StageSetting) -> StageSetting:
        """Setting after a further move."""
        return StageSetting(self.shift + other.shift, self.tilt + other.tilt)


AS_FOUND = StageSetting(np.zeros(2), np.zeros(2))
"""A stage that has not been moved yet."""


def parallel_setting(aim: Aim) -> StageSetting:
    """Move that makes the beam parallel to the datum line: tilt alone; it then runs ``aim.offset`` beside it."""
    return StageSetting(np.zeros_like(aim.offset), -aim.angle)


def closing_setting(aim: Aim) -> StageSetting:
    """Move that lays the beam on the datum line at once.

    Yaw and pitch are each exact; both together leave about half of distance times angle cubed, since a stage that
    swings and rises does not do so in two separate planes. A second pass takes that out.
    """
    return StageSetting(-aim.offset, -aim.angle)
