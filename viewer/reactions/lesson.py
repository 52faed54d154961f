"""Reactions of the lesson tab: the sliders change the measurement model's state, everything follows."""

from __future__ import annotations

from viewer.desk import Desk
from viewer.logic.legend import factor_words, legend_document
from viewer.logic.lesson import Lesson, open_lesson
from viewer.logic.lesson_view import lesson_document, lesson_of_sliders
from viewer.scene3d_lesson import BEAM_FACTOR, SURFACE_FACTOR, LessonPicture

__all__ = ["LessonReactions"]


class LessonReactions:
    """Keeps lesson panel and lesson picture in step with the sliders; made when the tab is first opened."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lesson: Lesson | None = None
        self._picture: LessonPicture | None = None
        desk.watch(("tilt_x", "tilt_y", "cone"), self._slide)

    def open(self) -> None:
        """Show the lesson as the sliders stand."""
        if self._lesson is None:
            self._lesson = open_lesson(self._desk.session.layout)
            self._picture = LessonPicture(self._desk.scene, self._lesson)
        state = self._desk.state
        self._slide(state.tilt_x, state.tilt_y, state.cone)

    def _slide(self, tilt_x: float, tilt_y: float, cone: float) -> None:
        if self._lesson is None or self._picture is None or self._desk.state.tab != "lesson":
            return
        result = lesson_of_sliders(self._lesson, tilt_x, tilt_y, cone)
        self._picture.draw(result)
        unit = self._desk.session.layout.units.deviation
        legend = legend_document(
            SURFACE_FACTOR, 1e-6 * self._desk.scene.range, unit, bar=None, zone=None, drawn="left after the plane fit"
        )
        legend |= {"factor": factor_words(SURFACE_FACTOR, "surface"), "bar": factor_words(BEAM_FACTOR, "beams")}
        self._desk.put(lesson=lesson_document(self._lesson, result), legend=legend)
        self._desk.redraw()

    def reset(self) -> None:
        """Set all errors to zero."""
        self._desk.put(tilt_x=0.0, tilt_y=0.0, cone=0.0)
