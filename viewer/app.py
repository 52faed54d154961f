"""The viewer's app: wires session, state, scene, reactions and panels, and does nothing else."""

from __future__ import annotations

from typing import Any

from viewer.colours import LIGHT
from viewer.desk import Desk
from viewer.logic.session import Session, open_session
from viewer.panels.lesson import lesson_panel
from viewer.panels.page import page
from viewer.panels.picture import picture
from viewer.panels.plan import plan_panel
from viewer.panels.result import result_panel
from viewer.reactions.lesson import LessonReactions
from viewer.reactions.picture import PictureReactions
from viewer.reactions.plan import PlanReactions
from viewer.reactions.result import ResultReactions
from viewer.scene3d import Scene
from viewer.scene3d_plan import VIEWS

__all__ = ["Viewer", "make_app"]


def make_app(server: Any, layout: str, readings: tuple[str, ...] = ()) -> Viewer:
    """Make the viewer of one page; see :mod:`viewer.serving` for the contract."""
    return Viewer(server, open_session(layout, readings))


class Viewer:
    """One page: everything is made here, and closed here."""

    def __init__(self, server: Any, session: Session) -> None:
        self.desk = desk = Desk(server, session, Scene(LIGHT))
        self.plan = PlanReactions(desk)
        self.result = ResultReactions(desk) if session.survey is not None else None
        self.lesson = LessonReactions(desk)
        self.picture = PictureReactions(desk, self.result, self.plan, self.lesson)
        desk.start()
        self._build()

    def _build(self) -> None:
        desk, server = self.desk, self.desk.server
        panels = {
            "plan": lambda: plan_panel(server, desk.guarded(self.plan.go_to)),
            "lesson": lambda: lesson_panel(server, desk.guarded(self.lesson.reset)),
        }
        result = self.result
        if result is not None:
            panels = {"result": lambda: result_panel(server, desk.guarded(result.sort)), **panels}

        def put_picture() -> None:
            window = desk.scene.plotter.render_window
            click, view = desk.guarded(self.picture.click), desk.guarded(self.picture.choose_view)
            desk.remote, desk.local = picture(server, window, click, view, VIEWS)

        page(server, put_picture, panels)

    async def close(self) -> None:
        """Give the window and the running work back."""
        if self.desk.remote is not None:
            await self.desk.remote.close()
        self.desk.close()
