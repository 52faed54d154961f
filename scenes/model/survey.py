"""Stations, set-ups, tasks and feet: what is read, from where, and what is asked of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from ..vectors import Floats, frozen
from .mounts import Mount

__all__ = [
    "Feet",
    "Group",
    "LevelBy",
    "Limit",
    "Method",
    "PrismUse",
    "Rule",
    "Setup",
    "Station",
    "Stop",
    "Task",
]


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
    normal, along : (3,) float, unit, in the frame of the surface
        The surface deviates, and its mount points, along ``normal``; the line of stations runs along ``along``, and
        a sideways deviation counts along ``normal x along``.
    clocks : tuple of float
        Turns of the target about ``along`` at which it is read, rad; empty: as it stands.
    position, carried_by : str
        Position of the moving part that carries its surface, and the name of that part; empty where none moves.
    is_datum : bool
        True for a target that marks a datum by itself, such as near and far of a base line: its deviation is nought.
    turn : float
        Turn of its roll or face about the axis while it is read, rad; the target stays where it is.
    """

    name: str
    surface: str
    at: Floats
    target: str
    mount: Mount
    group: str
    line: int = 0
    normal: Floats = field(default_factory=lambda: np.array([0.0, 0.0, 1.0]))
    along: Floats = field(default_factory=lambda: np.array([1.0, 0.0, 0.0]))
    clocks: tuple[float, ...] = ()
    position: str = ""
    carried_by: str = ""
    is_datum: bool = False
    turn: float = 0.0

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        for name in ("at", "normal", "along"):
            object.__setattr__(self, name, frozen(getattr(self, name), (3,)))


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


class Method(StrEnum):
    """How the light of a set-up serves as a reference."""

    BASE_PLANE = "plane swept by a rotary base"
    LINE = "straight line"
    SPINDLE = "axis of a spindle"
    PRISM_LINE = "line square to the beam"
    PRISM_PLANE = "plane swept by a prism"


