"""Reactions of the lesson tab: which lesson, and its sliders, which change the measurement model's state."""

from __future__ import annotations

from scenes.meshes.cameras import Camera
from viewer.desk import Desk
from viewer.logic.lesson_movables import first_values
from viewer.logic.lesson_sliders import LESSONS
from viewer.reactions.lesson_buck_in import BuckInTeacher
from viewer.reactions.lesson_form import FormTeacher
from viewer.reactions.lesson_reversal import ReversalTeacher
from viewer.reactions.lessons import AirTeacher, BaseTeacher, PrismTeacher, StepTeacher, Teacher

__all__ = ["LessonReactions"]


class LessonReactions:
    """Keeps lesson panel and lesson picture in step with the sliders; a lesson is made when it is first opened."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._teachers: dict[str, Teacher] = {
            "base": BaseTeacher(desk), "prism": PrismTeacher(desk), "air": AirTeacher(desk), "form": FormTeacher(desk),
            "buck_in": BuckInTeacher(desk), "reversal": ReversalTeacher(desk),
        }  # fmt: skip
        for kind in LESSONS:
            desk.watch(self._teachers[kind].names, lambda *_, kind=kind: self._moved(kind))

    @property
    def _teacher(self) -> Teacher:
        return self._teachers.get(self._desk.state.lesson_kind, self._teachers["base"])

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the picture that the lesson shows."""
        return self._teacher.groups

    @property
    def views(self) -> tuple[str, ...]:
        """Views that the lesson can be seen from; the first is the one that it opens with."""
        return self._teacher.views

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view; None where the layout's own views serve."""
        return self._teacher.camera(view, size)

    def open(self) -> None:
        """Make the lesson that is chosen, if it has not been made yet."""
        self._teacher.open()

    def show(self) -> None:
        """Show the lesson as the sliders stand."""
        self._teacher.show()

    def _moved(self, kind: str) -> None:
        if self._desk.state.tab == "lesson" and self._desk.state.lesson_kind == kind and self._teacher.is_open:
            self._teacher.show()
            self._desk.redraw()

    def press(self, name: str) -> None:
        """Take a step of the lesson."""
        teacher = self._teacher
        if isinstance(teacher, StepTeacher) and teacher.is_open:
            teacher.press(name)
            self._moved(self._desk.state.lesson_kind)

    def reset(self) -> None:
        """Set everything of the lesson back."""
        kind = self._desk.state.lesson_kind
        if kind in LESSONS:
            self._desk.put(**first_values(LESSONS[kind]))
            teacher = self._teacher
            if isinstance(teacher, StepTeacher) and teacher.is_open:
                teacher.begin()
                self._moved(kind)
