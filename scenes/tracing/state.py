"""The state of a survey: everything in the measurement model that is not known exactly."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

import numpy as np

from ..vectors import Floats

__all__ = ["FIELDS", "NOMINAL", "RowState", "changed"]


def _zero() -> Floats:
    return np.zeros(())


@dataclass(frozen=True, slots=True, eq=False)
class RowState:
    """What each reading sees, as differences from the nominal layout; every field broadcasts to ``(..., m)``.

    A field has one value per row because a reading depends on one set-up, one station, one seating and one target only.
    Values shared by rows (the tilt of a set-up, say) are simply repeated; leading axes are trials.

    Attributes
    ----------
    deviation
        Surface above nominal along its normal at the station, m.
    tilt_x, tilt_y
        Rotation of the levelled base about its own x and y, rad.
    lift
        Base higher along its axis, m.
    cone
        Beam elevation beyond the stated one, rad.
    drift
        Change of that elevation with time, rad/s.
    elevation
        Beam elevation at this one reading (bearing), rad.
    turbulence
        Beam displaced upward at the detector by moving air, m.
    gradient
        Temperature gradient beyond the stated one, K/m.
    mount
        Mount higher than stated, m.
    roll
        Detector turned about the beam, clockwise as seen from the emitter, rad.
    scale
        Readings too large by this share, m/m.
    zero_h, zero_v
        Readings of a centred spot, m.
    noise_h, noise_v
        Last-digit errors of the reading, m.
    aim
        Where the crew puts the spot sideways, m to the right of the centre.
    """

    deviation: Floats = field(default_factory=_zero)
    tilt_x: Floats = field(default_factory=_zero)
    tilt_y: Floats = field(default_factory=_zero)
    lift: Floats = field(default_factory=_zero)
    cone: Floats = field(default_factory=_zero)
    drift: Floats = field(default_factory=_zero)
    elevation: Floats = field(default_factory=_zero)
    turbulence: Floats = field(default_factory=_zero)
    gradient: Floats = field(default_factory=_zero)
    mount: Floats = field(default_factory=_zero)
    roll: Floats = field(default_factory=_zero)
    scale: Floats = field(default_factory=_zero)
    zero_h: Floats = field(default_factory=_zero)
    zero_v: Floats = field(default_factory=_zero)
    noise_h: Floats = field(default_factory=_zero)
    noise_v: Floats = field(default_factory=_zero)
    aim: Floats = field(default_factory=_zero)


FIELDS: tuple[str, ...] = tuple(each.name for each in fields(RowState))
NOMINAL = RowState()


def changed(state: RowState, name: str, by: Floats | float) -> RowState:
    """``state`` with ``by`` added to one field; unknown names raise ``TypeError``."""
    return replace(state, **{name: getattr(state, name) + np.asarray(by, dtype=np.float64)})
