"""Stations, set-ups, tasks and feet: what is read, from where, and what is asked of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from ..vectors import Floats, frozen
from .mounts import Mount

__all__ = ["Feet", "Group", "LevelBy", "Rule", "Setup", "Station", "Task", "UnknownCone"]


@dataclass(frozen=True, slots=True, eq=False)
class Station:
    """A place on a surface where a target is read.

    Attributes
    ----------
    at : (3,) float
        Place in the frame of the surface, metres (z = 0 on a plate).
    target : str
        Name of the target that is read there.
    mount : Mount
        What carries the target.
    group : str
        Name of the entry under ``stations`` that it comes from.
    """

    name: str
    surface: str
    at: Floats
    target: str
    mount: Mount
    group: str
    line: int = 0

    def __post_init__(self) -> None:
        """Freeze the place."""
        object.__setattr__(self, "at", frozen(self.at, (3,)))


@dataclass(frozen=True, slots=True)
class Group:
    """The stations of one entry under ``stations``; ``rows`` x ``columns`` when it is a grid, else 0."""

    name: str
    surface: str
    stations: tuple[str, ...]
    rows: int = 0
    columns: int = 0
    line: int = 0


class LevelBy(StrEnum):
    """How the crew sets the swept plane before reading."""

    THREE_POINTS = "three points"
    BEST_FIT = "best fit"
    PADS = "pads"
    VIAL = "vial"


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """One placement of emitter and base, with the stations read from it.

    Attributes
    ----------
    emitter, base : str
        Device names.
    on, at : str, (3,) float
        What the mount stands on, and where in its frame, metres.
    mount : Mount
    level_by, level_stations : LevelBy, tuple of station names
        How the plane is set; the stations are empty where the method picks them itself.
    reads : tuple of str
        Stations in the order of reading.
    again : tuple of str
        Stations read once more at the end, to watch drift.
    seconds_per_reading : float
        Planned pace; turns the drift of the emitter into an error of each reading where no times are recorded.
    centred_within : float
        How near the crew brings the spot to the middle of the detector sideways, metres.
    """

    name: str
    emitter: str
    base: str
    on: str
    at: Floats
    mount: Mount
    level_by: LevelBy
    level_stations: tuple[str, ...]
    reads: tuple[str, ...]
    again: tuple[str, ...] = ()
    seconds_per_reading: float = 60.0
    centred_within: float = 1.0e-3
    line: int = 0

    def __post_init__(self) -> None:
        """Freeze the place."""
        object.__setattr__(self, "at", frozen(self.at, (3,)))


class Rule(StrEnum):
    """How a verdict treats uncertainty; the first is the default of ISO 14253-1."""

    GUARD_BAND = "guard band"
    SIMPLE = "simple acceptance"


class UnknownCone(StrEnum):
    """What the reduction does with a beam that is not square to the axis of its base."""

    STATED = "as stated"
    FITTED = "fitted"


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """The quantity asked for.

    Attributes
    ----------
    quantity : str
        ``flatness`` in this version.
    surface : str
    stations : tuple of str
    reference : str
        ``minimum zone``, ``least squares`` or ``three points``.
    datum : tuple of str
        Stations that carry a three-point reference, else empty.
    limit : float
        Metres.
    rule : Rule
    cone : UnknownCone
    coverage_factor : float
    """

    name: str
    quantity: str
    surface: str
    stations: tuple[str, ...]
    reference: str
    datum: tuple[str, ...]
    limit: float
    rule: Rule = Rule.GUARD_BAND
    cone: UnknownCone = UnknownCone.STATED
    coverage_factor: float = 2.0
    line: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Feet:
    """The feet of one surface and what a fitter can do at them.

    Attributes
    ----------
    surface : str
    names : tuple of str
    at : (m, 2) float
        Places in the frame of the surface, metres.
    add_only : bool
        True where shims can only be added.
    travel : float
        Largest move of a foot, metres.
    stock : tuple of float
        Shim thicknesses at hand, metres; empty: any thickness.
    most_pieces : int
        Shims that may lie under one foot.
    influence : str
        ``plate``, ``beam`` or ``rigid``.
    effective_thickness : float
        Thickness of the plate that bends like the real bed, metres; 0: that of the surface.
    weight : float
        All that stands on the feet, newton; 0: the surface alone, from its size and material.
    """

    surface: str
    names: tuple[str, ...]
    at: Floats
    add_only: bool
    travel: float
    stock: tuple[float, ...] = ()
    most_pieces: int = 4
    influence: str = "plate"
    effective_thickness: float = 0.0
    weight: float = 0.0
    line: int = 0
    origins: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Freeze the places."""
        object.__setattr__(self, "at", frozen(self.at, (-1, 2)))
