"""The names and first values of everything that the page and the program share."""

from __future__ import annotations

import math
from typing import Any

from viewer.logic.lesson_view import LIMIT_ARCSEC
from viewer.logic.result import visit_choices
from viewer.logic.session import Session
from viewer.logic.shown import first_factor

__all__ = ["LAYERS", "TABS", "first_state"]

TABS = (("result", "Result"), ("plan", "Plan"), ("lesson", "Lesson"))
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
    has_lesson = bool(session.layout.tasks) and session.check.plan is not None
    shown_tabs = {"result": has_result, "plan": True, "lesson": has_lesson}
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
        # result
        "tasks": tasks,
        "task": task,
        "visits": visits,
        "visit": visits[0]["value"] if visits else "",
        "reference": session.layout.tasks[task].reference if task else "",
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
        # plan
        "plan": None,
        "finding": -1,
        # lesson
        "tilt_x": 0.0,
        "tilt_y": 0.0,
        "cone": 0.0,
        "slider_end": LIMIT_ARCSEC,
        "lesson": None,
    }
