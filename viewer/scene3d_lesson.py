"""The lesson of tilt and cone in the picture: swept cone, beams and spots enlarged, and the surface that seems bent.

Here is also what the pictures of all lessons share: still parts of a scene of their own, and where to look from.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from scenes.meshes.beams import beam_mesh, beam_paths, drawn_radius, thinned
from scenes.meshes.cameras import VIEW_ANGLE, Camera, camera_preset
from scenes.meshes.deviation_surface import DeviationSurface, deviation_mesh, redraw, spanned_surface
from scenes.meshes.emitters import emitter_parts
from scenes.meshes.machine import floor_parts, machine_parts
from scenes.meshes.scene_parts import Part, Role, bounds_of, corners_of
from scenes.meshes.swept_plane import swept_plane
from scenes.meshes.targets import device_parts, first_rows, spot_mesh
from scenes.model.layout import Layout
from scenes.tracing.places import pose_of
from scenes.tracing.sight import SightLines
from scenes.tracing.spots import spots
from scenes.vectors import Floats, unit
from viewer.logic.lesson_base import BaseLesson, BaseResult
from viewer.scene3d import Scene
from viewer.scene3d_outline import Outline

__all__ = [
    "BEAM_FACTOR", "LESSON_VIEWS", "SURFACE_FACTOR", "BasePicture", "clear_sight", "lesson_camera", "named",
    "stage_parts",
]  # fmt: skip

BEAM_FACTOR = 1000.0
"""Exaggeration of beams, swept plane and spots."""

SURFACE_FACTOR = 5000.0
"""Exaggeration of the seeming deviations: a dish is small beside the tilt that a plane takes out."""

LOWEST_RANGE = 5.0
"""The colour map reaches at least this far [um], so that next to nothing looks like nothing."""

LESSON_VIEWS = {"whole": "whole", "top": "top", "side": "along y", "end": "along x"}
TOP_INSET, BOTTOM_INSET = 58.0, 14.0
"""Pixels at the upper and lower edge of the picture that buttons cover, or that are left for looks."""


def clear_sight(count: int) -> SightLines:
    """A lesson has no obstacles: every beam reaches its target."""
    return SightLines(
        np.zeros(count, dtype=np.int64), np.full(count, -1), np.full(count, np.inf), np.full(count, np.inf)
    )


def named(group: str, parts: Iterable[Part]) -> list[Part]:
    """``parts`` with names of their own, apart from those of the layout."""
    return [replace(part, name=f"{group} {part.name}") for part in parts]


def stage_parts(layout: Layout, others: Iterable[Part] = ()) -> list[Part]:
    """Machine surfaces of a scene that a lesson brings with it, with ``others``, and the floor under all of them."""
    parts = [*machine_parts(layout), *others]
    return [*parts, *floor_parts(bounds_of(parts))]


def lesson_camera(parts: Iterable[Part], view: str, size: tuple[float, float]) -> Camera:
    """Camera that shows all ``parts`` from one of ``LESSON_VIEWS``, clear of the buttons; ``size`` in pixels."""
    width, height = size
    free = max(0.4 * height, height - TOP_INSET - BOTTOM_INSET)
    found = camera_preset(LESSON_VIEWS[view], corners_of(parts), width / free)
    off = (found.position - found.focal_point) * (height / free)
    toward = unit(off)
    above = np.cross(toward, unit(np.cross(found.up, toward)))
    per_pixel = 2.0 * np.linalg.norm(off) * np.tan(0.5 * np.deg2rad(VIEW_ANGLE)) / height
    focus = found.focal_point + 0.5 * (TOP_INSET - BOTTOM_INSET) * per_pixel * above
    return Camera(focus + off, focus, found.up)


class BasePicture:
    """Draws the lesson of tilt and cone in one group; deviations lie under the targets, at the height of the bed."""

    group = "lesson base"

    def __init__(self, scene: Scene, lesson: BaseLesson) -> None:
        self._scene = scene
        self._lesson = lesson
        layout, geometry = lesson.layout, lesson.geometry
        rows = first_rows(geometry)
        scene.clear(self.group)
        # devices as they stand: some seconds of arc do not show at them
        devices = [*device_parts(layout, geometry, rows), *emitter_parts(layout, geometry, 0)]
        self._still = stage_parts(layout, devices) if lesson.own else devices
        scene.put(self.group, named(self.group, self._still))
        surface = layout.tasks[lesson.task].surface
        places = np.column_stack([lesson.places, np.zeros(len(lesson.places))])
        self._spanned: DeviationSurface = spanned_surface(places, pose_of(layout, surface))
        self._outline = Outline(self._spanned)
        self._rows = rows

    @property
    def groups(self) -> tuple[str, ...]:
        """What is shown: on the machine of the layout, or on its own."""
        return (self.group,) if self._lesson.own else ("machine", self.group)

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view; None where the layout's own views serve."""
        return lesson_camera(self._still, view, size) if self._lesson.own and view in LESSON_VIEWS else None

    def draw(self, result: BaseResult, factor: float = BEAM_FACTOR) -> None:
        """Show another place of the sliders."""
        scene, geometry = self._scene, self._lesson.geometry
        seen = spots(geometry, result.state)
        paths = beam_paths(geometry, seen, clear_sight(len(geometry.rows)), result.state, factor)
        radius = drawn_radius(geometry, seen)
        parts = [
            Part("beams", beam_mesh(paths, thinned(paths, 0), radius), Role.BEAM_CLEAR),
            Part("spots", spot_mesh(geometry, seen, self._rows, factor), Role.SPOT),
        ]
        sheet = swept_plane(geometry, self._lesson.setup.name, result.state, factor)
        edge = sheet.extract_feature_edges(
            boundary_edges=True, feature_edges=False, manifold_edges=False, non_manifold_edges=False
        )
        edge.clear_data()
        scene.put(self.group, named(self.group, [*parts, Part("plane edge", edge, Role.BEAM_CLEAR)]))
        scene.put(self.group, named(self.group, [Part("plane", sheet, Role.SWEPT_PLANE)]), "thin sheet")
        self._draw_surface(result.deviations, SURFACE_FACTOR)

    def _draw_surface(self, deviations: Floats, factor: float) -> None:
        lift = 0.02 + factor * max(0.0, -float(deviations.min()))
        name = f"{self.group} surface"
        mesh = self._scene.mesh(name)
        if mesh is None:
            mesh = deviation_mesh(self._spanned, deviations, factor, lift)
            self._scene.put(self.group, [Part(name, mesh, Role.DEVIATION_SURFACE)])
        else:
            redraw(mesh, self._spanned, deviations, factor, lift)
        self._scene.put(self.group, [Part(f"{self.group} zero", self._outline.at(lift), Role.ZERO_OUTLINE)])
        if self._scene.is_shown(self.group):
            self._scene.set_range(max(LOWEST_RANGE, 1e6 * float(np.abs(deviations).max())))
