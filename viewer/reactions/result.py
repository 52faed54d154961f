"""Reactions of the result tab: task, visit, reference, prediction, exaggeration, station, order of the table."""

from __future__ import annotations

import numpy as np

from scenes.errors import GeometryError
from scenes.reductions.form import Reference
from scenes.vectors import Floats
from viewer.desk import Desk
from viewer.logic.legend import legend_document
from viewer.logic.result import REFERENCES, SORTS, result_card, result_document, sorted_rows, visit_choices
from viewer.logic.session import DIFFERENCE
from viewer.logic.shown import Kind, Shown, first_factor, rounded_factor, shown_of, standing_bar
from viewer.reactions.measured import MeasuredReactions
from viewer.scene3d_result import ResultPicture, beam_mesh_of

__all__ = ["ResultReactions"]

WHAT = {Kind.MEASURED: "deviation", Kind.CHANGE: "change", Kind.PREDICTED: "predicted deviation"}


class ResultReactions:
    """Keeps result panel and result picture in step with what is chosen."""

    def __init__(self, desk: Desk, picture: ResultPicture) -> None:
        self._desk = desk
        self._picture = picture
        self._measured = MeasuredReactions(desk)
        self.shown: Shown | None = None
        """What is drawn of a surface; None while another quantity is shown."""
        desk.watch(("task",), self._task)
        desk.watch(("visit", "reference", "predicted", "task", "component"), self._choice)
        desk.watch(("zoom_log",), self._zoom)
        desk.watch(("station",), self._station)
        desk.watch(("sort_key", "sort_down"), self._sort)

    # --- choices

    def _task(self, task: str) -> None:
        """Another task: its visits, its reference, its exaggeration."""
        session = self._desk.session
        if task not in session.tasks():
            return
        visits = visit_choices(session, task)
        names = [each["value"] for each in visits]
        visit = self._desk.state.visit if self._desk.state.visit in names else names[0]
        surface = task in session.surface_tasks()
        zoom = float(np.log10(first_factor(session, task) if surface else self._measured.first_factor(task)))
        self._desk.put(
            visits=visits, visit=visit, reference=session.layout.tasks[task].reference, predicted=False, station="",
            zoom_log=round(zoom, 3), zoom_most=round(zoom + 1.0, 3), component=-1,
            result_kind="surface" if surface else "measured",
        )  # fmt: skip

    def _choice(self, visit: str, reference: str, predicted: bool, task: str, _component: int) -> None:
        session = self._desk.session
        if task not in session.tasks() or visit not in (*session.visits(task), DIFFERENCE):
            return
        if task not in session.surface_tasks():
            if visit != DIFFERENCE:
                self.shown = None
                self._measured.show(self.factor)
            return
        if reference not in REFERENCES:
            return
        kind = Reference(reference)
        if session.is_ready(task, visit, kind):
            self._show(task, visit, kind, predicted)
            return

        def then() -> None:
            if self._desk.state.visit == visit and self._desk.state.reference == reference:
                self._show(task, visit, kind, self._desk.state.predicted)

        self._desk.in_background(lambda: session.result(task, visit, kind), then)

    def _show(self, task: str, visit: str, kind: Reference, predicted: bool) -> None:
        session, desk = self._desk.session, self._desk
        can_predict = (task, visit) in session.proposals
        predicted = bool(predicted) and can_predict
        try:
            self.shown = shown_of(session, task, visit, kind, predicted)
        except KeyError:
            return
        desk.put(
            can_predict=can_predict, predicted=predicted, result=result_document(session, self.shown, kind),
            card=result_card(session, self.shown, desk.state.station),
        )  # fmt: skip
        self._sort(desk.state.sort_key, desk.state.sort_down)
        self._picture.draw(self.shown, self.factor)
        self._legend()
        desk.redraw()

    # --- exaggeration

    @property
    def factor(self) -> float:
        """Exaggeration in use."""
        return rounded_factor(float(self._desk.state.zoom_log))

    def _zoom(self, _log_factor: float) -> None:
        if self.shown is None:
            self._measured.stretch(self.factor)
            return
        self._picture.stretch(self.factor)
        self._legend()
        self._desk.redraw()

    def _legend(self) -> None:
        if self._desk.state.tab != "result":
            return
        if self.shown is None:
            self._measured.legend(self.factor)
            return
        shown = self.shown
        self._desk.scene.set_range(1e6 * shown.largest)
        self._desk.put(legend=legend_document(
            self.factor, shown.largest, self._desk.session.layout.units.deviation,
            bar=standing_bar(shown), zone=shown.zone, drawn=WHAT[shown.kind],
        ))  # fmt: skip

    def refresh(self) -> None:
        """Bring back legend and colours after another tab, and draw layers that were hidden until now."""
        if self.shown is None:
            self._measured.choose(self._desk.state.station)
        else:
            self._picture.freshen()
        self._legend()

    # --- stations

    def _station(self, station: str) -> None:
        if self.shown is None:
            self._measured.choose(station)
            return
        desk = self._desk
        desk.put(card=result_card(desk.session, self.shown, station))
        self._picture.choose(station, beam_mesh_of(desk.session.check.plan, station))
        desk.redraw()

    def _sort(self, key: str, down: bool) -> None:
        if self.shown is not None and key in SORTS:
            rows, note = sorted_rows(self._desk.session, self.shown, key, bool(down))
            self._desk.put(rows=rows, rows_note=note)

    def sort(self, key: str) -> None:
        """Sort by a column: first the largest on top, then the other way, then as read."""
        state = self._desk.state
        first = key != "name"
        if state.sort_key != key:
            self._desk.put(sort_key=key, sort_down=first)
        elif state.sort_down == first:
            self._desk.put(sort_down=not first)
        else:
            self._desk.put(sort_key="order", sort_down=False)

    # --- for clicks and cameras

    def points(self) -> tuple[tuple[str, ...], Floats]:
        """Stations and the points at which they are drawn."""
        if self.shown is None:
            raise GeometryError("no result is shown")
        return self.shown.stations, self.shown.tips(self.factor)
