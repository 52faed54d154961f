"""The lesson of reversal in the picture: the device as it stands, its beam, and what is read, one way at a time."""

from __future__ import annotations

import numpy as np

from scenes.frames import Pose
from scenes.meshes.beams import beam_mesh, beam_paths, drawn_radius
from scenes.meshes.cameras import Camera
from scenes.meshes.deviation_line import deviation_line
from scenes.meshes.emitters import emitter_parts
from scenes.meshes.prisms import prism_parts
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import mesh_of, shifted
from scenes.meshes.swept_plane import swept_plane
from scenes.meshes.targets import device_parts, first_rows, spot_mesh
from scenes.shapes import box, ring
from scenes.vectors import Floats
from viewer.logic.lesson_reversal import ReversalLesson, ReversalResult
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
        self._side: int | None = None
        scene.clear(self.group)
        geometry = lesson.ways[0].geometry
        targets = device_parts(lesson.layout, geometry, first_rows(geometry))
        self._still = stage_parts(lesson.layout, [*targets, *self._emitter(0)])
        others = stage_parts(lesson.layout, [*targets, *self._emitter(1)])
        self._looked = [*self._still, *others]  # a view shows both ends of the line
        scene.put(self.group, named(self.group, stage_parts(lesson.layout, targets)))

    def _emitter(self, side: int) -> list[Part]:
        """Emitter and stand, true size, as they stand one way."""
        geometry = self._lesson.ways[side].geometry
        parts = list(emitter_parts(self._lesson.layout, geometry, 0))
        if self._lesson.device == "prism":
            return parts
        seat = Pose(geometry.launch_rotation[0], geometry.launch_origin[0])
        return [*parts, *(_turning_vial(seat, side) if self._lesson.device == "vial" else [_turning_mark(seat, side)])]

    def draw(self, result: ReversalResult, turned: bool) -> None:
        """Show one way."""
        side = int(turned)
        lesson, scene = self._lesson, self._scene
        geometry, state, seen = lesson.ways[side].geometry, result.states[side], result.seen[side]
        if side != self._side:
            for part in self._emitter(1 - side):
                scene.remove(f"{self.group} {part.name}")
            scene.put(self.group, named(self.group, self._emitter(side)))
            self._side = side
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
        way = self._lesson.ways[side]
        geometry, tells = way.geometry, way.tells
        values = result.read[side] - result.read[side].mean()
        if self._lesson.device == "prism":
            out, aside = geometry.beside[tells], geometry.normal[tells] * 0.05
        else:
            out, aside = geometry.normal[tells], np.array([0.0, -BESIDE, 0.0])
            aside = aside + max(0.0, -REVERSAL_FACTOR * float(values.min())) * np.array([0.0, 0.0, 1.0])
        start: Floats = geometry.foot[tells] + aside
        line = deviation_line(start, values[:, None] * out, values, None, REVERSAL_FACTOR, radius=THICK)
        if self._scene.is_shown(self.group):
            self._scene.set_range(max(LOWEST_RANGE, 1e6 * float(np.abs(values).max())))
        return list(line.parts("read"))

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return lesson_camera(self._looked, view, size) if view in LESSON_VIEWS else None


def _turning_mark(seat: Pose, side: int) -> Part:
    """A bar on the shank of a round emitter: above as set up, below once it has been turned."""
    low, high = (MARK_AT, MARK_AT + 0.014) if side == 0 else (-MARK_AT - 0.014, -MARK_AT)
    return Part(
        "turn mark", mesh_of(shifted(box(0.10, 0.016, low, high), -0.08, 0.0, 0.0).moved(seat)), Role.CLOCK_MARK
    )


def _turning_vial(seat: Pose, side: int) -> list[Part]:
    """A vial beside the base, its bubble in the middle; its marked end points along x as set up, back once turned."""
    turn = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
    place = Pose(seat.rotation @ turn, seat.points(np.array([[0.0, -0.13, 0.03]]))[0])
    end = 0.09 if side == 0 else -0.12
    solids = (
        ("vial", ring(0.018, 0.0, -0.09, 0.09, 24), Role.TARGET),
        ("bubble", ring(0.0195, 0.0, -0.02, 0.02, 24), Role.WINDOW),
        ("turn mark", ring(0.022, 0.0, end, end + 0.03, 24), Role.CLOCK_MARK),
    )
    return [Part(name, mesh_of(solid.moved(place)), role) for name, solid, role in solids]
