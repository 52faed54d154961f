"""First values of what page and program share about moves."""

from __future__ import annotations

from typing import Any

from viewer.logic.moves_book import GOALS, movable_tasks
from viewer.logic.session import Session

__all__ = ["first_moves_state"]


def first_moves_state(session: Session) -> dict[str, Any]:
    """State of the tab of moves before it is opened."""
    return {
        "moves": None, "moves_word": "", "moves_live": None, "moves_steps": [], "moves_criterion": "",
        "moves_card": None, "moves_tasks": list(movable_tasks(session)) if session.survey is not None else [],
        "moves_goal": GOALS[0], "moves_most": 0, "moves_free": False, "moves_at": [], "moves_gaps": {},
        "moves_turn": 0, "moves_zoom_log": 3.0, "moves_zoom_most": 4.0,
    }  # fmt: skip
