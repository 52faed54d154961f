"""Changes between any two visits of a session, or from what moves let expect, worked out when first asked for."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from scenes.errors import GeometryError
from scenes.model.survey import Rule
from scenes.visits.change import change
from scenes.visits.changed import Change
from viewer.logic.session import Session
from viewer.report.change_forecast import predictions_of

__all__ = ["FORECAST", "VisitChanges", "first_change_state", "from_choices", "visit_pair"]

Document = dict[str, Any]

FORECAST = "forecast from "
"""Stands before the name of a visit where changes count from what its proposed moves should leave."""


def first_change_state() -> Document:
    """What the tab of visits shares with the page, before it is opened."""
    return {
        "changed": None, "change_word": "", "change_card": None, "course": None, "change_from": "", "change_to": "",
        "change_froms": [], "change_tos": [], "change_value": 0, "change_bars": False, "change_zoom_log": 0.0,
        "change_zoom_most": 1.0,
    }  # fmt: skip


def _has_movers(session: Session) -> bool:
    """Whether the layout names anything that could be moved."""
    return bool(session.layout.feet) or bool(session.layout.bearings)


def from_choices(session: Session, task: str) -> list[Document]:
    """Visits that changes of a task may count from; all but the last one also as a forecast of their moves."""
    visits = session.visits(task)
    choices = [{"value": visit, "title": visit} for visit in visits]
    if _has_movers(session):
        choices += [{"value": FORECAST + visit, "title": f"predicted from {visit}"} for visit in visits[:-1]]
    return choices


def visit_pair(session: Session, task: str, one: str, two: str) -> tuple[str, str]:
    """The pair that is asked for as far as the task has it, else its first and last visit."""
    visits = session.visits(task)
    if not visits:
        return "", ""
    known = {each["value"] for each in from_choices(session, task)}
    two = two if two in visits else visits[-1]
    one = one if one in known and one != two else next((visit for visit in visits if visit != two), "")
    return one, two


@dataclass(slots=True, eq=False)
class VisitChanges:
    """Changes of a session; what was worked out once is kept."""

    session: Session
    _found: dict[tuple[str, str, str, Rule | None], tuple[Change, ...] | str] = field(default_factory=dict)

    def is_ready(self, task: str, one: str, two: str) -> bool:
        """Whether ``of`` answers at once."""
        return (task, one, two, self.session.rule) in self._found

    def of(self, task: str, one: str, two: str) -> tuple[Change, ...] | str:
        """Changes of a task from ``one``, a visit or ``FORECAST`` and a visit, to ``two``; or why there are none."""
        key = (task, one, two, self.session.rule)
        if key not in self._found:
            self._found[key] = self._work_out(task, one, two)
        return self._found[key]

    def _work_out(self, task: str, one: str, two: str) -> tuple[Change, ...] | str:
        visits = self.session.visits(task)
        earlier = one.removeprefix(FORECAST)
        if earlier not in visits or two not in visits or earlier == two:
            return "A change needs two visits that both tell this task."
        before, after = self.session.own(task, earlier), self.session.own(task, two)
        try:
            partners = predictions_of(self.session.layout, before) if one != earlier else (before,)
            return tuple(change(partner, after) for partner in partners)
        except GeometryError as error:
            message = str(error)
            return message[:1].upper() + message[1:] + "."
