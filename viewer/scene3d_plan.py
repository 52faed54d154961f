"""The machine and the plan in the picture: surfaces, feet, devices, beams, swept plane and the marks of findings."""

from __future__ import annotations

import numpy as np

from scenes.checks.check import CheckResult
from scenes.errors import GeometryError
from scenes.meshes.anchors import finding_anchor, finding_marks
from scenes.meshes.cameras import VIEW_ANGLE, Camera, camera_preset
from scenes.meshes.machine import floor_parts
from scenes.meshes.plan_scene import layout_parts, plan_parts
from scenes.meshes.scene_parts import Part, Role, bounds_of
from scenes.model.layout import Layout
from scenes.model.machine import Column
from scenes.tracing.launches import launch_of
from scenes.tracing.places import pose_of, station_places
from scenes.tracing.sight import triangles_of
from scenes.vectors import Floats, unit
from viewer.scene3d import Scene
from viewer.scene3d_labels import Lettering, lettering

__all__ = ["VIEWS", "PlanPicture", "view_camera"]

VIEWS = ("bed", "whole", "top", "side", "end")
_PRESETS = {"bed": "whole", "whole": "whole", "top": "top", "side": "along y", "end": "along x"}

_GROUP_OF = {
    **dict.fromkeys((
        Role.EMITTER, Role.EXIT_PORT, Role.BASE, Role.V_BLOCK, Role.STAGE, Role.PRISM, Role.PRISM_RING,
        Role.GHOST_STAND,
    ), "stand"),
    **dict.fromkeys((
        Role.POST, Role.MAGNET, Role.DISCS, Role.TARGET, Role.WINDOW, Role.SPOT, Role.CLOCK_MARK, Role.GHOST_TARGET,
    ), "targets"),
    **dict.fromkeys((
        Role.BEAM_CLEAR, Role.BEAM_CLIPPED, Role.BEAM_BLOCKED, Role.BEAM_LOST, Role.BEAM_BENT,
    ), "beams"),
    Role.SWEPT_PLANE: "swept plane", Role.STATION_MARK: "stations",
}  # fmt: skip


def _group(part: Part) -> str:
    """Layer of a part; tripods, brackets and glass go with what they belong to."""
    if part.role in (Role.TRIPOD, Role.BRACKET, Role.GLASS):
        return "stand" if part.place_kind == "set-up" else "targets"
    return _GROUP_OF.get(part.role, "machine")


ABOVE = 0.1
"""Room above emitters and targets, metres."""

GLASS = 0.16
"""Opacity of surfaces that are not measured and would hide those that are."""

NAME_PIXELS = 10.0
NAMES_SHOWN = 80


class PlanPicture:
    """Draws machine and plan; groups ``machine``, ``stand``, ``targets``, ``beams``, ``swept plane``, ``findings``."""

    def __init__(self, scene: Scene, check: CheckResult) -> None:
        self._scene = scene
        self._check = check
        self._names: Lettering | None = None
        parts = plan_parts(check.plan) if check.plan is not None else _machine_only(check.layout)
        measured = {task.surface for task in check.layout.tasks.values()}
        for part in parts:
            scene.put(_group(part), [part])
            if part.role is Role.MACHINE_SURFACE and part.place_name not in measured:
                self._make_glass(part)
        self._put_names()
        scene.before_render(self._turn_names)

    def _make_glass(self, part: Part) -> None:
        shape = self._check.layout.surfaces[part.place_name].shape
        if isinstance(shape, Column):
            self._scene.make_glass(part.name, GLASS)

    def _put_names(self) -> None:
        layout = self._check.layout
        names = list(layout.stations)
        if not 0 < len(names) <= NAMES_SHOWN:
            return
        foot, normal, rise = station_places(layout, tuple(names))
        self._names = lettering(names, foot + (rise + 0.02)[:, None] * normal, NAME_PIXELS, 1.2)
        self._scene.put("plan names", [Part("plan names", self._names.mesh, Role.STATION_MARK)])

    def _turn_names(self) -> None:
        if self._names is not None:
            self._names.turn(self._scene.camera, self._scene.size[1])

    def mark_finding(self, number: int) -> Camera:
        """Mark the place of one finding; where to stand to see it."""
        anchor = finding_anchor(self._check.layout, self._check.findings[number], self._check.plan)
        self._scene.put("findings", [Part("finding mark", finding_marks(anchor.point[None]), Role.FINDING_MARK)])
        return anchor.camera

    def unmark(self) -> None:
        """Take the mark of a finding away."""
        self._scene.clear("findings")


