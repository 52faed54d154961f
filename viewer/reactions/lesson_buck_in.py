"""The lesson of bucking in: sliders set the start, buttons take steps."""

from __future__ import annotations

from scenes.meshes.cameras import Camera
from scenes.units import to_si
from viewer.desk import Desk
from viewer.logic.legend import factor_legend
from viewer.logic.lesson_buck_in import (
    BuckInLesson,
    BuckInState,
    begun,
    open_buck_in_lesson,
    overshot,
    rounded,
    stepped,
)
from viewer.logic.lesson_buck_in_sliders import BUCK_IN, NEXT_STEP, ONE_ROUND, OVERSHOOT
from viewer.logic.lesson_buck_in_view import buck_in_document
from viewer.logic.lesson_movables import Press
from viewer.scene3d_buck_in import BUCK_IN_FACTOR, BuckInPicture
from viewer.scene3d_lesson import LESSON_VIEWS

__all__ = ["BuckInTeacher"]

STEPS = {NEXT_STEP: stepped, ONE_ROUND: rounded, OVERSHOOT: overshot}


class BuckInTeacher:
    """A stage that is shifted and tilted step by step, on a rail of its own."""

    names = tuple(each.name for each in BUCK_IN if not isinstance(each, Press))
    views = ("side", *(view for view in LESSON_VIEWS if view != "side"))

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lesson: BuckInLesson | None = None
        self._picture: BuckInPicture | None = None
        self._state: BuckInState | None = None
        self._start: tuple[str, float, float, float, float] | None = None

    @property
    def is_open(self) -> bool:
        """Whether it has been opened."""
        return self._picture is not None

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the picture."""
        return BuckInPicture.groups

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return None if self._picture is None else self._picture.camera(view, size)

    def open(self) -> None:
        """Make lesson and picture, anew for another near target; another start begins anew."""
        state = self._desk.state
        way, near = str(state.buck_way), round(float(state.buck_near), 3)
        start = (way, near, float(state.buck_angle), float(state.buck_offset), float(state.buck_hand))
        if self._lesson is None or self._lesson.near != near:
            self._lesson = open_buck_in_lesson(self._desk.session.layout.units, near)
            self._picture = BuckInPicture(self._desk.scene, self._lesson)
        if self._state is None or start != self._start:
            self._start = start
            angle, offset = to_si(start[2], "arcmin", "angle"), to_si(start[3], "mm", "length")
            self._state = begun(self._lesson, way, angle, offset, start[4] / 100.0)

    def press(self, name: str) -> None:
        """Take a step, a round or an overshoot."""
        self.open()
        assert self._state is not None
        if name in STEPS:
            self._state = STEPS[name](self._state)

    def begin(self) -> None:
        """Forget the steps taken."""
        self._state = None

    def show(self) -> None:
        """Show where the beam stands now."""
        self.open()
        assert self._state is not None
        assert self._picture is not None
        self._picture.draw(self._state)
        self._desk.put(lesson=buck_in_document(self._state), legend=factor_legend(BUCK_IN_FACTOR, "heights", ""))
