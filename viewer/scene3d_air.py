"""The lesson of the bent beam in the picture: the rail, the line that should be, and the beam that is."""

from __future__ import annotations

import numpy as np

from scenes.meshes.cameras import Camera
from scenes.meshes.emitters import emitter_parts
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.solids import copies, mesh_of, tubes
from scenes.shapes import ring
from viewer.logic.lesson_air import AirLesson, AirResult
from viewer.scene3d import Scene
from viewer.scene3d_lesson import LESSON_VIEWS, lesson_camera, named, stage_parts

__all__ = ["AirPicture"]

THICK = 2.2e-3
"""Radius of the drawn beam as a share of the distance."""


GLASS = 0.45
"""Opacity of the rail: a beam that bends down far is seen through it."""


class AirPicture:
    """Draws the lesson in one group. Marks grow with the distance, so that they show; heights are drawn larger."""

    group = "lesson air"
    groups = (group,)

    def __init__(self, scene: Scene, lesson: AirLesson) -> None:
        self._scene = scene
        self._lesson = lesson
        scene.clear(self.group)
        layout, geometry = lesson.layout, lesson.geometry
        self._still = stage_parts(layout, [*emitter_parts(layout, geometry, 0), *self._staffs()])
        scene.put(self.group, named(self.group, self._still))
        scene.make_glass(f"{self.group} surface rail", GLASS)

    def _staffs(self) -> list[Part]:
        """Posts up to the straight line, with a ring around it, and the line itself."""
        geometry, thick = self._lesson.geometry, THICK * self._lesson.reach
        top = geometry.detector_centres()
        posts = tubes(np.stack([geometry.foot, top], axis=1), 0.6 * thick, 10)[0]
        across = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
        hoops = copies(ring(4.0 * thick, 3.2 * thick, -0.6 * thick, 0.6 * thick, 32), across, top)[0]
        ends = np.stack([geometry.beam_origins()[0], top[-1]])
        line = tubes(ends[None], 0.25 * thick, 8)[0]
        return [
            Part("posts", mesh_of(posts), Role.POST), Part("hoops", mesh_of(hoops), Role.TARGET),
            Part("line", mesh_of(line), Role.STATION_MARK),
        ]  # fmt: skip

    def draw(self, result: AirResult, factor: float) -> None:
        """Show another beam, its heights drawn ``factor`` times as large."""
        thick = THICK * self._lesson.reach
        origin = self._lesson.geometry.beam_origins()[0]
        way, height = result.curve
        points = origin + np.column_stack([way, np.zeros_like(way), factor * height])
        top = self._lesson.geometry.detector_centres() + factor * result.seen.v[:, None] * [0.0, 0.0, 1.0]
        axis = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
        spot = copies(ring(2.2 * thick, 0.0, -1.2 * thick, 1.2 * thick, 24), axis, top)[0]
        parts = [
            Part("beam", mesh_of(tubes(points[None], thick, 12)[0]), Role.BEAM_CLEAR),
            Part("spots", mesh_of(spot), Role.SPOT),
        ]
        self._scene.put(self.group, named(self.group, parts))

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return lesson_camera(self._still, view, size) if view in LESSON_VIEWS else None
