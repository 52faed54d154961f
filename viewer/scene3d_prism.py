"""The lesson of the prism in the picture: glass and light in it, the square line or the swept plane, spots."""

from __future__ import annotations

import numpy as np

from scenes.meshes.beams import beam_mesh, beam_paths, drawn_radius
from scenes.meshes.cameras import Camera, camera_toward
from scenes.meshes.emitters import emitter_parts
from scenes.meshes.prisms import prism_parts
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.swept_plane import swept_plane
from scenes.meshes.targets import device_parts, first_rows, spot_mesh
from scenes.tracing.spots import spots
from viewer.logic.lesson_prism import PrismLesson, PrismResult
from viewer.scene3d import Scene
from viewer.scene3d_lesson import LESSON_VIEWS, clear_sight, lesson_camera, named, stage_parts

__all__ = ["PRISM_VIEWS", "PrismPicture"]

PRISM_VIEWS = ("whole", "glass", *list(LESSON_VIEWS)[1:])
WIDE, NARROW = 6.0, 1.6
"""Beams are drawn this much thicker than in a plan, since there are few; and near the glass, so that it shows."""

GLASS = 0.5
"""Opacity of the flange, so that beams and targets stand out from it."""

NEAR = 0.09
"""Radius [m] of what is shown of the glass."""


class PrismPicture:
    """Draws the lesson in one group; what the errors move is drawn larger than life."""

    group = "lesson prism"
    groups = (group,)

    def __init__(self, scene: Scene, lesson: PrismLesson) -> None:
        self._scene = scene
        self._lesson = lesson
        self._still = stage_parts(lesson.line_layout, emitter_parts(lesson.line_layout, lesson.line, 0))
        self._plain = {False: spots(lesson.line), True: spots(lesson.plane)}
        self._sweeps: bool | None = None
        scene.put(self.group, named(self.group, self._still))
        scene.make_glass(f"{self.group} surface flange", GLASS)

    def _stand(self, sweeps: bool) -> None:
        """Put the targets of the line or those of the plane."""
        if self._sweeps == sweeps:
            return
        self._sweeps = sweeps
        kept = {f"{self.group} {part.name}" for part in self._still}
        for name in self._scene.names(self.group):
            if name not in kept:
                self._scene.remove(name)
        layout, geometry = (
            (self._lesson.plane_layout, self._lesson.plane) if sweeps else (self._lesson.line_layout, self._lesson.line)
        )
        self._scene.put(self.group, named(self.group, device_parts(layout, geometry, first_rows(geometry))))

    def draw(self, result: PrismResult, sweeps: bool, factor: float, near: bool = False) -> None:
        """Show another place of the sliders; ``near`` where one looks into the glass."""
        self._stand(sweeps)
        lesson, state = self._lesson, result.state
        geometry, seen = (lesson.plane, result.plane) if sweeps else (lesson.line, result.line)
        layout = lesson.plane_layout if sweeps else lesson.line_layout
        rows = first_rows(geometry)
        plain = self._plain[sweeps]
        paths = beam_paths(geometry, seen, clear_sight(len(geometry.rows)), state, factor, plain)
        radius = (NARROW if near else WIDE) * drawn_radius(geometry, seen)
        drawn = rows if sweeps else rows[-1:]
        parts = [
            Part("beams", beam_mesh(paths, drawn, radius), Role.BEAM_CLEAR),
            Part("spots", spot_mesh(geometry, seen, rows, factor, plain), Role.SPOT),
            *prism_parts(layout, geometry, int(rows[0]), state, factor),
        ]
        self._scene.put(self.group, named(self.group, parts))
        if sweeps:
            setup = geometry.rows.setups[0]
            sheet = swept_plane(geometry, setup, state, factor, full_turn=True)
            self._scene.put(self.group, named(self.group, [Part("plane", sheet, Role.SWEPT_PLANE)]))

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        if view == "glass":
            centre = self._lesson.line.noses.centre[0]
            return camera_toward(centre, np.array([-0.35, -1.0, 0.3]), NEAR * max(1.0, size[1] / max(size[0], 1.0)))
        return lesson_camera(self._still, view, size) if view in LESSON_VIEWS else None
