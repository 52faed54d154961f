"""Reactions of the picture: tab, layers, view, size, theme, clicks, and who draws it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from scenes.meshes.cameras import Camera
from scenes.tracing.places import station_places
from scenes.vectors import Floats
from viewer.colours import theme_of
from viewer.desk import Desk
from viewer.logic.picking import nearest
from viewer.reactions.lesson import LessonReactions
from viewer.reactions.plan import PlanReactions
from viewer.reactions.result import ResultReactions
from viewer.reactions.tab_picture import TabPicture
from viewer.scene3d_plan import VIEWS, close_camera, view_camera
from viewer.state import LAYERS

__all__ = ["PictureReactions"]

CLICK_PIXELS = 36.0
"""A click this near to a station means it: wide enough for a finger."""

REACH = 0.5
"""A click on a picture drawn in the browser means a station within this [m]."""

GROUPS = {
    "result": ("machine", "stand", "surface", "chosen"),
    "plan": ("machine", "stand", "targets", "beams", "swept plane", "plan names", "findings", "plan chosen"),
}  # fmt: skip
TABS = ("result", "plan", "lesson")


class PictureReactions:
    """Decides what is shown and from where."""

    def __init__(
        self, desk: Desk, result: ResultReactions | None, plan: PlanReactions, lesson: LessonReactions,
        more: Mapping[str, TabPicture] | None = None,
    ) -> None:  # fmt: skip
        self._desk, self._result, self._plan, self._lesson = desk, result, plan, lesson
        self._more = dict(more or {})
        self._last_place = ("", "")
        desk.watch(("dark",), self._theme)
        desk.watch(("tab", "layers", "lesson_kind", "task"), self._tab)
        desk.watch(("picture_size",), self._size)
        desk.watch(("drawn_by",), self._drawn_by)

    def _theme(self, dark: bool) -> None:
        self._desk.scene.set_theme(theme_of(bool(dark)))
        self._desk.redraw()

    def _tab(self, tab: str, layers: list[str], _lesson: str, task: str) -> None:
        if tab not in (*TABS, *self._more):
            return
        if tab == "lesson":
            self._lesson.open()
        known = {name for name, _ in LAYERS}
        extra = [layer for layer in layers if layer in known]
        more = self._more.get(tab)
        groups = more.groups if more is not None else self._lesson.groups if tab == "lesson" else GROUPS[tab]
        self._desk.scene.show([*groups, *(extra if tab == "result" else ())])
        if tab == "result" and self._result is not None:
            self._result.refresh()
        if more is not None:
            more.refresh()
        if tab == "lesson":
            self._lesson.show()
        place = (tab, self._desk.state.lesson_kind if tab == "lesson" else "" if tab == "plan" else task)
        if place != self._last_place:
            self._go_to(tab)
            self._last_place = place
        self._desk.redraw()

    def _go_to(self, tab: str) -> None:
        """Open another tab or lesson: its views, and a first look."""
        first = self._last_place[0] == ""
        if tab == "plan":
            self._plan.refresh()
        else:
            self._plan.forget()
        views = self._lesson.views if tab == "lesson" else VIEWS
        self._desk.put(views=list(views))
        self.look_from(
            "bed" if tab == "result" or tab in self._more else views[0] if tab == "lesson" else "whole", quietly=first
        )

    def _size(self, size: dict[str, Any] | None) -> None:
        """Fit the view again when the picture gets another shape, as long as nobody has turned it."""
        if not size or not self._desk.state.view:
            return
        inner = size.get("size", {})
        width, height = float(inner.get("width", 0)), float(inner.get("height", 0))
        if width > 10.0 and height > 10.0 and not self._turned():
            self.look_from(self._desk.state.view, size=(width, height))
            self._desk.redraw()

    def _turned(self) -> bool:
        camera = self._desk.scene.camera
        return not all(
            np.allclose(getattr(camera, name), getattr(self._stood, name), atol=1e-9)
            for name in ("position", "focal_point", "up")
        )

    def look_from(self, view: str, quietly: bool = False, size: tuple[float, float] | None = None) -> None:
        """Look from one of the views."""
        if view not in self._desk.state.views:
            return
        self._stood = self._camera(view, self._desk.scene.size if size is None else size)
        self._desk.put(view=view)
        if quietly:
            self._desk.scene.look(self._stood)
        else:
            self._desk.look(self._stood)

    def _camera(self, view: str, shape: tuple[float, float]) -> Camera:
        if self._desk.state.tab == "lesson":
            found = self._lesson.camera(view, shape)
            if found is not None:
                return found
        extra = None
        more = self._more.get(self._desk.state.tab)
        if more is not None and len(more.drawn()):
            if view == "bed":
                return close_camera(self._desk.session.layout, more.points()[0], more.drawn(), shape)
            extra = more.drawn()
        if self._desk.state.tab == "result" and self._result is not None and self._result.shown is not None:
            extra = self._result.drawn()
            if view == "bed":
                return close_camera(self._desk.session.layout, self._result.points()[0], extra, shape)
        return view_camera(self._desk.session.layout, view, shape, extra)

    def choose_view(self, view: str) -> None:
        """Look from one of the views, as its button asks."""
        self.look_from(view)
        self._desk.redraw()

    def _drawn_by(self, _how: str) -> None:
        self._desk.redraw()

    def click(self, x: float, y: float, width: float, height: float) -> None:
        """Choose the station that a click means, at ``(x, y)`` from the upper left of a picture of this size."""
        if self._desk.state.tab == "lesson":
            return
        names, points = self._stations()
        size = (float(width), float(height))
        number = nearest(points, self._desk.scene.camera, size, float(x), float(y), CLICK_PIXELS)
        if number is not None:
            self._desk.put(station=names[number])

    def hit(self, picked: dict[str, Any] | None) -> None:
        """Choose the station nearest to the place that was hit in a picture drawn in the browser."""
        place = (picked or {}).get("worldPosition")
        names, points = self._stations()
        if not isinstance(place, list) or len(place) < 3 or len(points) == 0 or self._desk.state.tab == "lesson":
            return
        away = np.linalg.norm(points - np.array(place[:3], dtype=np.float64), axis=1)
        if float(away.min()) <= REACH:
            self._desk.put(station=names[int(np.argmin(away))])

    def _stations(self) -> tuple[tuple[str, ...], Floats]:
        if self._desk.state.tab == "result" and self._result is not None and self._result.shown is not None:
            return self._result.points()
        if self._desk.state.tab in self._more:
            return self._more[self._desk.state.tab].points()
        names = tuple(self._desk.session.layout.stations)
        foot, normal, rise = station_places(self._desk.session.layout, names)
        return names, foot + rise[:, None] * normal
