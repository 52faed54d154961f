"""Machine surfaces: what is measured or stands in the way, and how its parts move."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from ..frames import Pose
from ..shapes import Triangles
from ..vectors import Floats, frozen, unit

__all__ = ["FLOOR", "Bore", "Column", "Face", "MeshPart", "Moves", "Plate", "Rail", "Roll", "Shape", "Surface"]

FLOOR = "floor"
"""Name of the ground plane, world z = 0; things may stand ``on: floor``."""


@dataclass(frozen=True, slots=True)
class Plate:
    """Rectangular plate; frame: origin in the middle of the measured side, x along ``length``, z out of it. Metres."""

    length: float
    width: float
    thickness: float


@dataclass(frozen=True, slots=True)
class Column:
    """Box column; frame: origin in the middle of its foot, z along ``height``. Metres."""

    length: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Face:
    """Round face of a flange, table or hub: a disc, or a ring where ``bore`` > 0; z out of the face. Metres."""

    diameter: float
    bore: float
    thickness: float


@dataclass(frozen=True, slots=True)
class Rail:
    """Rail or way with two guiding sides: its top and the side ``guide``. Metres.

    Frame: origin in the middle of the top at its start, x along it (0 to ``length``), z out of the top. ``guide`` is
    ``+y`` or ``-y``: the side that guides, at half the width.
    """

    length: float
    width: float
    height: float
    guide: str = "+y"


@dataclass(frozen=True, slots=True)
class Roll:
    """Cylinder measured from outside; frame: origin in the middle of its axis, z along the axis. Metres.

    The face runs from z = -``face`` / 2, its near end, to its far end.
    """

    diameter: float
    face: float


@dataclass(frozen=True, slots=True)
class Bore:
    """One or several bores on one axis, measured from inside. Metres.

    Frame: origin in the middle of the entrance, z along the axis into the bore.

    Attributes
    ----------
    sections : tuple of (diameter, start, end)
        In the order of ``start``, which counts along z; they do not overlap. Where one ends and the next starts later
        there is a gap.
    wall : float
        Material around the widest of the sections that touch.
    """

    sections: tuple[tuple[float, float, float], ...]
    wall: float

    @property
    def length(self) -> float:
        """From the entrance to the end of the last section, metres."""
        return self.sections[-1][2]


@dataclass(frozen=True, slots=True, eq=False)
class MeshPart:
    """A part as its designer drew it: the triangles of ``file``, in the frame of the file, metres."""

    file: str
    triangles: Triangles


Shape: TypeAlias = Plate | Column | Face | Rail | Roll | Bore | MeshPart


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """How a part moves: along a straight way, between named positions.

    Attributes
    ----------
    along : (3,) float, unit
        Direction in the frame of what the part stands on.
    positions : mapping of name to float
        Way from where the layout places the part, metres; at least one.
    drawn : str
        Position at which it is shown, and read where nothing else is said.
    """

    along: Floats
    positions: Mapping[str, float]
    drawn: str

    def __post_init__(self) -> None:
        """Check and freeze."""
        object.__setattr__(self, "along", frozen(unit(frozen(self.along, (3,)))))
        if self.drawn not in self.positions:
            raise ValueError(f"{self.drawn!r} is not one of the positions")

    def way(self, position: str) -> Floats:
        """Displacement ``(3,)`` from the drawn position to ``position``, metres, in the frame of what it stands on."""
        return (self.positions[position] - self.positions[self.drawn]) * self.along


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """One named machine surface and where it stands.

    Attributes
    ----------
    name : str
    shape : Shape
    world_from_surface : Pose
        Where it stands while every moving part is at its drawn position.
    on : str
        What it stands on: another surface, or ``floor``. It moves with it.
    material : str
        Key of the material table, or empty where none is stated.
    line : int
        Line of the layout file, 0 if none.
    moves : Moves, optional
        How it moves over what it stands on.
    temperature : float or None
        Kelvin; None where the layout does not say: no growth is reckoned then.
    temperature_known_to : float
        Its standard uncertainty, kelvin.
    across : float
        How much warmer its measured side is than the opposite one, kelvin.
    across_known_to : float
        Standard uncertainty of ``across``, kelvin.
    """

    name: str
    shape: Shape
    world_from_surface: Pose
    on: str = FLOOR
    material: str = ""
    line: int = 0
    moves: Moves | None = None
    temperature: float | None = None
    temperature_known_to: float = 0.0
    across: float = 0.0
    across_known_to: float = 0.0
