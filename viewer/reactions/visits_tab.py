"""Reactions of the tab of visits: which two visits, which value, exaggeration, and the chosen station."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scenes.tracing.places import station_places
from scenes.vectors import Floats
from scenes.visits.changed import Change
from viewer.desk import Desk
from viewer.logic.change_shown import change_card, change_document
from viewer.logic.change_shown_drawn import ChangeDrawn, change_drawn
from viewer.logic.legend import legend_document
from viewer.logic.shown import rounded_factor
from viewer.logic.trends_shown import Courses, course_of
from viewer.logic.visits_shown import VisitChanges, from_choices, visit_pair
from viewer.scene3d_change import ChangePicture

__all__ = ["VisitsReactions"]

COMPARING = "Comparing the visits …"
ONE_VISIT = "This task is told by one visit only. Open the readings of a second one to see what changed."


class VisitsReactions:
    """Keeps panel and picture of the changes in step with what is chosen; works only while its tab is open."""

    def __init__(self, desk: Desk, picture: ChangePicture) -> None:
        self._desk, self._picture = desk, picture
        self._changes, self._courses = VisitChanges(desk.session), Courses(desk.session)
        self._shown: tuple[str, str, str] | None = None
        self._found: tuple[Change, ...] = ()
        self._drawn: ChangeDrawn | None = None
        self.look: Callable[[], None] = lambda: None
        """Called when something else is shown, so that the picture holds it."""
        desk.watch(("task", "change_from", "change_to"), self._choice)
        desk.watch(("change_value",), self._value)
        desk.watch(("change_bars",), self._bars)
        desk.watch(("change_zoom_log",), self._zoom)
        desk.watch(("station",), self._station)

    @property
    def _open(self) -> bool:
        return bool(self._desk.state.tab == "visits")

    # --- choices

    def _choice(self, task: str, one: str, two: str) -> None:
        """Two visits of a task; where the task does not have them, its first and last."""
        session = self._desk.session
        if not self._open or task not in session.tasks():
            return
        one, two = visit_pair(session, task, one, two)
        visits = [{"value": visit, "title": visit} for visit in session.visits(task)]
        self._desk.put(change_froms=from_choices(session, task), change_tos=visits, change_from=one, change_to=two)
        key = (task, one, two)
        if one == "":
            self._nothing(ONE_VISIT)
        elif self._changes.is_ready(*key) and self._courses.is_ready(task):
            self._show(key)
        else:
            self._nothing(COMPARING)
            self._desk.in_background(lambda: self._work_out(key), lambda: self._done(key))

    def _work_out(self, key: tuple[str, str, str]) -> None:
        self._changes.of(*key)
        self._courses.trends(key[0])

    def _done(self, key: tuple[str, str, str]) -> None:
        state = self._desk.state
        if self._open and (state.task, state.change_from, state.change_to) == key:
            self._show(key)

    def _nothing(self, word: str) -> None:
        """No change to show, and why."""
        self._shown, self._found, self._drawn = None, (), None
        self._picture.clear()
        self._desk.put(changed=None, change_word=word, change_card=None, course=None, legend=None)
        self._desk.redraw()

    def _show(self, key: tuple[str, str, str]) -> None:
        found = self._changes.of(*key)
        if isinstance(found, str) or not found:
            self._nothing(found if isinstance(found, str) else "Nothing of this task can be compared.")
            return
        desk, layout = self._desk, self._desk.session.layout
        new, self._shown, self._found = key != self._shown, key, found
        self._drawn = change_drawn(layout, found)
        if new and self._drawn is not None:
            zoom = float(np.log10(self._drawn.first_factor()))
            desk.put(change_zoom_log=round(zoom, 3), change_zoom_most=round(zoom + 1.0, 3))
        desk.put(change_word="", changed=change_document(layout, found, int(desk.state.change_value)))
        self._of_station()
        self._draw()
        if new:
            self.look()
        desk.redraw()

    def _value(self, number: int) -> None:
        """Another value: what the visits share of it, and its course."""
        if self._open and self._found:
            self._desk.put(changed=change_document(self._desk.session.layout, self._found, int(number)))
            self._of_station()

    # --- picture

    @property
    def factor(self) -> float:
        """Exaggeration in use."""
        return rounded_factor(float(self._desk.state.change_zoom_log))

    def _draw(self) -> None:
        if self._drawn is None:
            self._picture.clear()
        else:
            self._picture.draw(self._drawn, self.factor, self._desk.state.station)
        self._legend()

    def _legend(self) -> None:
        drawn, units = self._drawn, self._desk.session.layout.units
        if drawn is None:
            self._desk.put(legend=None)
            return
        legend = legend_document(
            self.factor, drawn.largest, units.angle if drawn.angles else units.deviation, bar=None, zone=None,
            drawn="change", what="changes", angles=drawn.angles,
        )  # fmt: skip
        self._desk.put(legend={**legend, "slider": "change_zoom_log"})

    def _zoom(self, _log_factor: float) -> None:
        if self._open and self._drawn is not None:
            self._draw()
            self._desk.redraw()

    def _bars(self, _shown: bool) -> None:
        if self._open:
            self._desk.scene.show(self.groups)
            self._desk.redraw()

    # --- stations

    def _station(self, station: str) -> None:
        if self._open and self._found:
            self._of_station()
            self._picture.choose(station)
            self._desk.redraw()

    def _of_station(self) -> None:
        """Card and course of the chosen station, or the course of the chosen value."""
        state, session = self._desk.state, self._desk.session
        self._desk.put(
            change_card=change_card(session.layout, self._found, state.station),
            course=course_of(self._courses, state.task, state.station, int(state.change_value)),
        )

    # --- for the picture as a whole

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the scene that the tab shows."""
        bars = ("change bars",) if self._desk.state.change_bars else ()
        return ("machine", "stand", "change", "change names", *bars)

    def refresh(self) -> None:
        """Show what is chosen after another tab."""
        state = self._desk.state
        if self._shown is None or self._shown != (state.task, state.change_from, state.change_to):
            self._choice(state.task, state.change_from, state.change_to)
        else:
            self._show(self._shown)

    def drawn(self) -> Floats:
        """Points ``(n, 3)`` that a close look must hold."""
        return np.zeros((0, 3)) if self._drawn is None else self._drawn.corners(self.factor)

    def points(self) -> tuple[tuple[str, ...], Floats]:
        """Stations and the points at which they are drawn."""
        if self._drawn is not None:
            return self._drawn.stations, self._drawn.tips(self.factor)
        layout = self._desk.session.layout
        names = tuple(layout.stations)
        foot, normal, rise = station_places(layout, names)
        return names, foot + rise[:, None] * normal
