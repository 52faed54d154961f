"""Machine surfaces: what is measured or stands in the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from ..frames import Pose

__all__ = ["FLOOR", "Column", "Face", "Plate", "Shape", "Surface"]

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


Shape: TypeAlias = Plate | Column | Face


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """One named machine surface and where it stands.

    Attributes
    ----------
    name : str
    shape : Plate, Column or Face
    world_from_surface : Pose
    on : str
        What it stands on: another surface, or ``floor``.
    material : str
        Key of the material table, or empty where none is stated.
    line : int
        Line of the layout file, 0 if none.
    """

    name: str
    shape: Shape
    world_from_surface: Pose
    on: str = FLOOR
    material: str = ""
    line: int = 0
