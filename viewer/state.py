"""The names and first values of everything that the page and the program share."""

from __future__ import annotations

import math
from typing import Any

from scenes.model.finding import Severity
from viewer.logic.diagnosis_held import first_diagnosis_state
from viewer.logic.lesson_movables import first_values
from viewer.logic.lesson_sliders import LESSONS
from viewer.logic.moves_state import first_moves_state
from viewer.logic.result import visit_choices
from viewer.logic.session import Session
from viewer.logic.shown import first_factor
from viewer.logic.visits_shown import first_change_state
from viewer.scene3d_plan import VIEWS

__all__ = ["LAYERS", "TABS", "first_state"]

TABS = (
    ("result", "Result"), ("visits", "Visits"), ("diagnosis", "Diagnosis"), ("moves", "Moves"),
    ("plan", "Plan"), ("lesson", "Lesson"),
)  # fmt: skip
LAYERS = (
    ("vectors", "Vectors"), ("uncertainty", "Uncertainty"), ("limits", "Limits"), ("names", "Names"),
    ("targets", "Targets"), ("beams", "Beams"),
)  # fmt: skip
FIRST_LAYERS = ("vectors", "limits", "names")


def first_state(session: Session) -> dict[str, Any]:
    """State of a page that has just been opened; plain values only."""
    has_result = session.survey is not None
    tasks = list(session.tasks())
    task = tasks[0] if tasks else ""
    visits = visit_choices(session, task) if has_result else []
    factor = first_factor(session, task) if has_result else 1.0
    shown_tabs = {"result": has_result, "visits": has_result, "diagnosis": has_result, "plan": True, "lesson": True}
    moves = first_moves_state(session)
    shown_tabs["moves"] = bool(moves["moves_tasks"])
    return {
        "trame__title": session.layout.title or "datumray",
        "title": session.layout.title or "Survey",
        "tabs": [{"value": value, "title": title} for value, title in TABS if shown_tabs[value]],
        "tab": "result" if has_result else "plan",
        "dark": False,
        "drawn_by": "server",
        "scene_browser_view": None,
        "busy": False,
        "notice": "",
        "notice_shown": False,
        "picture_size": None,
        "view": "bed" if has_result else "whole",
        "views": list(VIEWS),
        # result
        "tasks": tasks,
        "task": task,
        "visits": visits,
        "visit": visits[0]["value"] if visits else "",
        "reference": session.layout.tasks[task].reference if task else "",
        "rule": "",
        "component": -1,
        "plot": -1,
        "predicted": False,
        "can_predict": False,
        "zoom_log": round(math.log10(factor), 3),
        "zoom_most": round(math.log10(factor) + 1.0, 3),
        "layers": list(FIRST_LAYERS),
        "layer_choices": [{"value": value, "title": title} for value, title in LAYERS],
        "station": "",
        "card": None,
        "sort_key": "order",
        "sort_down": False,
        "rows": [],
        "rows_note": "",
        "result": None,
        "legend": None,
        # visits
        **first_change_state(),
        # diagnosis
        **first_diagnosis_state(session),
        # moves
        **moves,
        # plan
        "plan": None,
        "finding": -1,
        "severities": [str(severity) for severity in Severity],
        "about": {},
        "station_names": list(session.layout.stations),
        "plan_station": None,
        "plan_row": -1,
        "budget": None,
        "budget_of": "reading",
        "budget_axis": "v",
        "budget_task": "",
        "budget_tasks": [],
        # lesson
        **{name: value for movables in LESSONS.values() for name, value in first_values(movables).items()},
        "lesson_kind": "base",
        "lesson_about": "",
        "lesson": None,
        "prism_zoom": 2.0,
        "prism_zoom_most": 3.0,
    }
