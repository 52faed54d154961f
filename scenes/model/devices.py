"""Devices: emitter, rotary base and target, each with its error sources as standard uncertainties in SI units."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Device", "Emitter", "Origins", "RotaryBase", "Target"]

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
    line: int = 0
    origins: Origins = field(default_factory=dict)


Device = Emitter | RotaryBase | Target
