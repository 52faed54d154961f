"""The lesson of bucking in, in the picture: the beam as it stands now, and faint where it stood before."""

from __future__ import annotations

import numpy as np

from scenes.aiming.setting import StageSetting
from scenes.aiming.traced import state_of_stage
from scenes.meshes.cameras import Camera
from scenes.meshes.emitters import emitter_parts
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import copies, mesh_of, tubes
from scenes.meshes.targets import device_parts, first_rows
from scenes.shapes import ring
from scenes.tracing.spots import beams
from scenes.vectors import Floats
from viewer.logic.lesson_buck_in import FAR_AT, BuckInLesson, BuckInState
from viewer.scene3d import Scene
from viewer.scene3d_lesson import LESSON_VIEWS, lesson_camera, named, stage_parts

__all__ = ["BUCK_IN_FACTOR", "BuckInPicture"]

BUCK_IN_FACTOR = 100.0
"""Exaggeration of heights over the line: a spot at the edge of a detector is drawn one metre off."""

THICK = 0.018
"""Radius [m] of the drawn beam."""

BEYOND = 0.4
"""The beam is drawn this far [m] past the far target."""

MOST_FAINT = 8
"""Earlier beams that are drawn."""


class BuckInPicture:
    """Draws the lesson in one group."""

    group = "lesson buck_in"
    groups = (group,)

    def __init__(self, scene: Scene, lesson: BuckInLesson) -> None:
        self._scene = scene
        self._lesson = lesson
        layout, geometry = lesson.layout, lesson.traced.geometry
        scene.clear(self.group)
        devices = [*device_parts(layout, geometry, first_rows(geometry)), *emitter_parts(layout, geometry, 0)]
        self._origin = geometry.beam_origins()[0]
        ends = self._origin + np.array([[0.0, 0.0, 0.0], [FAR_AT + BEYOND, 0.0, 0.0]])
        line = Part("line", mesh_of(tubes(ends[None], 0.4 * THICK, 8)[0]), Role.STATION_MARK)
        self._still = stage_parts(layout, [*devices, line, *self._scales()])
        scene.put(self.group, named(self.group, self._still))

    def _scales(self) -> list[Part]:
        """At either target the edge of its detector, enlarged like the beam."""
        centre, half = self._lesson.traced.geometry.detector_centres()[:2], 0.5 * self._lesson.traced.window
        turn = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0]])
        reach = BUCK_IN_FACTOR * half[:, None, :] * turn
        corners = centre[:, None, :] + np.stack([np.zeros_like(reach[..., 0]), reach[..., 0], reach[..., 1]], axis=-1)
        sides = np.stack([corners[:, :-1], corners[:, 1:]], axis=2).reshape(-1, 2, 3)
        return [Part("detectors", mesh_of(tubes(sides, 0.8 * THICK, 8)[0]), Role.TARGET)]

    def _beam(self, setting: StageSetting) -> Floats:
        """Two points of a beam, its heights enlarged."""
        light = beams(self._lesson.traced.geometry, state_of_stage(setting))
        start, along = light.origin[0], light.direction[0]
        at = self._origin[0] + np.array([0.0, FAR_AT + BEYOND])
        points = start + ((at - start[0]) / along[0])[:, None] * along
        points[:, 2] = self._origin[2] + BUCK_IN_FACTOR * (points[:, 2] - self._origin[2])
        return np.asarray(points)

    def draw(self, state: BuckInState) -> None:
        """Show the beam after the last step."""
        settings = state.settings
        before = settings[:-1][-MOST_FAINT:]
        now = self._beam(settings[-1])
        centre = self._lesson.traced.geometry.detector_centres()
        spots = np.array(centre)
        spots[:, 2] = self._origin[2] + BUCK_IN_FACTOR * state.off[-1]
        axis = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
        disc = copies(ring(3.0 * THICK, 0.0, -1.4 * THICK, 1.4 * THICK, 24), axis, spots)[0]
        parts = [
            Part("beam", mesh_of(tubes(now[None], THICK, 12)[0]), Role.BEAM_CLEAR),
            Part("spots", mesh_of(disc), Role.SPOT),
        ]
        scene = self._scene
        if before:
            paths = np.stack([self._beam(setting) for setting in before])
            parts.append(Part("earlier", mesh_of(tubes(paths, 0.5 * THICK, 8)[0]), Role.GHOST_TARGET))
        else:
            scene.remove(f"{self.group} earlier")
        scene.put(self.group, named(self.group, parts))

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return lesson_camera(self._still, view, size) if view in LESSON_VIEWS else None
