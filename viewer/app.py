"""The viewer's app: wires session, state, scene, reactions and panels, and does nothing else."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from viewer.desk import Desk
from viewer.logic.session import open_session
from viewer.panels.diagnosis import diagnosis_panel
from viewer.panels.lesson import lesson_panel
from viewer.panels.live import live_panel
from viewer.panels.moves import moves_panel
from viewer.panels.page import page
from viewer.panels.picture import picture
from viewer.panels.plan import plan_panel
from viewer.panels.result import result_panel
from viewer.panels.visits_tab import visits_panel
from viewer.reactions.diagnosis import DiagnosisReactions
from viewer.reactions.lesson import LessonReactions
from viewer.reactions.live import LiveReactions
from viewer.reactions.moves import MovesReactions
from viewer.reactions.picture import PictureReactions
from viewer.reactions.plan import PlanReactions
from viewer.reactions.result import ResultReactions
from viewer.reactions.tab_picture import TabPicture
from viewer.reactions.visits_tab import VisitsReactions
from viewer.scene3d_change import ChangePicture
from viewer.scene3d_diagnosis import DiagnosisPicture
from viewer.scene3d_live import LivePicture
from viewer.scene3d_moves import MovesPicture
from viewer.stage import Stage, set_stage

__all__ = ["App", "Viewer", "make_app"]


def _digest(files: tuple[str, ...]) -> str:
    """What stands in the files, in short; empty where one cannot be read (its reader will say why)."""
    found = hashlib.sha256()
    try:
        for file in files:
            found.update(Path(file).read_bytes() + b"\0")
    except OSError:
        return ""
    return found.hexdigest()


class App:
    """Makes viewers for :func:`viewer.serving.serve`; the survey is worked out once, when this is made.

    As long as the files are what they were, a page need not wait for that. A page that is loaded after a file has
    changed shows the new state.

    Raises
    ------
    InputError, GeometryError
        As :func:`viewer.logic.session.open_session` does.
    """

    def __init__(self, layout: str, readings: tuple[str, ...] = (), live: bool = False) -> None:
        self._options = {"live": True} if live else {}
        self._files = (layout, *readings)
        self._digest = _digest(self._files)
        self._session = open_session(layout, readings)
        self._stage: Stage | None = None

    def prepare(self) -> None:
        """Draw the first picture before there is a page; may be called in the process that will show it."""
        self._stage = set_stage(self._session)

    def __call__(self, server: Any) -> Viewer:
        """Make the viewer of one page."""
        if self._digest == "" or self._digest != _digest(self._files):
            return make_app(server, self._files[0], self._files[1:], **self._options)
        stage, self._stage = self._stage, None
        return Viewer(server, set_stage(self._session) if stage is None else stage, **self._options)


def make_app(server: Any, layout: str, readings: tuple[str, ...] = (), **options: bool) -> Viewer:
    """Make the viewer of one page; see :mod:`viewer.serving` for the contract."""
    return Viewer(server, set_stage(open_session(layout, readings)), **options)


class Viewer:
    """One page: everything is made here, and closed here."""

    def __init__(self, server: Any, stage: Stage, live: bool = False) -> None:
        self.desk = desk = Desk(server, stage.session, stage.scene)
        self.plan = PlanReactions(desk, stage.plan)
        self.result = None if stage.result is None else ResultReactions(desk, stage.result)
        self.lesson = LessonReactions(desk)
        self.more: dict[str, TabPicture] = {}
        if stage.result is not None:
            visits = VisitsReactions(desk, ChangePicture(desk.scene))
            diagnosis = DiagnosisReactions(desk, DiagnosisPicture(desk.scene))
            self.more = {"visits": visits, "diagnosis": diagnosis}
            visits.look = diagnosis.look = self._look
        self.moves: MovesReactions | None = None
        if stage.result is not None:
            units = stage.session.layout.units
            self.moves = MovesReactions(desk, MovesPicture(desk.scene, units.deviation, units.angle))
            self.moves.look = self._look
            self.more["moves"] = self.moves
        self.live: LiveReactions | None = None
        if live:
            check = stage.session.check
            self.live = LiveReactions(desk, LivePicture(desk.scene, check.layout, check.plan))
            self.more["live"] = self.live
        self.picture = PictureReactions(desk, self.result, self.plan, self.lesson, self.more)
        desk.start()
        self._build()

    def _build(self) -> None:
        desk, server = self.desk, self.desk.server
        panels = {
            "plan": lambda: plan_panel(server, desk.guarded(self.plan.go_to)),
            "lesson": lambda: lesson_panel(server, desk.guarded(self.lesson.reset), desk.guarded(self.lesson.press)),
        }
        result = self.result
        if result is not None:
            panels = {"result": lambda: result_panel(server, desk.guarded(result.sort)), **panels}
            panels |= {"visits": visits_panel, "diagnosis": diagnosis_panel}

        moves = self.moves
        if moves is not None:
            calls = [desk.guarded(call) for call in (moves.optimum, moves.as_found, moves.set_move, moves.set_gap)]
            panels["moves"] = lambda: moves_panel(server, *calls)
        if self.live is not None:
            panels = {"live": live_panel, **panels}

        def put_picture() -> None:
            window = desk.scene.plotter.render_window
            click, hit = desk.guarded(self.picture.click), desk.guarded(self.picture.hit)
            view = desk.guarded(self.picture.choose_view)
            desk.remote, desk.local = picture(server, window, click, hit, view)

        page(server, put_picture, panels)

    def _look(self) -> None:
        """Look anew at what a tab shows now."""
        self.picture.look_from(self.desk.state.view or "bed")

    def hear(self, news: dict[str, Any]) -> None:
        """What the source of live readings tells."""
        if self.live is not None:
            self.live.hear(news)

    async def close(self) -> None:
        """Give the window and the running work back."""
        if self.desk.remote is not None:
            await self.desk.remote.close()
        self.desk.close()
