"""The chosen station or finding of the plan in the picture: its beam up to the obstacle, and what it does not reach."""

from __future__ import annotations

import numpy as np

from scenes.checks.plan import Plan
from scenes.meshes.beams import drawn_radius
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import copies, mesh_of, tubes, united
from scenes.model.layout import Layout
from scenes.shapes import Triangles, ring
from scenes.tracing.places import station_places
from scenes.tracing.sight import Sight
from scenes.vectors import Floats, length, unit
from viewer.scene3d import Scene
from viewer.scene3d_labels import Lettering, lettering

__all__ = ["ChosenPicture", "beam_pieces", "dashes"]

GROUP = "plan chosen"
NAME_PIXELS = 14.0
WIDE = 1.9
"""The chosen beam is drawn this much thicker than the others."""

DASHES = 24
"""Most dashes of the way that light does not go."""


def dashes(start: Floats, end: Floats, count: int) -> Floats:
    """Dashes ``(count, 2, 3)`` between two points, as long as the gaps between them."""
    ends = np.linspace(0.0, 1.0, 2 * count + 1)[1:].reshape(-1, 2)
    result: Floats = start + ends[..., None] * (end - start)
    return result


def beam_pieces(plan: Plan, row: int) -> tuple[Floats, Floats]:
    """Pieces ``(a, 2, 3)`` of the way that light goes, and ``(b, 2, 3)`` of the one that it does not, world, metres."""
    corners = plan.paths.points[row][plan.paths.here[row]]
    if len(corners) < 2 or not np.isfinite(plan.spots.path[row]):
        corners = np.stack([plan.geometry.sources()[row], plan.geometry.detector_centres()[row]])
    pieces = np.stack([corners[:-1], corners[1:]], axis=1)
    if plan.sight.sight[row] != Sight.BLOCKED:
        return pieces, np.zeros((0, 2, 3))
    begins = length(plan.stopped_from[row] - pieces[:, 0])
    stopped = int(np.argmin(begins))
    before = float(length(pieces[:stopped, 1] - pieces[:stopped, 0]).sum())
    along = unit(pieces[stopped, 1] - pieces[stopped, 0])
    hit = pieces[stopped, 0] + (plan.sight.reach[row] - before) * along
    lit = np.concatenate([pieces[:stopped], np.stack([pieces[stopped, 0], hit])[None]])
    dark = np.concatenate([np.stack([hit, pieces[stopped, 1]])[None], pieces[stopped + 1 :]])
    return lit, dark


class ChosenPicture:
    """Marks one station, one of its beams, or the beam of a finding, in the group ``plan chosen``."""

    def __init__(self, scene: Scene, layout: Layout, plan: Plan | None) -> None:
        self._scene = scene
        self._layout = layout
        self._plan = plan
        self._name: Lettering | None = None
        scene.before_render(self._turn)

    def mark(self, station: str, row: int | None) -> None:
        """Mark ``station`` and its reading ``row``; an empty name takes the marks away."""
        self._scene.clear(GROUP)
        self._name = None
        if station not in self._layout.stations:
            return
        foot, normal, rise = station_places(self._layout, (station,))
        top, thick = foot[0] + rise[0] * normal[0], self._thick()
        parts = [Part("chosen station", mesh_of(self._hoop(foot[0], normal[0], thick)), Role.STATION_MARK)]
        if row is not None and self._plan is not None:
            parts += self._beam(row, thick)
        self._name = lettering([station], (top + 8.0 * thick * normal[0])[None], NAME_PIXELS, 2.3)
        parts.append(Part("chosen station name", self._name.mesh, Role.STATION_MARK))
        self._scene.put(GROUP, parts, "chosen")
        self._turn()

    def _thick(self) -> float:
        if self._plan is None or len(self._plan.geometry.rows) == 0:
            return 2e-3
        return WIDE * drawn_radius(self._plan.geometry, self._plan.spots)

    def _hoop(self, foot: Floats, normal: Floats, thick: float) -> Triangles:
        """Ring around the foot of the mount."""
        axis = np.eye(3)[int(np.argmin(np.abs(normal)))]
        x = unit(np.cross(axis, normal))
        turn = np.stack([x, np.cross(normal, x), normal], axis=1)
        return copies(ring(12.0 * thick, 9.0 * thick, 0.2 * thick, 1.6 * thick, 40), turn[None], foot[None])[0]

    def _beam(self, row: int, thick: float) -> list[Part]:
        assert self._plan is not None
        lit, dark = beam_pieces(self._plan, row)
        parts = [Part("chosen light", mesh_of(tubes(lit, thick, 12)[0]), Role.BEAM_CLEAR)]
        if len(dark):
            total = float(length(dark[:, 1] - dark[:, 0]).sum())
            gone = [
                tubes(dashes(one, two, max(1, round(DASHES * float(length(two - one)) / total))), 0.5 * thick, 8)[0]
                for one, two in dark
            ]
            parts.append(Part("chosen dark", mesh_of(united(*gone)), Role.BEAM_BLOCKED))
        return parts

    def _turn(self) -> None:
        if self._name is not None:
            self._name.turn(self._scene.camera, self._scene.size[1])
