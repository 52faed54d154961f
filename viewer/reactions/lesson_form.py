"""The lesson of the reference lines: takes the sliders, asks for the three values and hands them to the picture."""

from __future__ import annotations

from scenes.meshes.cameras import Camera
from viewer.desk import Desk
from viewer.logic.legend import legend_document
from viewer.logic.lesson_form import FormLesson, open_form_lesson
from viewer.logic.lesson_form_sliders import FORM, FORM_REFERENCES
from viewer.logic.lesson_form_view import form_document, form_of_sliders
from viewer.scene3d_form import FORM_FACTOR, FormPicture
from viewer.scene3d_lesson import LESSON_VIEWS

__all__ = ["FormTeacher"]


class FormTeacher:
    """End points, least squares and minimum zone on a rail of its own."""

    names = tuple(each.name for each in FORM)
    views = ("side", *(view for view in LESSON_VIEWS if view != "side"))

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lesson: FormLesson | None = None
        self._picture: FormPicture | None = None

    @property
    def is_open(self) -> bool:
        """Whether it has been opened."""
        return self._picture is not None

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the picture."""
        return FormPicture.groups

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return None if self._picture is None else self._picture.camera(view, size)

    def open(self) -> None:
        """Make lesson and picture."""
        if self._lesson is None:
            self._lesson = open_form_lesson(self._desk.session.layout.units)
            self._picture = FormPicture(self._desk.scene, self._lesson)

    def show(self) -> None:
        """Show the readings and the chosen line as the sliders stand."""
        assert self._lesson is not None
        assert self._picture is not None
        desk, state = self._desk, self._desk.state
        way = state.form_reference if state.form_reference in FORM_REFERENCES else "end"
        result = form_of_sliders(
            self._lesson, state.form_shape, state.form_size, state.form_tilt, state.form_last, state.form_scatter
        )
        self._picture.draw(result, way)
        legend = legend_document(
            FORM_FACTOR, 1e-6 * desk.scene.range, desk.session.layout.units.deviation, bar=None, zone=None,
            drawn=f"from {FORM_REFERENCES[way]}",
        )  # fmt: skip
        desk.put(lesson=form_document(self._lesson, result, way), legend=legend)
