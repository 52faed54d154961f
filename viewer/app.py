"""The viewer's app: wires session, state, scene, reactions and panels, and does nothing else."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
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

__all__ = ["Prepared", "Viewer", "app_for", "make_app"]


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A session opened beforehand, and what the files held then."""

    digest: str
    session: Session


def _digest(files: tuple[str, ...]) -> str:
    """What stands in the files, in short."""
    found = hashlib.sha256()
    for file in files:
        found.update(Path(file).read_bytes())
        found.update(b"\0")
    return found.hexdigest()


def app_for(layout: str, readings: tuple[str, ...] = ()) -> Callable[[Any], Viewer]:
    """A maker of apps for :func:`viewer.serving.serve`; the survey is worked out here, once.

    Raises
    ------
    InputError, GeometryError
        As :func:`viewer.logic.session.open_session` does.
    """
    digest = _digest((layout, *readings))
    return partial(make_app, layout=layout, readings=readings, prepared=Prepared(digest, open_session(layout, readings)))


def make_app(
    server: Any, layout: str, readings: tuple[str, ...] = (), prepared: Prepared | None = None
) -> Viewer:
    """Make the viewer of one page; see :mod:`viewer.serving` for the contract.

    ``prepared`` is used as long as the files are what they were, so that a page need not wait; a page that is loaded
    after a file has changed shows the new state.
    """
    try:
        fresh = prepared is not None and prepared.digest == _digest((layout, *readings))
    except OSError:
        fresh = False  # the reader says what is wrong with the file
    if prepared is not None and fresh:
        return Viewer(server, prepared.session)
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
            calls = [desk.guarded(call) for call in (self.picture.click, self.picture.hit, self.picture.choose_view)]
            desk.remote, desk.local = picture(server, window, *calls, VIEWS)

        page(server, put_picture, panels)

    async def close(self) -> None:
        """Give the window and the running work back."""
        if self.desk.remote is not None:
            await self.desk.remote.close()
        self.desk.close()
