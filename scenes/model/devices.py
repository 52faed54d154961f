"""Devices, each with its error sources as standard uncertainties in SI units."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

__all__ = ["Device", "Emitter", "Origins", "Prism", "RotaryBase", "Stage", "Target", "Vial"]

Origins = dict[str, str]
"""Field name -> where its value comes from, in words: ``catalogue: ...`` or ``layout line 12``."""


@dataclass(frozen=True, slots=True, eq=False)
class Emitter:
    """Laser in a block or cylindrical housing.

    Attributes
    ----------
    wavelength, waist_radius : float
        Metres; the beam radius follows w(z) = w0 sqrt(1 + (z/zR)^2).
    beam_height : float
        Beam above the mounting side of the housing, metres.
    nearest, farthest : float
        Usable range, metres.
    drift : float
        Standard uncertainty of the change of the beam's elevation with time, rad/s.
    turbulence : float
        Standard uncertainty of one averaged reading from moving air at 1 m, metres; grows with length to the power 1.5.
    pointing : float
        Standard uncertainty of the direction of the beam against its housing (base and sides, or shank), rad.
    parallel_offset : float
        Standard uncertainty of the place of the beam against its housing, metres.
    """

    name: str
    kind: str
    wavelength: float
    waist_radius: float
    beam_height: float
    nearest: float
    farthest: float
    drift: float
    turbulence: float
    pointing: float = 0.0
    parallel_offset: float = 0.0
    line: int = 0
    origins: Origins = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class RotaryBase:
    """Base that turns the emitter and so sweeps a flat reference plane.

    Attributes
    ----------
    height : float
        Mounting side of the emitter above the foot of the base, metres.
    tilt_range : float
        Largest tilt that its screws allow, rad.
    cone, cone_known_to : float
        Beam not square to the axis of turning: best value (+ = beam rises) and standard uncertainty, rad.
    wobble : float
        Standard uncertainty of the beam's elevation from the bearing, at any one azimuth, rad.
    """

    name: str
    kind: str
    height: float
    tilt_range: float
    cone: float
    cone_known_to: float
    wobble: float
    line: int = 0
    origins: Origins = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """Position-sensing detector with two axes, h to the right and v up as seen from the emitter.

    Attributes
    ----------
    window_h, window_v : float
        Full width and height of the sensitive area, metres.
    centre_height : float
        Centre of the detector above the foot of the target, metres.
    resolution : float
        Standard uncertainty of one reading from the detector alone, metres.
    linearity : float
        Standard uncertainty of a reading from non-linearity, as a share of the distance of the spot from the centre.
    zero_h, zero_v : float
        Known reading of a centred spot, metres; taken off every reading.
    zero_known_to : float
        Standard uncertainty of the zero, metres; the same for all readings of this target.
    roll : float
        Standard uncertainty of the roll of the target about the beam in its mount, rad; anew at each seating.
    largest_spot : float
        Largest beam radius that is read properly, metres.
    angular_range : float
        Largest angle of the beam to the detector's normal that is read properly, rad.
    least_light : float
        Least share of the emitter's light that is read properly.
    reach : float
        Cable or radio reach from the emitter, metres; inf where none is stated.
    reads_angles : bool
        True where it also reads pitch and yaw of the beam.
    angle_resolution, angle_zero_known_to : float
        Standard uncertainties of one reading of an angle and of its zero, rad.
    angle_window : float
        Largest angle that it reads either way, rad.
    step : float
        Distance between its two feet along the line of stations, metres; 0: it stands on one foot.
    passes : float
        Share of the light that goes on to targets behind it; 0: none.
    thickness, index : float
        Of its glass plate, metres and plain number.
    wedge_known_to, plate_tilt_known_to : float
        Standard uncertainties of the angle between the faces of the plate and of its tilt to the beam, rad.
    """

    name: str
    kind: str
    window_h: float
    window_v: float
    centre_height: float
    resolution: float
    linearity: float
    zero_h: float
    zero_v: float
    zero_known_to: float
    roll: float
    largest_spot: float
    angular_range: float = math.inf
    least_light: float = 0.0
    reach: float = math.inf
    reads_angles: bool = False
    angle_resolution: float = 0.0
    angle_zero_known_to: float = 0.0
    angle_window: float = 0.0
    step: float = 0.0
    passes: float = 0.0
    thickness: float = 0.0
    index: float = 1.0
    wedge_known_to: float = 0.0
    plate_tilt_known_to: float = 0.0
    line: int = 0
    origins: Origins = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Prism:
    """Pentaprism in a turnable nose: one line square to the beam, or a swept plane.

    Attributes
    ----------
    aperture : float
        Clear side of its entrance and exit faces, metres.
    index : float
        Of its glass.
    height : float
        Crossing of the incoming and the exit axis above the foot of its own mount, metres.
    passes : float
        Share of the light that leaves it.
    mirror, mirror_known_to : float
        Angle between its mirrors less 45 degrees: best value and standard uncertainty, rad. The exit turns by
        2 n times that, toward the incoming direction where positive.
    pyramid, pyramid_known_to : float
        Tilt of a mirror out of the principal section: best value and standard uncertainty, rad.
    axis_known_to : float
        Standard uncertainty of the nose's turning axis against the beam, rad, either way.
    turn_known_to : float
        Standard uncertainty of the turn to which a fixed line is set, rad.
    """

    name: str
    kind: str
    aperture: float
    index: float
    height: float
    passes: float
    mirror: float
    mirror_known_to: float
    pyramid: float
    pyramid_known_to: float
    axis_known_to: float
    turn_known_to: float
    line: int = 0
    origins: Origins = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """Fine adjustment of an emitter: two shifts and two angles.

    Attributes
    ----------
    height : float
        Mounting side of the emitter above the foot of the stage, metres.
    shift_range, tilt_range : float
        Largest shift and tilt either way, metres and rad.
    screw_pitch : float
        Shift for one turn of a screw, metres; 0: not stated.
    lever : float
        Distance of a tilt screw from its pivot, metres; 0: not stated.
    """

    name: str
    kind: str
    height: float
    shift_range: float
    tilt_range: float
    screw_pitch: float
    lever: float
    line: int = 0
    origins: Origins = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Vial:
    """Spirit level, bubble or electronic.

    Attributes
    ----------
    sensitivity : float
        Standard uncertainty of one setting of the bubble, rad.
    zero_known_to : float
        Standard uncertainty of its zero, rad; taken out by reversal.
    """

    name: str
    kind: str
    sensitivity: float
    zero_known_to: float
    line: int = 0
    origins: Origins = field(default_factory=dict)


Device = Emitter | RotaryBase | Target | Prism | Stage | Vial
