"""Mounts: what carries a device, with its height, the travel of that height and how well it repeats."""

from __future__ import annotations

from dataclasses import dataclass, field

from .devices import Origins

__all__ = ["Mount"]


@dataclass(frozen=True, slots=True, eq=False)
class Mount:
    """A post (carries a target over a surface) or a tripod (carries an emitter over the floor).

    Attributes
    ----------
    kind : str
        ``post`` or ``tripod``.
    height : float
        From the surface to the foot of the device that it carries, metres, along the surface normal.
    lowest, highest : float
        Heights that it can be set to, metres.
    repeatability : float
        Standard uncertainty of its height from one seating to the next, metres.
    height_known_to : float
        Standard uncertainty of its height as such, metres; shared by all seatings of the same mount.
    """

    kind: str
    height: float
    lowest: float
    highest: float
    repeatability: float
    height_known_to: float
    origins: Origins = field(default_factory=dict)
