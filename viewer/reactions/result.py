"""Reactions of the result tab: task, visit, reference, component, prediction, exaggeration, station, sorting."""

from __future__ import annotations

import numpy as np

from scenes.errors import GeometryError
from scenes.model.survey import Rule
from scenes.vectors import Floats
from viewer.desk import Desk
from viewer.logic.legend import legend_document
from viewer.logic.plots import plot_of_component, plot_with
from viewer.logic.result import result_document, visit_choices
from viewer.logic.result_stations import SORTS, result_card, sorted_rows
from viewer.logic.session import DIFFERENCE
from viewer.logic.shown import Kind, Shown, first_factor, rounded_factor, shown_of, standing_bar
from viewer.logic.signs import corners_drawn
from viewer.scene3d_result import ResultPicture, beam_mesh_of

__all__ = ["ResultReactions"]

WHAT = {Kind.MEASURED: "deviation", Kind.CHANGE: "change", Kind.PREDICTED: "predicted deviation"}


class ResultReactions:
    """Keeps result panel and result picture in step with what is chosen."""

    def __init__(self, desk: Desk, picture: ResultPicture) -> None:
        self._desk = desk
        self._picture = picture
        self.shown: Shown | None = None
        """What is drawn."""
        self._last_component = ("", -1)
        desk.watch(("task",), self._task)
        desk.watch(("visit", "reference", "predicted", "task", "component", "rule"), self._choice)
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
        zoom = float(np.log10(first_factor(session, task)))
        self._desk.put(
            visits=visits, visit=visit, reference=session.layout.tasks[task].reference, predicted=False, station="",
            zoom_log=round(zoom, 3), zoom_most=round(zoom + 1.0, 3), component=-1, plot=-1,
        )  # fmt: skip

    def _choice(self, visit: str, reference: str, predicted: bool, task: str, component: int, rule: str) -> None:
        session, state = self._desk.session, self._desk.state
        if rule in ("", *Rule):
            session.rule = Rule(rule) if rule else None
        if task not in session.tasks() or visit not in (*session.visits(task), DIFFERENCE):
            return
        if reference not in (session.layout.tasks[task].reference, *session.references(task)):
            return

        def then() -> None:
            if (state.task, state.visit, state.reference) == (task, visit, reference):
                self._show(task, visit, reference, state.predicted, state.component)

        if session.is_ready(task, visit, reference):
            self._show(task, visit, reference, predicted, component)
        else:
            self._desk.in_background(lambda: session.measured(task, visit, reference), then)
        if visit != DIFFERENCE and not all(session.is_ready(task, visit, each) for each in session.references(task)):
            self._desk.in_background(lambda: session.compare(task, visit), then)

    def _show(self, task: str, visit: str, reference: str, predicted: bool, component: int) -> None:
        session, desk = self._desk.session, self._desk
        can_predict = (task, visit) in session.proposals
        predicted = bool(predicted) and can_predict
        try:
            self.shown = shown_of(session, task, visit, reference, predicted, int(component))
        except KeyError:
            return
        document = result_document(session, self.shown)
        now = int(desk.state.plot)
        if (task, component) != self._last_component:
            named = plot_of_component(document["plots"], self.shown)
            now = named if named >= 0 and (component >= 0 or now < 0) else now
            self._last_component = (task, component)
        plot = plot_with(document["plots"], desk.state.station or self._held(), now)
        desk.put(
            can_predict=can_predict, predicted=predicted, result=document, plot=plot,
            card=result_card(session, self.shown, desk.state.station),
        )  # fmt: skip
        self._sort(desk.state.sort_key, desk.state.sort_down)
        self._picture.draw(self.shown, self.factor)
        self._legend()
        desk.redraw()

    def _held(self) -> str:
        """Station whose row of a surface is shown first: one that holds the value."""
        shown = self.shown
        new = int(self._desk.state.plot) < 0
        return shown.high[0] if new and shown is not None and shown.sheet is not None and shown.high else ""

    # --- exaggeration

    @property
    def factor(self) -> float:
        """Exaggeration in use."""
        return rounded_factor(float(self._desk.state.zoom_log))

    def _zoom(self, _log_factor: float) -> None:
        self._picture.stretch(self.factor)
        self._legend()
        self._desk.redraw()

    def _legend(self) -> None:
        shown = self.shown
        if self._desk.state.tab != "result" or shown is None:
            return
        self._desk.scene.set_range(1e6 * shown.largest)
        units = self._desk.session.layout.units
        self._desk.put(legend=legend_document(
            self.factor, shown.largest, units.angle if shown.angles else units.deviation,
            bar=standing_bar(shown) if shown.figures else None, zone=shown.zone, drawn=WHAT[shown.kind],
            what="heights" if shown.sheet is not None else "slopes" if shown.angles else "deviations",
            angles=shown.angles,
        ))  # fmt: skip

    def refresh(self) -> None:
        """Bring back legend and colours after another tab, and draw layers that were hidden until now."""
        self._picture.freshen()
        self._legend()

    # --- stations

    def _station(self, station: str) -> None:
        if self.shown is None:
            return
        desk = self._desk
        plot = plot_with(desk.state.result["plots"], station, int(desk.state.plot))
        desk.put(card=result_card(desk.session, self.shown, station), plot=plot)
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

    def drawn(self) -> Floats:
        """Points that a close look must hold."""
        assert self.shown is not None
        return corners_drawn(self.shown, self.factor)

    def points(self) -> tuple[tuple[str, ...], Floats]:
        """Stations and the points at which they are drawn."""
        if self.shown is None:
            raise GeometryError("no result is shown")
        return self.shown.stations, self.shown.tips(self.factor)
