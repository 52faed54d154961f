"""The lesson of reversal in the picture: the device as it stands, its beam, and what is read, one way at a time."""

from __future__ import annotations

import numpy as np

from scenes.frames import Pose, turn_about_z
from scenes.meshes.beams import beam_mesh, beam_paths, drawn_radius
from scenes.meshes.cameras import Camera
from scenes.meshes.deviation_line import DeviationLine, deviation_line
from scenes.meshes.emitters import emitter_parts
from scenes.meshes.prisms import prism_parts
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import mesh_of, shifted
from scenes.meshes.swept_plane import swept_plane
from scenes.meshes.targets import device_parts, first_rows, spot_mesh
from scenes.shapes import box, ring
from scenes.vectors import Floats, rotation_from_vector
from viewer.logic.lesson_reversal import ReversalLesson, ReversalResult, Way
from viewer.scene3d import Scene
from viewer.scene3d_lesson import LESSON_VIEWS, clear_sight, lesson_camera, named, stage_parts

__all__ = ["REVERSAL_FACTOR", "ReversalPicture"]

REVERSAL_FACTOR = 1000.0
"""Exaggeration of beams and of what is read."""

THICK = 0.008
"""Radius [m] of the arrows' shafts."""

WIDE = 3.0
"""Beams are drawn this much thicker than in a plan, since there are few."""

BESIDE = 0.22
"""What is read is drawn this far [m] from the feet of the targets."""

DRAWN_SLOPE = 8e-5
"""Views leave room for readings of this slope [rad], which is that of the sliders as they open."""

MARK_AT = 0.028
"""The mark on a round emitter begins this far [m] from its axis."""

LOWEST_RANGE = 5.0
"""The colour map reaches at least this far [um]."""


class ReversalPicture:
    """Draws one device of the lesson in one group."""

    group = "lesson reversal"
    groups = (group,)

    def __init__(self, scene: Scene, lesson: ReversalLesson) -> None:
        self._scene = scene
        self._lesson = lesson
        self._stands: tuple[int, float] | None = None
        scene.clear(self.group)
        geometry = lesson.ways[0].geometry
        targets = device_parts(lesson.layout, geometry, first_rows(geometry))
        first = lesson.ways[0]
        room = self._line(first, DRAWN_SLOPE * (first.along - first.along.mean())).parts("read")
        # a view shows both ends of the line, and has room for what is read
        self._looked = stage_parts(lesson.layout, [*targets, *self._emitter(0), *self._emitter(1), *room])
        scene.put(self.group, named(self.group, stage_parts(lesson.layout, targets)))

    def _emitter(self, side: int, short: float = 0.0) -> list[Part]:
        """Emitter and stand, true size, as they stand one way; the turn fell ``short`` [rad]."""
        geometry = self._lesson.ways[side].geometry
        parts = list(emitter_parts(self._lesson.layout, geometry, 0))
        if self._lesson.device == "prism":
            return parts
        seat = Pose(geometry.launch_rotation[0], geometry.launch_origin[0])
        turn = np.pi - short if side else 0.0
        return [*parts, *(_turning_vial(seat, turn) if self._lesson.device == "vial" else [_turning_mark(seat, turn)])]

    def draw(self, result: ReversalResult, turned: bool, short: float = 0.0) -> None:
        """Show one way; the turn fell ``short`` [rad] of half a turn."""
        side = int(turned)
        lesson, scene = self._lesson, self._scene
        geometry, state, seen = result.geometries[side], result.states[side], result.seen[side]
        stands = (side, short if side else 0.0)
        if stands != self._stands:
            for part in self._emitter(1 - side):
                scene.remove(f"{self.group} {part.name}")
            scene.put(self.group, named(self.group, self._emitter(*stands)))
            self._stands = stands
        paths = beam_paths(geometry, seen, clear_sight(len(geometry.rows)), state, REVERSAL_FACTOR)
        rows = first_rows(geometry)
        last = rows if lesson.device == "vial" else lesson.ways[side].tells[-1:]
        parts = [
            Part("beams", beam_mesh(paths, last, WIDE * drawn_radius(geometry, seen)), Role.BEAM_CLEAR),
            Part("spots", spot_mesh(geometry, seen, rows, REVERSAL_FACTOR), Role.SPOT),
            *self._read(result, side),
        ]
        if lesson.device == "prism":
            parts += prism_parts(lesson.layout, geometry, int(lesson.ways[side].tells[0]), state, REVERSAL_FACTOR)
        scene.put(self.group, named(self.group, parts))
        if lesson.device == "vial":
            sheet = swept_plane(geometry, geometry.rows.setups[0], state, REVERSAL_FACTOR)
            scene.put(self.group, named(self.group, [Part("plane", sheet, Role.SWEPT_PLANE)]), "thin sheet")

    def _read(self, result: ReversalResult, side: int) -> list[Part]:
        """What is read this way, from the beam as from a straight line, beside the feet of the targets."""
        values = result.read[side] - result.read[side].mean()
        if self._scene.is_shown(self.group):
            self._scene.set_range(max(LOWEST_RANGE, 1e6 * float(np.abs(values).max())))
        return list(self._line(self._lesson.ways[side], values).parts("read"))

    def _line(self, way: Way, values: Floats) -> DeviationLine:
        geometry, tells = way.geometry, way.tells
        if self._lesson.device == "prism":
            out, aside = geometry.beside[tells], geometry.normal[tells] * 0.05
        else:
            out, aside = geometry.normal[tells], np.array([0.0, -BESIDE, 0.0])
            aside = aside + max(0.0, -REVERSAL_FACTOR * float(values.min())) * np.array([0.0, 0.0, 1.0])
        start: Floats = geometry.foot[tells] + aside
        return deviation_line(start, values[:, None] * out, values, None, REVERSAL_FACTOR, radius=THICK)

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return lesson_camera(self._looked, view, size) if view in LESSON_VIEWS else None


def _turning_mark(seat: Pose, turn: float) -> Part:
    """A bar on the shank of a round emitter: above as set up, and turned about the beam with it by ``turn`` [rad]."""
    bar = shifted(box(0.10, 0.016, MARK_AT, MARK_AT + 0.014), -0.08, 0.0, 0.0)
    place = Pose(seat.rotation @ rotation_from_vector(np.array([turn, 0.0, 0.0])), seat.origin)
    return Part("turn mark", mesh_of(bar.moved(place)), Role.CLOCK_MARK)


def _turning_vial(seat: Pose, turn: float) -> list[Part]:
    """A vial beside the base, its bubble in the middle; its marked end points along x, and by ``turn`` [rad] aside."""
    along_x = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
    place = Pose(seat.rotation @ turn_about_z(turn) @ along_x, seat.points(np.array([[0.0, -0.13, 0.03]]))[0])
    solids = (
        ("vial", ring(0.018, 0.0, -0.09, 0.09, 24), Role.TARGET),
        ("bubble", ring(0.0195, 0.0, -0.02, 0.02, 24), Role.WINDOW),
        ("turn mark", ring(0.022, 0.0, 0.09, 0.12, 24), Role.CLOCK_MARK),
    )
    return [Part(name, mesh_of(solid.moved(place)), role) for name, solid, role in solids]
