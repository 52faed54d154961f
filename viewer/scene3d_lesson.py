"""The lesson in the picture: swept cone, beams and spots with errors enlarged, and the surface that seems bent."""

from __future__ import annotations

import numpy as np

from scenes.meshes.beams import beam_mesh, beam_paths, drawn_radius, thinned
from scenes.meshes.deviation_surface import DeviationSurface, deviation_mesh, redraw, spanned_surface
from scenes.meshes.emitters import emitter_parts
from scenes.meshes.scene_parts import Part, Role
from scenes.meshes.swept_plane import swept_plane
from scenes.meshes.targets import first_rows, post_mesh, spot_mesh, target_mesh, window_mesh
from scenes.tracing.places import pose_of
from scenes.tracing.sight import SightLines
from scenes.tracing.spots import spots
from scenes.vectors import Floats
from viewer.logic.lesson import Lesson, LessonResult
from viewer.scene3d import Scene
from viewer.scene3d_outline import Outline

__all__ = ["BEAM_FACTOR", "SURFACE_FACTOR", "LessonPicture"]

BEAM_FACTOR = 1000.0
"""Exaggeration of beams, swept plane and spots."""

SURFACE_FACTOR = 5000.0
"""Exaggeration of the seeming deviations: a dish is small beside the tilt that a plane takes out."""

SURFACE, ZERO = "lesson surface", "lesson zero"
LOWEST_RANGE = 5.0
"""The colour map reaches at least this far [um], so that next to nothing looks like nothing."""


class LessonPicture:
    """Draws the lesson in the group ``lesson``; deviations lie under the targets, at the height of the bed."""

    def __init__(self, scene: Scene, lesson: Lesson) -> None:
        self._scene = scene
        self._lesson = lesson
        layout, geometry = lesson.layout, lesson.geometry
        rows = first_rows(geometry)
        still = [
            Part("lesson posts", post_mesh(layout, geometry, rows), Role.POST),
            Part("lesson targets", target_mesh(layout, geometry, rows), Role.TARGET),
            Part("lesson windows", window_mesh(geometry, rows), Role.WINDOW),
            *(  # as they stand: some seconds of arc do not show at the devices themselves
                Part(f"lesson {part.name}", part.mesh, part.role, part.place_kind, part.place_name)
                for part in emitter_parts(layout, geometry, 0)
            ),
        ]
        scene.put("lesson", still)
        surface = layout.tasks[lesson.task].surface
        places = np.column_stack([lesson.places, np.zeros(len(lesson.places))])
        self._spanned: DeviationSurface = spanned_surface(places, pose_of(layout, surface))
        self._outline = Outline(self._spanned)
        self._rows = rows

    def draw(self, result: LessonResult, factor: float = BEAM_FACTOR) -> None:
        """Show another place of the sliders."""
        scene, geometry = self._scene, self._lesson.geometry
        seen = spots(geometry, result.state)
        sight = _clear_sight(len(geometry.rows))
        paths = beam_paths(geometry, seen, sight, result.state, factor)
        radius = drawn_radius(geometry, seen)
        setup = self._lesson.setup.name
        parts = [
            Part("lesson beams", beam_mesh(paths, thinned(paths, 0), radius), Role.BEAM_CLEAR),
            Part("lesson spots", spot_mesh(geometry, seen, self._rows, factor), Role.SPOT),
        ]
        sheet = swept_plane(geometry, setup, result.state, factor)
        edge = sheet.extract_feature_edges(
            boundary_edges=True, feature_edges=False, manifold_edges=False, non_manifold_edges=False
        )
        edge.clear_data()
        scene.put("lesson", [*parts, Part("lesson plane edge", edge, Role.BEAM_CLEAR)])
        scene.put("lesson", [Part("lesson plane", sheet, Role.SWEPT_PLANE)], "thin sheet")
        self._draw_surface(result.deviations, SURFACE_FACTOR)

    def _draw_surface(self, deviations: Floats, factor: float) -> None:
        lift = 0.02 + factor * max(0.0, -float(deviations.min()))
        mesh = self._scene.mesh(SURFACE)
        if mesh is None:
            mesh = deviation_mesh(self._spanned, deviations, factor, lift)
            self._scene.put("lesson", [Part(SURFACE, mesh, Role.DEVIATION_SURFACE)])
        else:
            redraw(mesh, self._spanned, deviations, factor, lift)
        self._scene.put("lesson", [Part(ZERO, self._outline.at(lift), Role.ZERO_OUTLINE)])
        if self._scene.is_shown("lesson"):
            self._scene.set_range(max(LOWEST_RANGE, 1e6 * float(np.abs(deviations).max())))


def _clear_sight(count: int) -> SightLines:
    """A lesson has no obstacles: every beam reaches its target."""
    return SightLines(
        np.zeros(count, dtype=np.int64), np.full(count, -1), np.full(count, np.inf), np.full(count, np.inf)
    )