@dataclass(frozen=True, slots=True)
class Stop:
    """A place of the prism: its name, its distance from the emitter along the beam [m], and what is read from there."""

    name: str
    distance: float
    stations: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PrismUse:
    """How a set-up uses its prism.

    Attributes
    ----------
    prism : str
        Device name.
    stops : tuple of Stop
        One, or several where it is carried along the base line.
    turned : float
        Turn of the nose about the incoming beam, rad, right-handed; at 0 the exit points along the up of the emitter.
    sweeps : bool
        True where the nose is turned to every station.
    centred_within : float
        Standard uncertainty of the beam's distance from the turning axis, metres, either way.
    """

    prism: str
    stops: tuple[Stop, ...]
    turned: float = 0.0
    sweeps: bool = False
    centred_within: float = 0.1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """One placement of emitter (with base, prism or stage), with the stations read from it.

    Attributes
    ----------
    emitter, base : str
        Device names; no base where the beam is a line.
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
        How near the crew brings the spot to the middle of the detector in directions that carry no information,
        metres.
    aim : (3,) float or None
        Direction of the beam in the frame of ``on``; None where a base turns it.
    near, far : str
        Stations on which the beam is centred (buck-in); empty: it follows ``aim`` alone.
    clocks : tuple of float
        Turns of the emitter about its own axis at which all is read, rad: a spindle; empty: not turned.
    reversed : bool
        True where all is read on two sides: the emitter turned by half a turn in its V, the prism and the way of the
        beam turned by half a turn about the exit line, or the vial turned about.
    prism : PrismUse, optional
    through : tuple of str
        See-through targets that stand in the beam at once; stations are read in batches of that many.
    stage, vial : str
        Device names, or empty.
    wander, wander_tilt : float
        Standard uncertainty of where the bearings of a spindle put its axis each time that it is turned to a clock
        position: aside at the face, metres, and in direction, rad, each either way.
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
    aim: Floats | None = None
    near: str = ""
    far: str = ""
    clocks: tuple[float, ...] = ()
    reversed: bool = False
    prism: PrismUse | None = None
    through: tuple[str, ...] = ()
    stage: str = ""
    vial: str = ""
    wander: float = 0.0
    wander_tilt: float = 0.0

    def __post_init__(self) -> None:
        """Freeze the arrays."""
        object.__setattr__(self, "at", frozen(self.at, (3,)))
        if self.aim is not None:
            object.__setattr__(self, "aim", frozen(self.aim, (3,)))

    @property
    def method(self) -> Method:
        """How its light serves as a reference."""
        if self.prism is not None:
            return Method.PRISM_PLANE if self.prism.sweeps else Method.PRISM_LINE
        if self.base:
            return Method.BASE_PLANE
        return Method.SPINDLE if self.clocks else Method.LINE


class Rule(StrEnum):
    """How a verdict treats uncertainty; the first is the default of ISO 14253-1. ``reductions.verdict`` tells them."""

    GUARD_BAND = "guard band"
    GUARD_BAND_U = "guard band of U"
    SIMPLE = "simple acceptance"
    RELAXED = "relaxed acceptance"


@dataclass(frozen=True, slots=True)
class Limit:
    """How far a quantity may go, in SI units.

    Attributes
    ----------
    upper : float
    lower : float, optional
        None where only a size is stated, ``20 um``: a value with a sign keeps it both ways. ``0..20 um`` has 0.
    over : float
        Length to which a deviation refers (``0.02 mm over 300 mm``), metres; 0: none. An angle is then upper / over.
    angle : bool
        True where the limit is an angle in rad (``0.05 mm/m``), or a length over a length.
    diameter : bool
        True where it is the diameter of a zone.
    """

    upper: float
    lower: float | None = None
    over: float = 0.0
    angle: bool = False
    diameter: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """The quantity asked for.

    Attributes
    ----------
    quantity : str
        A key of ``reductions.quantities``, such as ``flatness`` or ``parallelism``.
    surface : str
        The measured surface; the first where there are several (``of``).
    stations : tuple of str
    reference : str
        ``minimum zone``, ``least squares`` or ``three points``.
    datum : tuple of str
        Stations that carry a three-point reference, else empty.
    limit : float
        Metres (rad for an angle): the upper one of the first of ``limits``.
    rule : Rule
    fitted : tuple of str
        Errors of devices that are solved for together with the machine, by their words in ``reductions.nuisances``.
    coverage_factor : float
    of : tuple of str
        Surfaces that are asked about.
    to : str
        Datum: a surface, a set-up (its base line or plane), or empty.
    plane : str
        ``vertical``, ``horizontal``, ``space`` or empty: in which plane the deviation counts.
    limits : mapping of component to Limit
        Components such as ``up`` and ``front``, or ``""`` where there is one limit for all.
    local : tuple of float, optional
        Limit and length of a sliding piece, metres: local straightness.
    nominal : float
        Nominal value, metres; spacing.
    waviness : float
        Shortest wave of the surface that is to be found, metres; 0: not stated.
    total : bool
        True where a run-out is asked for over all places together.
    tape : mapping of visit to {station: distance}
        Distances [m] from stations of the first rail to the second, measured by tape; under ``""`` for every visit.
    tape_known_to : float
        Standard uncertainty of one of them, metres.
    """

    name: str
    quantity: str
    surface: str
    stations: tuple[str, ...]
    reference: str
    datum: tuple[str, ...]
    limit: float
    rule: Rule = Rule.GUARD_BAND
    fitted: tuple[str, ...] = ()
    coverage_factor: float = 2.0
    line: int = 0
    of: tuple[str, ...] = ()
    to: str = ""
    plane: str = ""
    limits: Mapping[str, Limit] = field(default_factory=dict)
    local: tuple[float, float] | None = None
    nominal: float = 0.0
    waviness: float = 0.0
    total: bool = False
    tape: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    tape_known_to: float = 0.0


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
        ``plate``, ``beam``, ``rigid`` or ``measured``.
    effective_thickness : float
        Thickness of the plate that bends like the real bed, metres; 0: that of the surface.
    weight : float
        All that stands on the feet, newton; 0: the surface alone, from its size and material.
    influence_file : str
        File of a measured influence, else empty.
    influence_known_to : float, optional
        Standard uncertainty of what bends, as a share of it; None: the usual one of its kind.
    known_to : float
        Standard uncertainty of one move, metres.
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
    influence_file: str = ""
    influence_known_to: float | None = None
    known_to: float = 5e-6

    def __post_init__(self) -> None:
        """Freeze the places."""
        object.__setattr__(self, "at", frozen(self.at, (-1, 2)))