def _machine_only(layout: Layout) -> tuple[Part, ...]:
    parts = layout_parts(layout)
    return (*parts, *floor_parts(bounds_of(parts)))


def _surface_corners(layout: Layout, measured_only: bool) -> Floats:
    measured = {task.surface for task in layout.tasks.values()}
    chosen = [each for name, each in layout.surfaces.items() if name in measured or not measured_only]
    corners = [np.zeros((0, 3))]
    for surface in chosen or list(layout.surfaces.values()):
        vertices = surface.world_from_surface.points(triangles_of(surface.shape).vertices)
        corners.append(vertices)
    return np.vstack(corners)


def _stand_corners(layout: Layout) -> Floats:
    """Feet and tops of what carries the emitters, and the stops of prisms, world, metres."""
    points = [np.zeros((0, 3))]
    for setup in layout.setups.values():
        pose = pose_of(layout, setup.on)
        try:
            launch = launch_of(layout, setup)
        except GeometryError:  # it cannot be traced, which a finding says; it stands where it is placed
            points.append(pose.points(setup.at)[None])
            continue
        top = launch.origin + (launch.beam_height + ABOVE) * launch.rotation[:, 2]
        foot = pose.inverse().points(launch.origin) * [1.0, 1.0, 0.0]
        points += [top[None], pose.points(foot)[None]]
        stops = () if setup.prism is None else setup.prism.stops
        points += [(launch.origin + stop.distance * launch.rotation[:, 0])[None] for stop in stops]
    return np.vstack(points)


def _target_corners(layout: Layout) -> Floats:
    """Where the targets of the stations stand, world, metres."""
    foot, normal, rise = station_places(layout, tuple(layout.stations))
    result: Floats = foot + (rise + ABOVE)[:, None] * normal
    return result


TOP_INSET, BOTTOM_INSET = 58.0, 14.0
"""Pixels at the upper and lower edge of the picture that buttons cover, or that are left for looks."""


def _inset(camera: Camera, height: float) -> Camera:
    """The same view drawn smaller, so that it fits between the insets of a picture ``height`` pixels high."""
    free = max(0.4 * height, height - TOP_INSET - BOTTOM_INSET)
    off = (camera.position - camera.focal_point) * (height / free)
    toward = unit(off)
    above = np.cross(toward, unit(np.cross(camera.up, toward)))
    per_pixel = 2.0 * np.linalg.norm(off) * np.tan(0.5 * np.deg2rad(VIEW_ANGLE)) / height
    focus = camera.focal_point + 0.5 * (TOP_INSET - BOTTOM_INSET) * per_pixel * above
    return Camera(focus + off, focus, camera.up)


def view_camera(layout: Layout, view: str, size: tuple[float, float], extra: Floats | None = None) -> Camera:
    """Camera for one of ``VIEWS`` in a picture of ``size`` (width, height) pixels.

    ``extra`` (n, 3) points must be in the picture as well (world, metres).
    """
    points = [_surface_corners(layout, measured_only=view == "bed")]
    if view == "bed":
        top = points[0][:, 2].max()
        points[0] = np.maximum(points[0], [-np.inf, -np.inf, top - 0.25])
    else:
        points += [_stand_corners(layout), _target_corners(layout)]
    if extra is not None:
        points.append(extra)
    every = np.vstack(points)
    if len(every) == 0:
        every = np.array([[-0.5, -0.5, 0.0], [0.5, 0.5, 1.0]])
    width, height = size
    free = max(0.4 * height, height - TOP_INSET - BOTTOM_INSET)
    return _inset(camera_preset(_PRESETS[view], every, width / free), height)
