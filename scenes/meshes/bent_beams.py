"""How far the air bends the longest beam of every set-up, drawn larger than life beside the beams as they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyvista as pv

from ..checks.plan import Plan
from ..vectors import Floats, Indices, frozen, length
from .beam_paths import beam_paths
from .beams import drawn_radius
from .exaggeration import rounded_125
from .solids import mesh_of, tubes

__all__ = ["BentBeams", "bent_beams"]

SHOWN = 10.0e-6
"""Beams that end less than this [m] off the straight line are not drawn bent."""

SHARE = 0.025
"""The largest bend is drawn about this large against its beam."""

STEPS = 24
THIN = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class BentBeams:
    """Bent beams, s of them.

    Attributes
    ----------
    mesh : pyvista.PolyData
        Cell array ``row``.
    factor : float
        Exaggeration, to be stated in the picture.
    rows : (s,) int
        The longest beam of each set-up that bends enough to be drawn.
    off : (s,) float
        True distance of its end from the straight line, metres.
    anchors : (s, 3) float
        Ends of the drawn beams, where words about them belong, world.
    """

    mesh: pv.PolyData
    factor: float
    rows: Indices
    off: Floats
    anchors: Floats


def bent_beams(plan: Plan, setups: tuple[str, ...] | None = None) -> BentBeams | None:
    """The longest beam of each set-up (of ``setups``, where given), bent larger than life; None where none bends."""
    geometry, rows = plan.geometry, plan.geometry.rows
    true = beam_paths(geometry, plan.spots, plan.sight)
    twice = beam_paths(geometry, plan.spots, plan.sight, factor=2.0)
    off = np.zeros(len(rows))
    gap = length(twice.end - true.end)
    np.maximum.at(off, true.row, np.where(np.isfinite(gap), gap, 0.0))
    chosen = []
    for number, name in enumerate(rows.setups):
        mine = np.nonzero((rows.setup == number) & np.isfinite(plan.spots.path))[0]
        if len(mine) and (setups is None or name in setups):
            chosen.append(int(mine[np.argmax(plan.spots.path[mine])]))
    shown = np.array([row for row in chosen if off[row] >= SHOWN], dtype=np.int64)
    if len(shown) == 0:
        return None
    most = shown[int(np.argmax(off[shown]))]
    factor = max(1.0, rounded_125(SHARE * float(plan.spots.path[most] / off[most])))
    paths = beam_paths(geometry, plan.spots, plan.sight, factor=factor)
    pieces = paths.pieces_of(shown)
    span = np.column_stack([paths.span[pieces, 0], np.ones(len(pieces))])
    points = paths.of(pieces, span, STEPS)
    solid, owner = tubes(points, THIN * drawn_radius(geometry, plan.spots), 6)
    last = [int(np.nonzero(paths.row[pieces] == row)[0][-1]) for row in shown]
    anchors = points[last, -1]
    return BentBeams(mesh_of(solid, {"row": paths.row[pieces[owner]]}), factor, shown, off[shown], frozen(anchors))
