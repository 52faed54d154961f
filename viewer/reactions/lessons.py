"""The lessons one by one: each takes the values of its sliders, asks the model and hands the answer to its picture."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

from scenes.meshes.cameras import Camera
from scenes.meshes.exaggeration import rounded_125
from viewer.desk import Desk
from viewer.logic.legend import factor_legend, factor_words, legend_document
from viewer.logic.lesson_air import AirLesson, air_result, open_air_lesson
from viewer.logic.lesson_air_view import air_document
from viewer.logic.lesson_base import BaseLesson, open_base_lesson
from viewer.logic.lesson_base_view import base_document, base_of_sliders
from viewer.logic.lesson_movables import Slider
from viewer.logic.lesson_prism import PrismLesson, open_prism_lesson
from viewer.logic.lesson_prism_view import prism_document, prism_of_sliders
from viewer.logic.lesson_sliders import AIR, BASE, PRISM
from viewer.logic.shown import rounded_factor
from viewer.scene3d_air import AirPicture
from viewer.scene3d_lesson import BEAM_FACTOR, LESSON_VIEWS, SURFACE_FACTOR, BasePicture
from viewer.scene3d_plan import VIEWS
from viewer.scene3d_prism import PRISM_VIEWS, PrismPicture

__all__ = ["AirTeacher", "BaseTeacher", "PrismTeacher", "StepTeacher", "Teacher"]

DRAWN_BEND = 0.04
"""Drawn slope at the end of a level line in a gradient of 1 K/m; a zeroed line is drawn four times as large, since a
quarter of its bend is left."""


class Teacher(Protocol):
    """One lesson as the page needs it."""

    names: tuple[str, ...]
    """What it reads of the state."""

    @property
    def is_open(self) -> bool:
        """Whether it has been opened."""

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the picture."""

    @property
    def views(self) -> tuple[str, ...]:
        """Views to choose from; it opens with the first."""

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view; None where the layout's own views serve."""

    def open(self) -> None:
        """Make lesson and picture."""

    def show(self) -> None:
        """Show the sliders as they stand."""


@runtime_checkable
class StepTeacher(Teacher, Protocol):
    """A lesson in which steps are taken one after another."""

    def press(self, name: str) -> None:
        """Take the step that is named; nothing is shown yet."""

    def begin(self) -> None:
        """Forget the steps taken; nothing is shown yet."""


class BaseTeacher:
    """Tilt and cone, on the surface of the layout or on one of its own."""

    names = tuple(each.name for each in BASE)

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lesson: BaseLesson | None = None
        self._picture: BasePicture | None = None
        self._one_radius = False

    @property
    def is_open(self) -> bool:
        """Whether it has been opened."""
        return self._picture is not None

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the picture."""
        return () if self._picture is None else self._picture.groups

    @property
    def views(self) -> tuple[str, ...]:
        """Views to choose from."""
        own = self._lesson is None or self._lesson.own
        return tuple(LESSON_VIEWS) if own else tuple(view for view in VIEWS if view != "bed")

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return None if self._picture is None else self._picture.camera(view, size)

    def open(self) -> None:
        """Make lesson and picture, anew where other stations are asked for."""
        asked = bool(self._desk.state.one_radius)
        if self._lesson is None or asked != self._one_radius:
            self._one_radius = asked
            self._lesson = open_base_lesson(self._desk.session.layout, asked)
            self._picture = BasePicture(self._desk.scene, self._lesson)

    def show(self) -> None:
        """Show the sliders as they stand."""
        before = self.groups
        self.open()
        assert self._lesson is not None
        assert self._picture is not None
        state, desk = self._desk.state, self._desk
        if before != self.groups:
            desk.scene.show(self.groups)
            desk.put(views=list(self.views))
            camera = self.camera("whole", desk.scene.size)
            if camera is not None:
                desk.put(view="whole")
                desk.look(camera)
        result = base_of_sliders(self._lesson, state.tilt_x, state.tilt_y, state.cone)
        self._picture.draw(result)
        unit = desk.session.layout.units.deviation
        legend = legend_document(
            SURFACE_FACTOR, 1e-6 * desk.scene.range, unit, bar=None, zone=None, drawn="left after the plane fit"
        )
        legend |= {"factor": factor_words(SURFACE_FACTOR, "surface"), "bar": factor_words(BEAM_FACTOR, "beams")}
        desk.put(lesson=base_document(self._lesson, result), legend=legend)


class PrismTeacher:
    """The prism on a flange of its own."""

    names = (*(each.name for each in PRISM), "prism_zoom", "view")
    views = PRISM_VIEWS

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lesson: PrismLesson | None = None
        self._picture: PrismPicture | None = None

    @property
    def is_open(self) -> bool:
        """Whether it has been opened."""
        return self._picture is not None

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the picture."""
        return PrismPicture.groups

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return None if self._picture is None else self._picture.camera(view, size)

    def open(self) -> None:
        """Make lesson and picture."""
        if self._lesson is None:
            self._lesson = open_prism_lesson(self._desk.session.layout.units)
            self._picture = PrismPicture(self._desk.scene, self._lesson)

    def show(self) -> None:
        """Show the sliders as they stand."""
        assert self._lesson is not None
        assert self._picture is not None
        state = self._desk.state
        values = tuple(float(state[each.name]) for each in PRISM if isinstance(each, Slider))
        result, sweeps = prism_of_sliders(self._lesson, values), bool(state.prism_sweeps)
        factor = rounded_factor(float(state.prism_zoom))
        self._picture.draw(result, sweeps, factor, near=state.view == "glass")
        self._desk.put(
            lesson=prism_document(self._lesson, result, sweeps), legend=factor_legend(factor, "errors", "prism_zoom")
        )


class AirTeacher:
    """The bent beam along a rail of its own."""

    names = tuple(each.name for each in AIR)
    views = ("side", *(view for view in LESSON_VIEWS if view != "side"))

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lesson: AirLesson | None = None
        self._picture: AirPicture | None = None

    @property
    def is_open(self) -> bool:
        """Whether it has been opened."""
        return self._picture is not None

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the picture."""
        return AirPicture.groups

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return None if self._picture is None else self._picture.camera(view, size)

    def open(self) -> None:
        """Make lesson and picture, anew for another distance."""
        reach = float(self._desk.state.air_reach)
        if self._lesson is None or self._lesson.reach != reach:
            self._lesson = open_air_lesson(self._desk.session.layout.units, reach)
            self._picture = AirPicture(self._desk.scene, self._lesson)

    def show(self) -> None:
        """Show gradient, distance and zeroing as they stand."""
        before = None if self._lesson is None else self._lesson.reach
        self.open()
        assert self._lesson is not None
        assert self._picture is not None
        desk, state = self._desk, self._desk.state
        if before is not None and before != self._lesson.reach and state.view in self.views:
            camera = self.camera(state.view, desk.scene.size)
            if camera is not None:
                desk.look(camera)
        zeroed = bool(state.air_zeroed)
        result = air_result(self._lesson, float(state.air_gradient), zeroed)
        per_kelvin = abs(float(self._lesson.geometry.index_slope[0]))
        factor = rounded_125((4.0 if zeroed else 1.0) * DRAWN_BEND / (per_kelvin * self._lesson.reach))
        self._picture.draw(result, factor)
        desk.put(lesson=air_document(self._lesson, result, zeroed), legend=factor_legend(factor, "heights", ""))
