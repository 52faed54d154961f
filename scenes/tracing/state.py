"""The state of a survey: everything in the measurement model that is not known exactly."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

import numpy as np

from ..vectors import Floats

__all__ = ["FIELDS", "MOST_PLATES", "NOMINAL", "PLATE_FIELDS", "RowState", "changed", "value_of"]

MOST_PLATES = 12
"""See-through targets that one beam may pass."""


def _zero() -> Floats:
    return np.zeros(())


@dataclass(frozen=True, slots=True, eq=False)
class RowState:
    """What each reading sees, as differences from the nominal layout; every field broadcasts to ``(..., m)``.

    A field has one value per row because a reading depends on one set-up, one station, one seating and one target only.
    Values shared by rows (the tilt of a set-up, say) are simply repeated; leading axes are trials. Fields of plates
    have one more axis at the end, one entry per place at which the beam may pass a plate, in the order of the light; a
    name such as ``wedge_h.2`` speaks of one of them.

    Attributes
    ----------
    deviation, deviation_side, deviation_along
        Surface above nominal along its normal, beside it along normal x along, and ahead of it along ``along``, m.
    tilt_x, tilt_y, tilt_z
        Rotation of the emitter's frame about its own axes, rad. A base has its axis of turning along z; a line has its
        nominal beam along x and its up along z, so that a beam that rises has a negative tilt_y.
    shift, lift
        Emitter's frame displaced along its own y and z, m.
    cone, cone_side
        Elevation of the beam over the plane square to the axis of the base, and its swing toward y, beyond what is
        stated, rad; they turn with the emitter.
    offset_y, offset_z
        Beam beside the axis about which its emitter is turned, m; they turn with the emitter.
    drift, drift_side
        Change of the elevation and of the swing with time, rad/s.
    elevation
        Beam elevation at this one reading (bearing), rad.
    turbulence, turbulence_side
        Beam displaced up and to the right at the detector by moving air, m.
    gradient
        Temperature gradient beyond the stated one, K/m.
    prism_x, prism_y, prism_z
        Nose of the prism displaced in its own frame (x along the beam, on which it is centred), m.
    prism_ry, prism_rz
        Tilt of its turning axis against the beam, rad.
    prism_turn
        Turn about that axis beyond the one that is set, rad.
    mirror, pyramid
        Errors of the prism beyond the stated ones, rad.
    wedge_h, wedge_v
        Angle between the faces of a plate, thicker to the right and above, rad.
    plate_nod, plate_swing
        Tilt of a plate about its h and its v axis, rad.
    mount, mount_side
        Mount higher and farther along the side axis than stated, m.
    lean, nod, swing
        Pad under the mount turned about the axis toward the emitter, about h and about v, rad.
    eccentric_h, eccentric_v
        Detector off the axis of its discs, m; they turn with the clock.
    roll
        Detector turned about the beam, clockwise as seen from the emitter, rad.
    scale
        Readings too large by this share, m/m.
    zero_h, zero_v, zero_pitch, zero_yaw
        Readings of a centred spot, m, and of a square beam, rad.
    noise_h, noise_v, noise_pitch, noise_yaw
        Last-digit errors of the reading, m and rad.
    aim
        Where the crew puts the spot in the direction that carries no information, m.
    """

    deviation: Floats = field(default_factory=_zero)
    deviation_side: Floats = field(default_factory=_zero)
    deviation_along: Floats = field(default_factory=_zero)
    tilt_x: Floats = field(default_factory=_zero)
    tilt_y: Floats = field(default_factory=_zero)
    tilt_z: Floats = field(default_factory=_zero)
    shift: Floats = field(default_factory=_zero)
    lift: Floats = field(default_factory=_zero)
    cone: Floats = field(default_factory=_zero)
    cone_side: Floats = field(default_factory=_zero)
    offset_y: Floats = field(default_factory=_zero)
    offset_z: Floats = field(default_factory=_zero)
    drift: Floats = field(default_factory=_zero)
    drift_side: Floats = field(default_factory=_zero)
    elevation: Floats = field(default_factory=_zero)
    turbulence: Floats = field(default_factory=_zero)
    turbulence_side: Floats = field(default_factory=_zero)
    gradient: Floats = field(default_factory=_zero)
    prism_x: Floats = field(default_factory=_zero)
    prism_y: Floats = field(default_factory=_zero)
    prism_z: Floats = field(default_factory=_zero)
    prism_ry: Floats = field(default_factory=_zero)
    prism_rz: Floats = field(default_factory=_zero)
    prism_turn: Floats = field(default_factory=_zero)
    mirror: Floats = field(default_factory=_zero)
    pyramid: Floats = field(default_factory=_zero)
    wedge_h: Floats = field(default_factory=_zero)
    wedge_v: Floats = field(default_factory=_zero)
    plate_nod: Floats = field(default_factory=_zero)
    plate_swing: Floats = field(default_factory=_zero)
    mount: Floats = field(default_factory=_zero)
    mount_side: Floats = field(default_factory=_zero)
    lean: Floats = field(default_factory=_zero)
    nod: Floats = field(default_factory=_zero)
    swing: Floats = field(default_factory=_zero)
    eccentric_h: Floats = field(default_factory=_zero)
    eccentric_v: Floats = field(default_factory=_zero)
    roll: Floats = field(default_factory=_zero)
    scale: Floats = field(default_factory=_zero)
    zero_h: Floats = field(default_factory=_zero)
    zero_v: Floats = field(default_factory=_zero)
    zero_pitch: Floats = field(default_factory=_zero)
    zero_yaw: Floats = field(default_factory=_zero)
    noise_h: Floats = field(default_factory=_zero)
    noise_v: Floats = field(default_factory=_zero)
    noise_pitch: Floats = field(default_factory=_zero)
    noise_yaw: Floats = field(default_factory=_zero)
    aim: Floats = field(default_factory=_zero)


PLATE_FIELDS = ("wedge_h", "wedge_v", "plate_nod", "plate_swing")
"""Fields with one entry per plate."""

FIELDS: tuple[str, ...] = tuple(
    name
    for each in fields(RowState)
    for name in ([f"{each.name}.{k}" for k in range(MOST_PLATES)] if each.name in PLATE_FIELDS else [each.name])
)
NOMINAL = RowState()


def value_of(state: RowState, name: str) -> Floats:
    """One field ``(..., m)``; ``wedge_h.2`` is that of the third plate."""
    field_name, _, plate = name.partition(".")
    value: Floats = np.asarray(getattr(state, field_name))
    return value if not plate else value[..., int(plate)] if value.ndim else value


def changed(state: RowState, name: str, by: Floats | float) -> RowState:
    """``state`` with ``by`` added to one field; unknown names raise ``TypeError``."""
    field_name, _, plate = name.partition(".")
    amount: Floats = np.asarray(by, dtype=np.float64)
    if plate:
        amount = amount[..., None] * (np.arange(MOST_PLATES) == int(plate))
    return replace(state, **{field_name: getattr(state, field_name, 0.0) + amount})
