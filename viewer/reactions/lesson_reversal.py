"""The lesson of reversal: which device is turned, which way is shown, and what is set."""

from __future__ import annotations

import numpy as np

from scenes.meshes.cameras import Camera
from viewer.desk import Desk
from viewer.logic.legend import factor_words, legend_document
from viewer.logic.lesson_reversal import ReversalLesson, open_reversal_lesson
from viewer.logic.lesson_reversal_sliders import REVERSAL
from viewer.logic.lesson_reversal_view import reversal_document, reversal_of_sliders
from viewer.scene3d_lesson import LESSON_VIEWS
from viewer.scene3d_reversal import REVERSAL_FACTOR, ReversalPicture

__all__ = ["ReversalTeacher"]


class ReversalTeacher:
    """An emitter in its V, a prism or a vial, turned by half a turn, on scenes of their own."""

    names = tuple(each.name for each in REVERSAL)
    views = tuple(LESSON_VIEWS)

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lesson: ReversalLesson | None = None
        self._picture: ReversalPicture | None = None

    @property
    def is_open(self) -> bool:
        """Whether it has been opened."""
        return self._picture is not None

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the picture."""
        return ReversalPicture.groups

    def camera(self, view: str, size: tuple[float, float]) -> Camera | None:
        """Where to stand for a view."""
        return None if self._picture is None else self._picture.camera(view, size)

    def open(self) -> None:
        """Make lesson and picture, anew for another device."""
        device = str(self._desk.state.rev_device)
        if self._lesson is None or self._lesson.device != device:
            self._lesson = open_reversal_lesson(self._desk.session.layout.units, device)
            self._picture = ReversalPicture(self._desk.scene, self._lesson)

    def show(self) -> None:
        """Show the way that is chosen, as the sliders stand."""
        before = self._lesson
        self.open()
        assert self._lesson is not None
        assert self._picture is not None
        desk, state = self._desk, self._desk.state
        if before is not None and before is not self._lesson and state.view in self.views:
            camera = self.camera(state.view, desk.scene.size)
            if camera is not None:
                desk.look(camera)
        truth, error, moved, short = state.rev_truth, state.rev_error, state.rev_moved, state.rev_short
        result = reversal_of_sliders(self._lesson, truth, error, moved, short)
        turned = bool(state.rev_turned)
        self._picture.draw(result, turned, np.deg2rad(float(short)))
        legend = legend_document(
            REVERSAL_FACTOR, 1e-6 * desk.scene.range, desk.session.layout.units.deviation, bar=None, zone=None,
            drawn="as read this way",
        )  # fmt: skip
        legend |= {"factor": factor_words(REVERSAL_FACTOR, "beams and readings")}
        document = reversal_document(self._lesson, result, truth, error, turned, moved=moved, short=short)
        desk.put(lesson=document, legend=legend)
