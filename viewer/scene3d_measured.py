"""Deviations of stations in any direction as arrows in the picture, coloured by their size."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyvista as pv

from scenes.meshes.deviation_surface import DEVIATION
from scenes.meshes.deviation_vectors import mark_size
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import cone, copies, disc, joined, mesh_of, rotations_along, sides_within, tubes
from scenes.reductions.quantities.measured import Deviations
from scenes.vectors import Floats, unit
from viewer.scene3d import Scene

__all__ = ["GROUP", "MeasuredPicture", "arrow_mesh"]

GROUP = "measured"
CELLS = 90_000
HEAD = 2.6
"""Radius of an arrow's head over that of its shaft; the head is three times as long as it is wide."""

DOT = 0.6
"""Arrows shorter than this many radii become flat dots."""


def arrow_mesh(places: Floats, directions: Floats, values: Floats, factor: float) -> pv.PolyData:
    """Arrows from ``places`` (n, 3) along ``directions`` (n, 3), or against them; ``values`` (n,) metres."""
    known = np.nonzero(np.isfinite(values))[0]
    places, directions, values = places[known], directions[known], values[known]
    if len(known) == 0:
        return pv.PolyData()
    thick = mark_size(places)
    reach = factor * np.abs(values)
    along = unit(directions) * np.where(values < 0.0, -1.0, 1.0)[:, None]
    hint = np.eye(3)[np.argmin(np.abs(along), axis=1)]
    turn = rotations_along(along, unit(np.cross(hint, along)))
    sides = sides_within(CELLS, len(values), 4)
    long, short = np.nonzero(reach > DOT * thick)[0], np.nonzero(reach <= DOT * thick)[0]
    head = np.minimum(3.0 * HEAD * thick, reach[long])
    neck = places[long] + (reach[long] - head)[:, None] * along[long]
    wide = HEAD * thick * np.sqrt(head / (3.0 * HEAD * thick))
    shafts, of_shaft = tubes(np.stack([places[long], neck], axis=1), thick, sides)
    heads, of_head = copies(cone(1.0, 0.0, 1.0, sides), turn[long], neck, np.column_stack([wide, wide, head]))
    dots, of_dot = copies(disc(HEAD * thick, 0.0, 8), turn[short], places[short])
    solid, number = joined([(shafts, long[of_shaft]), (heads, long[of_head]), (dots, short[of_dot])])
    return mesh_of(solid, {"entry": known[number], DEVIATION: 1e6 * values[number]})


class MeasuredPicture:
    """Draws deviations in the group ``measured``."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._shown: tuple[Floats, Floats, Floats] | None = None

    def draw(self, deviations: Sequence[Deviations], factor: float) -> None:
        """Show other deviations."""
        self._shown = None
        if deviations:
            places, directions = (
                np.concatenate([getattr(each, name) for each in deviations]) for name in ("places", "directions")
            )
            self._shown = (places, directions, np.concatenate([each.values for each in deviations]))
        self.stretch(factor)

    def stretch(self, factor: float) -> None:
        """Show the same with another exaggeration."""
        self._scene.clear(GROUP)
        if self._shown is not None:
            mesh = arrow_mesh(*self._shown, factor)
            self._scene.put(GROUP, [Part("measured arrows", mesh, Role.DEVIATION_VECTOR)])
