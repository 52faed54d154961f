"""Reactions of the plan tab: a finding or a station is chosen, and panel and picture follow each other."""

from __future__ import annotations

from viewer.desk import Desk
from viewer.logic.findings import about_station, row_of_finding
from viewer.logic.plan import plan_document
from viewer.logic.plan_budget import PlanBudgets
from viewer.logic.station import station_document
from viewer.scene3d_chosen import ChosenPicture
from viewer.scene3d_plan import PlanPicture

__all__ = ["PlanReactions"]


class PlanReactions:
    """Keeps the plan panel, the chosen station and the mark of a finding in step."""

    def __init__(self, desk: Desk, picture: PlanPicture) -> None:
        self._desk = desk
        self._picture = picture
        self._check = desk.session.check
        self._chosen = ChosenPicture(desk.scene, self._check.layout, self._check.plan)
        self._budgets = PlanBudgets(self._check)
        desk.put(plan=plan_document(self._check), budget_tasks=list(self._budgets.tasks))
        desk.watch(("station", "plan_row"), self._station)
        desk.watch(("budget_of", "budget_axis", "budget_task"), self._budget)

    # --- findings

    def go_to(self, number: int) -> None:
        """Mark one finding in the picture, with its beam, and look at it."""
        if not (isinstance(number, int) and 0 <= number < len(self._check.findings)):
            return
        finding = self._check.findings[number]
        camera = self._picture.mark_finding(number)
        row = row_of_finding(self._check.plan, finding)
        station = finding.name if finding.kind == "station" and finding.name in self._check.layout.stations else ""
        self._desk.put(finding=number, view="", station=station, plan_row=-1 if row is None else row)
        self._show()
        self._desk.look(camera)

    # --- stations

    def _station(self, station: str, _row: int) -> None:
        """Another station or another of its readings; a finding about something else is no longer chosen."""
        if self._desk.state.tab != "plan":
            return
        finding = self._desk.state.finding
        if station and finding >= 0 and str(finding) not in about_station(self._check, station):
            self._unmark()
        self._show()

    def _show(self) -> None:
        """Bring panel and picture to what is chosen."""
        state = self._desk.state
        document = station_document(self._check.plan, self._check.layout, state.station, int(state.plan_row))
        row = -1 if document is None else int(document["row"])
        self._desk.put(plan_station=document, about=about_station(self._check, state.station), plan_row=row)
        self._chosen.mark(state.station, None if row < 0 else row)
        self._budget()
        self._desk.redraw()

    # --- budget

    def _budget(self, *_: str) -> None:
        state = self._desk.state
        if state.tab != "plan":
            return
        asked = (state.budget_of, state.budget_axis, state.budget_task)
        row, station = int(state.plan_row), state.station
        missing = self._budgets.missing(*asked, station)
        self._desk.put(budget=self._budgets.document(*asked, station, row))
        if missing is not None:
            self._desk.in_background(missing, self._budget)

    # --- coming and going

    def refresh(self) -> None:
        """Show what is chosen after another tab."""
        self._show()

    def forget(self) -> None:
        """Take the mark of a finding away."""
        if self._desk.state.finding >= 0:
            self._unmark()

    def _unmark(self) -> None:
        self._picture.unmark()
        self._desk.put(finding=-1)
