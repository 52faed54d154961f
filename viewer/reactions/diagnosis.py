"""Reactions of the tab of diagnosis: visit, group of set-ups, suspect, exaggeration, and the chosen station."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scenes.tracing.places import station_places
from scenes.vectors import Floats
from viewer.desk import Desk
from viewer.logic.diagnosis_drawn import Marks, Signature, marks_of, signature_of
from viewer.logic.diagnosis_held import Diagnosed, Diagnoses, group_choices
from viewer.logic.diagnosis_shown import diagnosis_document
from viewer.logic.diagnosis_station import station_card
from viewer.logic.legend import factor_legend
from viewer.logic.shown import rounded_factor
from viewer.scene3d_diagnosis import GROUPS, DiagnosisPicture

__all__ = ["DiagnosisReactions"]

LOOKING = "Trying every error on the readings …"
WOULD_DO = "what it would do"


class DiagnosisReactions:
    """Keeps panel and picture of the diagnosis in step with what is chosen; works only while its tab is open."""

    def __init__(self, desk: Desk, picture: DiagnosisPicture) -> None:
        self._desk, self._picture = desk, picture
        self._diagnoses = Diagnoses(desk.session)
        self._shown: tuple[str, int] | None = None
        self._held: Diagnosed | None = None
        self._marks: Marks | None = None
        self._signature: Signature | None = None
        self.look: Callable[[], None] = lambda: None
        """Called when something else is shown, so that the picture holds it."""
        desk.watch(("diagnosis_visit",), self._visit)
        desk.watch(("diagnosis_group",), self._group)
        desk.watch(("suspect",), self._suspect)
        desk.watch(("mark_zoom_log",), self._zoom)
        desk.watch(("station",), self._station)

    @property
    def _open(self) -> bool:
        return bool(self._desk.state.tab == "diagnosis")

    # --- choices

    def _visit(self, visit: str) -> None:
        """Another visit; it is looked at when it is first asked for."""
        if not self._open or visit not in self._desk.state.diagnosis_visits:
            return
        if self._diagnoses.is_ready(visit):
            self._groups(visit)
            return
        self._nothing(LOOKING)
        self._desk.in_background(lambda: self._diagnoses.of(visit), lambda: self._done(visit))

    def _done(self, visit: str) -> None:
        if self._open and self._desk.state.diagnosis_visit == visit:
            self._groups(visit)

    def _groups(self, visit: str) -> None:
        """Groups of set-ups of a visit; first that in which something stands out."""
        found = self._diagnoses.of(visit)
        if not found:
            self._nothing("No task is told by this visit, so there is nothing to look at.")
            return
        first = next((number for number, each in enumerate(found) if each.diagnosis.suspects), 0)
        self._desk.put(diagnosis_groups=group_choices(found), diagnosis_group=first)
        self._show(visit, first)

    def _group(self, number: int) -> None:
        visit = self._desk.state.diagnosis_visit
        if self._open and self._diagnoses.is_ready(visit) and self._shown != (visit, int(number)):
            self._show(visit, int(number))

    def _nothing(self, word: str) -> None:
        """Nothing to show, and why."""
        self._shown, self._held, self._marks, self._signature = None, None, None, None
        self._picture.clear()
        self._desk.put(diagnosis=None, diagnosis_word=word, diagnosis_card=None, diagnosis_groups=[], legend=None)
        self._desk.redraw()

    def _show(self, visit: str, number: int) -> None:
        found = self._diagnoses.of(visit)
        if not 0 <= number < len(found):
            return
        desk = self._desk
        new, self._shown, self._held = (visit, number) != self._shown, (visit, number), found[number]
        if new:
            self._marks = marks_of(self._held.network)
            desk.put(suspect=0)
        desk.put(diagnosis_word="", diagnosis=diagnosis_document(desk.session, self._held))
        self._picture.draw(self._the_marks, desk.state.station)
        self._of_station()
        self._suspect(0 if new else int(desk.state.suspect))
        if new:
            self.look()
        desk.redraw()

    @property
    def _the_marks(self) -> Marks:
        assert self._marks is not None
        return self._marks

    # --- what a suspect would do

    def _suspect(self, number: int) -> None:
        """Another suspect: what it would do to the readings, as arrows."""
        if not self._open or self._held is None:
            return
        self._signature = None
        if 0 <= int(number) < len(self._held.diagnosis.suspects):
            self._signature = signature_of(self._desk.session.layout, self._held, int(number))
        if self._signature is not None:
            zoom = float(np.log10(self._signature.first_factor(self._the_marks.longer)))
            self._desk.put(mark_zoom_log=round(zoom, 3), mark_zoom_most=round(zoom + 1.0, 3))
        self._draw_signature()

    @property
    def factor(self) -> float:
        """Exaggeration in use."""
        return rounded_factor(float(self._desk.state.mark_zoom_log))

    def _draw_signature(self) -> None:
        self._picture.would_do(self._signature, self.factor)
        legend = None if self._signature is None else factor_legend(self.factor, WOULD_DO, "mark_zoom_log")
        self._desk.put(legend=legend)
        self._desk.redraw()

    def _zoom(self, _log_factor: float) -> None:
        if self._open and self._signature is not None:
            self._draw_signature()

    # --- stations

    def _station(self, station: str) -> None:
        if self._open and self._held is not None:
            self._of_station()
            self._picture.choose(station)
            self._desk.redraw()

    def _of_station(self) -> None:
        if self._held is not None:
            card = station_card(self._desk.session.layout, self._held, self._desk.state.station)
            self._desk.put(diagnosis_card=card)

    # --- for the picture as a whole

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the scene that the tab shows."""
        return ("machine", "stand", *GROUPS)

    def refresh(self) -> None:
        """Show what is chosen after another tab."""
        state = self._desk.state
        if self._shown is not None and self._shown == (state.diagnosis_visit, int(state.diagnosis_group)):
            self._show(*self._shown)
        else:
            self._visit(state.diagnosis_visit)

    def drawn(self) -> Floats:
        """Points ``(n, 3)`` that a close look must hold."""
        if self._marks is None:
            return np.zeros((0, 3))
        points = self._marks.points
        if self._signature is None:
            return points
        reach = self.factor * self._signature.effects[:, None] * self._signature.directions
        return np.vstack([points, points[self._signature.of] + reach])

    def points(self) -> tuple[tuple[str, ...], Floats]:
        """Stations and the points at which they are drawn."""
        if self._marks is not None:
            return self._marks.stations, self._marks.points
        layout = self._desk.session.layout
        names = tuple(layout.stations)
        foot, normal, rise = station_places(layout, names)
        return names, foot + rise[:, None] * normal
