"""Parts of the picture: a mesh, what it is, and the place in the layout that it belongs to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import pyvista as pv

from ..vectors import Floats

__all__ = ["Part", "Role", "bounds_of", "corners_of", "shown"]


class Role(StrEnum):
    """What a part of the picture is; how it is coloured is the business of the viewer.

    A ``MACHINE_INSIDE`` is seen from its free side only and a ``MACHINE_SHELL`` is seen through, so that one can look
    into a bore. A ``GHOST_STAND`` and a ``GHOST_TARGET`` show devices where they stand at another time: at the other
    end of a reversed line, at another stop, on a moving part elsewhere.
    """

    MACHINE_SURFACE = "machine surface"
    MACHINE_EDGE = "machine edge"
    MACHINE_INSIDE = "machine inside"
    MACHINE_SHELL = "machine shell"
    MACHINE_GHOST = "machine ghost"
    FLOOR = "floor"
    FLOOR_GRID = "floor grid"
    EMITTER = "emitter"
    EXIT_PORT = "exit port"
    BASE = "base"
    V_BLOCK = "V-block"
    STAGE = "stage"
    TRIPOD = "tripod"
    PRISM = "prism"
    PRISM_RING = "prism ring"
    GLASS = "glass"
    POST = "post"
    MAGNET = "magnet"
    BRACKET = "bracket"
    DISCS = "centring discs"
    TARGET = "target"
    CLOCK_MARK = "clock mark"
    GHOST_STAND = "ghost stand"
    GHOST_TARGET = "ghost target"
    WINDOW = "detector window"
    SPOT = "spot"
    BEAM_CLEAR = "beam clear"
    BEAM_CLIPPED = "beam clipped"
    BEAM_BLOCKED = "beam blocked"
    BEAM_LOST = "beam lost"
    BEAM_BENT = "beam bent"
    SWEPT_PLANE = "swept plane"
    DEVIATION_SURFACE = "deviation surface"
    DEVIATION_VECTOR = "deviation vector"
    UNCERTAINTY_BAR = "uncertainty bar"
    ZERO_OUTLINE = "zero outline"
    LIMIT_PLANE = "limit plane"
    STATION_MARK = "station mark"
    FOOT = "foot"
    SHIM = "shim"
    FINDING_MARK = "finding mark"
    FINDING_WARNING = "finding warning"


_GROUND = {Role.FLOOR, Role.FLOOR_GRID}


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One thing in the picture.

    Attributes
    ----------
    name : str
        Unique in a scene; a part of the same name replaces the earlier one.
    mesh : pyvista.PolyData
        World, metres. Where it holds several places, a cell array ``station``, ``row`` or ``foot`` tells which.
    role : Role
    place_kind, place_name : str
        ``surface``, ``set-up``, ``station`` or ``task`` and its name in the layout; empty where it is none or several.
    """

    name: str
    mesh: pv.PolyData
    role: Role
    place_kind: str = ""
    place_name: str = ""


def shown(parts: Iterable[Part]) -> tuple[Part, ...]:
    """The parts that hold at least one cell: an empty mesh cannot be drawn."""
    return tuple(part for part in parts if part.mesh.n_cells)


def corners_of(parts: Iterable[Part]) -> Floats:
    """Corners ``(8 k, 3)`` of the boxes around all parts but the floor, world, metres; of a metre cube for none."""
    standing = [part.mesh for part in parts if part.role not in _GROUND and part.mesh.n_points]
    boxes = [np.reshape(mesh.bounds, (3, 2)).T for mesh in standing]
    if not boxes:
        boxes = [np.array([[-0.5, -0.5, 0.0], [0.5, 0.5, 1.0]])]
    return np.vstack([np.stack(np.meshgrid(*box.T, indexing="ij"), axis=-1).reshape(-1, 3) for box in boxes])


def bounds_of(parts: Iterable[Part]) -> Floats:
    """Lowest and highest corner ``(2, 3)`` of the box around all parts but the floor, world, metres."""
    corners = corners_of(parts)
    return np.array([corners.min(axis=0), corners.max(axis=0)])
