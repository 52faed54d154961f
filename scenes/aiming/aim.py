"""Where a beam stands against its datum line, from one near and one far reading.

Signs: h and yaw are + to the right as seen from the emitter, v and pitch are + upward, as in readings of targets. The
right-handed turn about "up" is therefore the negative of yaw. Right and up are those of the stage; a target that is
turned about the beam (``NearFar.turned``) shows them as its own h and v.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..vectors import Floats, frozen
from .near_far import NearFar

__all__ = ["LARGEST_ANGLE", "Aim", "aim_from_readings", "reading_covariance"]

LARGEST_ANGLE = 0.1
"""Beams farther off than this [rad] are turned by hand first: yaw and pitch no longer act each for itself."""


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """A straight beam through a near and a far reading; leading axes are trials.

    The datum line is the line on which both targets read what is wanted.

    Attributes
    ----------
    line : NearFar
        Where the targets stand.
    readings : (..., 2, 2) float
        Rows near, far; columns h, v; as the targets show them, metres.
    wanted : (2, 2) float
        What they show on the datum line, zeros of the targets included, metres.
    covariance : (2, 2, 2) float, optional
        Of ``off`` at near and far, to the right and then up, m2. None: not known.
    """

    line: NearFar
    readings: Floats
    wanted: Floats
    covariance: Floats | None = None

    @property
    def off(self) -> Floats:
        """How far the beam stands off the datum line, right and up, at near and far ``(..., 2, 2)``, metres."""
        result: Floats = np.einsum("eij,...ei->...ej", self.line.targets_from_stage, self.readings - self.wanted)
        return result

    @property
    def off_u(self) -> Floats | None:
        """Standard uncertainty of ``off`` from that of the readings ``(2, 2)``, metres."""
        if self.covariance is None:
            return None
        result: Floats = np.sqrt(np.diagonal(self.covariance, axis1=1, axis2=2)).T
        return result

    @property
    def slope(self) -> Floats:
        """Tangents of yaw and pitch of the beam to the datum line ``(..., 2)``."""
        off = self.off
        result: Floats = (off[..., 1, :] - off[..., 0, :]) / self.line.apart
        return result

    @property
    def angle(self) -> Floats:
        """Yaw and pitch of the beam to the datum line ``(..., 2)``, rad."""
        return np.arctan(self.slope)

    @property
    def angle_u(self) -> Floats | None:
        """Standard uncertainty of ``angle`` from that of the readings ``(..., 2)``, rad."""
        if self.covariance is None:
            return None
        weights = np.array([-1.0, 1.0]) / self.line.apart
        result: Floats = np.sqrt(weights @ (self.covariance @ weights).T) / (1.0 + self.slope**2)
        return result

    @property
    def offset(self) -> Floats:
        """How far the beam stands off the datum line at the pivot ``(..., 2)``, metres."""
        return self.off_at(0.0)

    @property
    def offset_u(self) -> Floats | None:
        """Standard uncertainty of ``offset`` ``(2,)``, metres."""
        return self.off_u_at(0.0)

    def off_at(self, distance: float) -> Floats:
        """How far the beam stands off the datum line at ``distance`` [m] from the pivot ``(..., 2)``, metres."""
        off = self.off
        near, far = self._weights(distance)
        result: Floats = near * off[..., 0, :] + far * off[..., 1, :]
        return result

    def off_u_at(self, distance: float) -> Floats | None:
        """Standard uncertainty of ``off_at`` ``(2,)``: least between the targets, growing beyond them, metres."""
        if self.covariance is None:
            return None
        weights = self._weights(distance)
        result: Floats = np.sqrt(weights @ (self.covariance @ weights).T)
        return result

    def _weights(self, distance: float) -> Floats:
        """Weights ``(2,)`` of the near and the far reading in the place of a straight beam."""
        return np.array([self.line.far - distance, distance - self.line.near]) / self.line.apart


def reading_covariance(reading_u: ArrayLike, zero_u: float = 0.0, same_target: bool = False) -> Floats:
    """Covariance ``(2, 2)`` of a near and a far reading of one axis, m2.

    Parameters
    ----------
    reading_u : float or (2,) float
        Standard uncertainty of a reading, for near and far, metres.
    zero_u : float
        Standard uncertainty of a target's zero, metres.
    same_target : bool
        One target is moved from near to far: it takes the error of its zero with it, and the angle is free of it.
    """
    reading = np.broadcast_to(np.asarray(reading_u, dtype=np.float64), (2,))
    shared = np.ones((2, 2)) if same_target else np.eye(2)
    return frozen(np.diag(reading**2) + zero_u**2 * shared)


def aim_from_readings(
    readings: ArrayLike, line: NearFar, wanted: ArrayLike | None = None, covariance: ArrayLike | None = None
) -> Aim:
    """Where the beam stands that gave these readings.

    Parameters
    ----------
    readings : (..., 2, 2) float
        Rows near, far; columns h, v; as the targets show them, metres.
    line : NearFar
    wanted : (2, 2) float, optional
        What the targets show on the datum line: their zeros, plus the offsets of remote zeroing; default 0, metres.
    covariance : (2, 2) or (2, 2, 2) float, optional
        See ``reading_covariance``; that of ``h`` and of ``v``, where they are not the same.

    Raises
    ------
    GeometryError
        A beam that stands farther off than ``LARGEST_ANGLE``.
    """
    values = frozen(readings)
    if values.shape[-2:] != (2, 2):
        raise ValueError(f"readings (..., 2, 2) were expected, not {values.shape}")
    aim = Aim(
        line,
        values,
        frozen(np.zeros((2, 2)) if wanted is None else wanted, (2, 2)),
        None if covariance is None else frozen(np.broadcast_to(np.asarray(covariance, dtype=np.float64), (2, 2, 2))),
    )
    steepest = float(np.abs(aim.angle).max(initial=0.0))
    if steepest > LARGEST_ANGLE:
        raise GeometryError(
            f"the beam stands {steepest:.2f} rad off the datum line, {abs(aim.line.apart):.3f} m from near to far: "
            "that is no fine setting; turn the emitter by hand until both targets read, or check distances and units"
        )
    return aim
