"""Mounts: what carries a device, with its height, the travel of that height and how well it repeats."""

from __future__ import annotations

from dataclasses import dataclass, field

from .devices import Origins, Target

__all__ = ["Mount", "centre_above_foot"]


@dataclass(frozen=True, slots=True, eq=False)
class Mount:
    """What carries a device: post, magnet, bracket, discs in a bore, tripod, stage, or the thing itself (``none``).

    Attributes
    ----------
    kind : str
        ``post``, ``magnet``, ``bracket``, ``discs``, ``tripod``, ``stage`` or ``none``.
    height : float
        From the surface to the foot of the device that it carries, metres, along the surface normal.
    lowest, highest : float
        Heights that it can be set to, metres.
    repeatability : float
        Standard uncertainty of its height from one seating to the next, metres.
    height_known_to : float
        Standard uncertainty of its height as such, metres; shared by all seatings of the same mount.
    side_known_to : float
        Standard uncertainty of its place sideways as such, metres; shared by all seatings of the same mount.
    side_repeats : float
        Standard uncertainty of its place sideways from one seating to the next, metres.
    tilts : float
        Standard uncertainty of its tilt about each axis, anew at each seating, rad: it moves the detector by tilt
        times height.
    arm : float
        The detector stands this far to the side, metres (+ = along the side axis of the station); a bracket.
    diameter : float
        Of centring discs, metres; discs of another size have an error of their own.
    eccentric_known_to : float
        Standard uncertainty of the detector's centre against the axis of its discs, metres; it turns with the clock.
    """

    kind: str
    height: float
    lowest: float
    highest: float
    repeatability: float
    height_known_to: float
    side_known_to: float = 0.0
    side_repeats: float = 0.0
    tilts: float = 0.0
    arm: float = 0.0
    diameter: float = 0.0
    eccentric_known_to: float = 0.0
    origins: Origins = field(default_factory=dict)


def centre_above_foot(mount: Mount, target: Target) -> float:
    """Height of a detector's centre above the foot of its mount, along the surface normal, metres.

    Discs hold a target by its centre.
    """
    return mount.height + (0.0 if mount.kind == "discs" else target.centre_height)
