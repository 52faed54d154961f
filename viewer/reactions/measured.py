"""Reactions of the result tab while a quantity other than a surface is shown: components, stations, arrows."""

from __future__ import annotations

import numpy as np

from scenes.checks.detector_view import rows_of_station
from scenes.meshes.exaggeration import default_factor
from scenes.reductions.quantities.measured import Deviations, Measured
from viewer.desk import Desk
from viewer.logic.legend import factor_legend, legend_document
from viewer.logic.measured import arrows_of, measured_card, measured_document
from viewer.logic.shown import nice
from viewer.scene3d_chosen import ChosenPicture
from viewer.scene3d_measured import MeasuredPicture

__all__ = ["MeasuredReactions"]

GENEROUS = 2.0
"""Arrows stand alone, so that they may be drawn this much larger than a surface."""

LEAST_RANGE = 1e-6
"""The colours reach at least this far [m]."""


class MeasuredReactions:
    """Keeps panel and arrows in step with task, visit and component."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._picture = MeasuredPicture(desk.scene)
        self._chosen = ChosenPicture(desk.scene, desk.session.layout, desk.session.check.plan)
        self._arrows: tuple[Deviations, ...] = ()

    def _now(self) -> Measured | None:
        state = self._desk.state
        try:
            return self._desk.session.measured(state.task, state.visit)
        except KeyError:
            return None

    def first_factor(self, task: str) -> float:
        """Exaggeration to begin with: the largest deviation of any visit then shows well."""
        session = self._desk.session
        every = [each for visit in session.visits(task) for each in arrows_of(session.measured(task, visit), "")]
        if not every:
            return 1.0
        places, values = (np.concatenate([getattr(each, name) for each in every]) for name in ("places", "values"))
        return default_factor(values, GENEROUS * float(np.linalg.norm(np.ptp(places, axis=0))))

    def show(self, factor: float) -> None:
        """Show task, visit and component as they are chosen."""
        measured, desk = self._now(), self._desk
        if measured is None:
            return
        document = measured_document(desk.session, measured, int(desk.state.component))
        name = "" if document["component"] is None else document["component"]["name"]
        self._arrows = arrows_of(measured, name)
        self._picture.draw(self._arrows, factor)
        desk.put(
            result=document, can_predict=False, predicted=False,
            card=measured_card(desk.session.layout, measured, desk.state.station),
        )  # fmt: skip
        self.legend(factor)
        desk.redraw()

    def stretch(self, factor: float) -> None:
        """Another exaggeration."""
        self._picture.stretch(factor)
        self.legend(factor)
        self._desk.redraw()

    def legend(self, factor: float) -> None:
        """Factor and colours beside the picture; without arrows there is nothing to scale."""
        desk = self._desk
        if desk.state.tab != "result" or desk.state.result_kind != "measured":
            return
        if not self._arrows:
            desk.put(legend=factor_legend(1.0, "picture", ""))
            return
        largest = nice(max(LEAST_RANGE, *(float(np.nanmax(np.abs(each.values))) for each in self._arrows)))
        desk.scene.set_range(1e6 * largest)
        unit = desk.session.layout.units.deviation
        desk.put(legend=legend_document(factor, largest, unit, bar=None, zone=None, drawn="deviation", what="arrows"))

    def choose(self, station: str) -> None:
        """Mark a station, with its beam, and show its card."""
        measured, desk = self._now(), self._desk
        plan = desk.session.check.plan
        rows = np.zeros(0, dtype=np.int64) if plan is None else rows_of_station(plan, station)
        self._chosen.mark(station, int(rows[0]) if len(rows) else None)
        card = None if measured is None else measured_card(desk.session.layout, measured, station)
        desk.put(card=card)
        desk.redraw()
