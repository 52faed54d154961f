"""Truth: what a machine really is at its stations, known where readings are simulated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["Truth"]


@dataclass(frozen=True, slots=True)
class Truth:
    """What the machine really is, by station: metres, and rad for the slopes; what is not named is at 0.

    Attributes
    ----------
    up, aside : mapping
        Deviation along the normal of the surface, and along normal x along.
    nod, swing : mapping
        Slopes that a pitch/yaw target sees: its pad turned about h and about v.
    """

    up: Mapping[str, float] = field(default_factory=dict)
    aside: Mapping[str, float] = field(default_factory=dict)
    nod: Mapping[str, float] = field(default_factory=dict)
    swing: Mapping[str, float] = field(default_factory=dict)
