"""The machine and the plan in the picture: surfaces, feet, devices, beams, swept plane and the marks of findings."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

import numpy as np

from scenes.checks.check import CheckResult
from scenes.errors import GeometryError
from scenes.meshes.anchors import finding_anchor
from scenes.meshes.bent_beams import bent_beams
from scenes.meshes.cameras import VIEW_ANGLE, Camera, camera_preset
from scenes.meshes.emitters import HOUSING_LENGTH
from scenes.meshes.finding_marks import finding_marks, finding_parts
from scenes.meshes.machine import floor_parts
from scenes.meshes.plan_scene import layout_parts, plan_parts, survey_parts
from scenes.meshes.scene_parts import Part, Role, bounds_of
from scenes.meshes.stands import SPREAD
from scenes.model.layout import Layout
from scenes.model.machine import Column, Plate
from scenes.model.survey import Setup
from scenes.tracing.geometry import survey_geometry
from scenes.tracing.places import pose_of, station_places
from scenes.tracing.rows import planned_rows
from scenes.tracing.sight import triangles_of
from scenes.vectors import Floats, unit
from viewer.logic.legend import factor_words
from viewer.scene3d import Scene
from viewer.scene3d_labels import Lettering, lettering

__all__ = ["VIEWS", "PlanPicture", "close_camera", "view_camera"]

NAMED = 1.1
"""A close look is so much wider than what is drawn, for the names beside it."""

DEEP = 0.25
"""A close look holds no more [m] of what lies below the top of a surface."""

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


SURVEY_GROUPS = ("stand", "targets", "beams", "swept plane", "plan names")
"""Layers that belong to set-ups."""

ABOVE = 0.1
"""Room above emitters and targets, metres."""

GLASS = 0.16
"""Opacity of surfaces that are not measured and would hide those that are."""

OVERHEAD = 0.32
"""Opacity of plates that are measured from below and would hide what stands under them."""

NAME_PIXELS = 10.0


class PlanPicture:
    """Draws machine and plan; groups ``machine``, ``stand``, ``targets``, ``beams``, ``swept plane``, ``findings``.

    Attributes
    ----------
    bend : float
        How much larger than life the bent beams are drawn, as the picture says too; 0 where none bends enough.
    """

    def __init__(self, scene: Scene, check: CheckResult) -> None:
        self._scene = scene
        self._check = check
        self._names: list[Lettering] = []
        self.bend = 0.0
        measured = {task.surface for task in check.layout.tasks.values()}
        parts = plan_parts(check.plan) if check.plan is not None else _machine_only(check.layout)
        for part in parts:
            scene.put(_group(part), [part])
            if part.role is Role.MACHINE_SURFACE:
                self._make_glass(part, part.place_name in measured)
        scene.put("findings", finding_parts(check.layout, check.findings, check.plan))
        self._put_words(tuple(check.layout.setups))
        scene.before_render(self._turn_names)

    def restrict(self, setups: tuple[str, ...] = ()) -> None:
        """Show devices, beams and names of these set-ups only; of all where none is named.

        Raises
        ------
        KeyError
            Where there is no set-up of that name.
        """
        plan, layout = self._check.plan, self._check.layout
        chosen = tuple(name for name in setups if layout.setups[name]) or tuple(layout.setups)
        for group in SURVEY_GROUPS:
            self._scene.clear(group)
        if plan is not None and len(plan.geometry.rows):
            numbers = [plan.geometry.rows.setups.index(name) for name in chosen if name in plan.geometry.rows.setups]
            row = int(np.argmax(np.isin(plan.geometry.rows.setup, numbers)))
            for part in survey_parts(plan, row, setups=chosen):
                self._scene.put(_group(part), [part])
        self._put_words(chosen)

    def _make_glass(self, part: Part, measured: bool) -> None:
        """Let columns that are not measured, and what is measured from below, be looked through."""
        surface = self._check.layout.surfaces[part.place_name]
        if isinstance(surface.shape, Column) and not measured:
            self._scene.make_glass(part.name, GLASS)
        elif isinstance(surface.shape, Plate) and surface.world_from_surface.rotation[2, 2] < -0.5:
            self._scene.make_glass(part.name, OVERHEAD)

    def _put_words(self, setups: tuple[str, ...]) -> None:
        """Names of stations, and how much bending is enlarged."""
        self._names.clear()
        self._put_names(setups)
        self._put_bend(setups)

    def _put_names(self, setups: tuple[str, ...]) -> None:
        layout = self._check.layout
        chosen = [layout.setups[name] for name in setups]
        read = {name for setup in chosen for name in (*setup.reads, setup.near, setup.far)}
        every = len(setups) == len(layout.setups)
        names = [name for name in layout.stations if every or name in read]
        if not names:
            return
        foot, normal, rise = station_places(layout, tuple(names))
        rise = np.where([name in read for name in names], rise, 0.0)
        letters = lettering(names, foot + (rise + 0.02)[:, None] * normal, NAME_PIXELS, 1.2, sparse=True)
        self._scene.put("plan names", [Part("plan names", letters.mesh, Role.STATION_MARK)])
        self._names.append(letters)

    def _put_bend(self, setups: tuple[str, ...]) -> None:
        """Words at the beam that bends most: how much bending is enlarged."""
        bent = None if self._check.plan is None else bent_beams(self._check.plan, setups)
        self.bend = 0.0 if bent is None else bent.factor
        if bent is None:
            return
        most = int(np.argmax(bent.off))
        words = factor_words(bent.factor, "bend")
        letters = lettering([words], bent.anchors[most : most + 1], NAME_PIXELS, -1.3)
        self._scene.put("beams", [Part("bend words", letters.mesh, Role.BEAM_BENT)])
        self._names.append(letters)

    def _turn_names(self) -> None:
        for letters in self._names:
            letters.turn(self._scene.camera, self._scene.size[1])

    def mark_finding(self, number: int) -> Camera:
        """Mark the place of one finding; where to stand to see it."""
        anchor = finding_anchor(self._check.layout, self._check.findings[number], self._check.plan)
        self._scene.put("findings", [Part("finding mark", finding_marks(anchor.point[None]), Role.FINDING_MARK)])
        return anchor.camera

    def unmark(self) -> None:
        """Take the mark of a finding away."""
        self._scene.remove("finding mark")


def _machine_only(layout: Layout) -> tuple[Part, ...]:
    parts = layout_parts(layout)
    return (*parts, *floor_parts(bounds_of(parts)))


def _surface_corners(layout: Layout, measured_only: bool) -> Floats:
    measured = {task.surface for task in layout.tasks.values()}
    read = {name for task in layout.tasks.values() for name in task.stations if name in layout.stations}
    measured |= {layout.stations[name].surface for name in read}
    chosen = [each for name, each in layout.surfaces.items() if name in measured or not measured_only]
    corners = [np.zeros((0, 3))]
    for surface in chosen or list(layout.surfaces.values()):
        vertices = surface.world_from_surface.points(triangles_of(surface.shape).vertices)
        corners.append(vertices)
    return np.vstack(corners)


@lru_cache(maxsize=4)
def _survey_corners(layout: Layout) -> Floats:
    """Emitters on all sides with their stands, prisms at all stops and targets, world, metres."""
    foot, normal, rise = station_places(layout, tuple(layout.stations))
    points = [foot + (rise + ABOVE)[:, None] * normal]
    try:
        geometry = survey_geometry(layout, planned_rows(layout))
    except GeometryError:  # it cannot be traced, which a finding says; set-ups stand where they are placed
        return np.vstack([*points, *(pose_of(layout, each.on).points(each.at) for each in layout.setups.values())])
    setup, origin = geometry.rows.setup, np.round(geometry.beam_origins(), 6)
    for number, *place in np.unique(np.column_stack([setup, origin]), axis=0):
        points.append(_stand_corners(layout, layout.setups[geometry.rows.setups[int(number)]], np.array(place)))
    points.append(np.unique(np.round(geometry.noses.centre, 6), axis=0))
    return np.vstack(points)


def _stand_corners(layout: Layout, setup: Setup, exit_: Floats) -> Floats:
    """Room that an emitter with its stand takes: from the exit of the beam down to the feet of a tripod."""
    pose = pose_of(layout, setup.on)
    local = pose.inverse().points(exit_)
    spread = SPREAD * local[2] if setup.mount.kind == "tripod" else 0.0
    feet = [[local[0] + x, local[1] + y, 0.0] for x in (-spread, spread) for y in (-spread, spread)]
    top, back = local + np.array([0.0, 0.0, ABOVE]), local - np.array([HOUSING_LENGTH, 0.0, 0.0])
    return pose.points(np.vstack([feet, top, back]))


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


def close_camera(layout: Layout, stations: Iterable[str], points: Floats, size: tuple[float, float]) -> Camera:
    """Camera that looks at ``points`` (n, 3) and at the surfaces of ``stations``, those that move left out.

    As in the view ``bed``; ``size`` of the picture in pixels.
    """
    names = {layout.stations[name].surface for name in stations if name in layout.stations}
    known = [layout.surfaces[name] for name in sorted(names) if name in layout.surfaces]  # the floor is none
    still = [each for each in known if each.moves is None]
    corners = [each.world_from_surface.points(triangles_of(each.shape).vertices) for each in still]
    tops = [np.maximum(each, [-np.inf, -np.inf, each[:, 2].max() - DEEP]) for each in corners]
    points = np.vstack([points, *tops])
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    points = middle + NAMED * (points - middle)
    width, height = size
    free = max(0.4 * height, height - TOP_INSET - BOTTOM_INSET)
    return _inset(camera_preset(_PRESETS["bed"], points, width / free), height)


def view_camera(layout: Layout, view: str, size: tuple[float, float], extra: Floats | None = None) -> Camera:
    """Camera for one of ``VIEWS`` in a picture of ``size`` (width, height) pixels.

    ``extra`` (n, 3) points must be in the picture as well (world, metres).
    """
    points = [_surface_corners(layout, measured_only=view == "bed")]
    if view == "bed":
        top = points[0][:, 2].max()
        points[0] = np.maximum(points[0], [-np.inf, -np.inf, top - DEEP])
    else:
        points.append(_survey_corners(layout))
    if extra is not None:
        points.append(extra)
    every = np.vstack(points)
    if len(every) == 0:
        every = np.array([[-0.5, -0.5, 0.0], [0.5, 0.5, 1.0]])
    width, height = size
    free = max(0.4 * height, height - TOP_INSET - BOTTOM_INSET)
    return _inset(camera_preset(_PRESETS[view], every, width / free), height)
