"""Near and far target of one beam, as distances from the pivot of its stage."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from ..errors import GeometryError
from ..vectors import Floats

__all__ = ["LEAST_APART", "End", "NearFar", "near_far_from_tape"]

LEAST_APART = 1.0e-3
"""Near and far target must stand this far apart [m] to tell an angle."""


class End(IntEnum):
    """Target at which a reading is watched; its number is that of its row in ``(..., 2, 2)`` readings."""

    NEAR = 0
    FAR = 1

    @property
    def other(self) -> End:
        """The other target."""
        return End(1 - self)


@dataclass(frozen=True, slots=True)
class NearFar:
    """Distances of the two targets from the pivot of the stage, metres, + = the way the light goes.

    The pivot may lie behind both targets, between them or beyond them.

    Attributes
    ----------
    near, far : float
    turned : two float
        Turn of each target about the beam against the screws of the stage, clockwise as seen from the emitter, rad: a
        target on the side of a machine has its v lying down.

    Raises
    ------
    GeometryError
        Both targets at one place.
    """

    near: float
    far: float
    turned: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        """Refuse targets that set no line."""
        if not (math.isfinite(self.near) and math.isfinite(self.far)):
            raise ValueError("distances of targets must be finite")
        if abs(self.apart) < LEAST_APART:
            raise GeometryError(
                f"near and far target stand at one place ({self.near:.3f} m from the pivot): two readings of one place "
                "tell where the beam is but not where it goes; move one target along the beam, the farther the better"
            )

    @property
    def apart(self) -> float:
        """Distance from near to far, metres; negative where far is the one that the light reaches first."""
        return self.far - self.near

    @property
    def distances(self) -> Floats:
        """Both distances ``(2,)``, near first, metres."""
        return np.array([self.near, self.far])

    def distance(self, end: End) -> float:
        """Distance of one target from the pivot, metres."""
        return self.far if end is End.FAR else self.near

    @property
    def targets_from_stage(self) -> Floats:
        """How the axes of both targets see moves of the spot along the axes of the stage ``(2, 2, 2)``, near first."""
        cos, sin = np.cos(self.turned), np.sin(self.turned)
        result: Floats = np.moveaxis(np.array([[cos, -sin], [sin, cos]]), -1, 0)
        return result

    @property
    def shift_at(self) -> End:
        """The target nearer to the pivot: shifting there and tilting at the other closes, the reverse runs away."""
        return End.FAR if abs(self.far) < abs(self.near) else End.NEAR


def near_far_from_tape(near: float, far: float, pivot: float = 0.0) -> NearFar:
    """Distances from the pivot, of places that are all measured along the beam from one zero, metres."""
    return NearFar(near - pivot, far - pivot)
