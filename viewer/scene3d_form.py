"""The lesson of the reference lines in the picture: the rail as read over the chosen line, and what holds its value."""

from __future__ import annotations

import numpy as np
import pyvista as pv

from scenes.meshes.cameras import Camera
from scenes.meshes.deviation_line import deviation_line
from scenes.meshes.emitters import emitter_parts
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import mesh_of, tubes
from scenes.meshes.targets import device_parts, first_rows
from scenes.vectors import Floats
from viewer.logic.lesson_form import FormLesson, FormLessonResult
from viewer.logic.lesson_form_view import contacts_of
from viewer.scene3d import Scene
from viewer.scene3d_lesson import LESSON_VIEWS, lesson_camera, named, stage_parts
from viewer.scene3d_marks import diamonds

__all__ = ["FORM_FACTOR", "FormPicture"]

FORM_FACTOR = 5000.0
"""Exaggeration of heights."""

THICK = 0.009
"""Radius [m] of the arrows' shafts."""

BESIDE = 0.15
"""The profile is drawn this far [m] to the side of the posts."""

ABOVE = 0.12
"""The lowest that is drawn stands this far [m] over the rail."""

LOWEST_RANGE = 5.0
"""The colour map reaches at least this far [um]."""


class FormPicture:
    """Draws the lesson in one group."""

    group = "lesson form"
    groups = (group,)

    def __init__(self, scene: Scene, lesson: FormLesson) -> None:
        self._scene = scene
        self._lesson = lesson
        layout, geometry = lesson.layout, lesson.geometry
        scene.clear(self.group)
        devices = [*device_parts(layout, geometry, first_rows(geometry)), *emitter_parts(layout, geometry, 0)]
        beam = tubes(np.stack([geometry.beam_origins()[0], geometry.detector_centres()[-1]])[None], 0.5 * THICK, 8)[0]
        self._still = stage_parts(layout, [*devices, Part("beam", mesh_of(beam), Role.BEAM_CLEAR)])
        scene.put(self.group, named(self.group, self._still))

    def draw(self, result: FormLessonResult, way: str) -> None:
        """Show the readings over another line."""
        form, foot = result.forms[way], self._lesson.geometry.foot
        offset, slope = form.coefficients
        line = offset + slope * self._lesson.places
        lift = ABOVE - FORM_FACTOR * float((line + form.deviations).min())
        up = np.array([0.0, 0.0, 1.0])
        start = foot + BESIDE * np.array([0.0, -1.0, 0.0]) + (lift + FORM_FACTOR * line)[:, None] * up
        drawn = deviation_line(start, form.deviations[:, None] * up, form.deviations, None, FORM_FACTOR, radius=THICK)
        ends = start[[0, -1]]
        edges = [ends + FORM_FACTOR * value * up for value in (form.deviations.max(), form.deviations.min())]
        held = np.unique(np.concatenate(contacts_of(form)))
        parts = [
            *drawn.parts("profile"),
            Part("reference", _rods([ends], THICK), Role.STATION_MARK),
            Part("edges", _rods(edges, 0.7 * THICK), Role.POST),
            Part("contacts", diamonds(drawn.tips, 5.0 * THICK, held), Role.SPOT),
        ]
        scene = self._scene
        scene.put(self.group, named(self.group, parts))
        if scene.is_shown(self.group):
            scene.set_range(max(LOWEST_RANGE, 1e6 * float(np.abs(form.deviations).max())))

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return lesson_camera(self._still, view, size) if view in LESSON_VIEWS else None


def _rods(lines: list[Floats], radius: float) -> pv.PolyData:
    return mesh_of(tubes(np.stack(lines), radius, 8)[0])
