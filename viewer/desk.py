"""What all reactions of a page share: session, state, scene, the picture's way to the page, and words for the user."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from typing import Any

import numpy as np

from scenes.errors import DatumrayError
from scenes.meshes.cameras import Camera
from viewer import text
from viewer.logic.session import Session
from viewer.scene3d import Scene
from viewer.state import first_state

__all__ = ["Desk", "plain"]

logger = logging.getLogger(__name__)


def plain(value: Any) -> Any:
    """``value`` without numpy: the state passes over numpy numbers and arrays with no more than a line in the log."""
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, dict):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    return value


class Desk:
    """One page's session, state and scene."""

    def __init__(self, server: Any, session: Session, scene: Scene) -> None:
        self.server = server
        self.state = server.state
        self.session = session
        self.scene = scene
        self.remote: Any = None
        self.local: Any = None
        self._reactions: list[Callable[..., None]] = []
        self._tasks: set[asyncio.Task[None]] = set()
        self.state.update(plain(first_state(session)))

    # --- state

    def put(self, **values: Any) -> None:
        """Set values of the state."""
        for name, value in values.items():
            self.state[name] = plain(value)

    def watch(self, names: tuple[str, ...], call: Callable[..., None]) -> None:
        """Call ``call`` with the values of ``names`` when one of them has become another one."""
        last: list[tuple[Any, ...]] = []

        def react(**_: Any) -> None:
            values = tuple(self.state[name] for name in names)
            if last != [values]:
                last[:] = [values]
                self.guarded(call)(*values)

        self.state.change(*names)(react)
        self._reactions.append(react)

    def start(self) -> None:
        """Let every reaction work once, in the order in which they were added."""
        for react in self._reactions:
            react()

    # --- words

    def tell(self, words: str) -> None:
        """Show a sentence on the page."""
        self.put(notice=words, notice_shown=True)

    def guarded(self, call: Callable[..., Any]) -> Callable[..., Any]:
        """``call``, but what goes wrong becomes a sentence on the page; mistakes of the program are logged as well."""

        def inner(*given: Any, **named: Any) -> Any:
            try:
                return call(*given, **named)
            except Exception as error:
                self._confess(error)
                return None

        return inner

    def _confess(self, error: Exception) -> None:
        if isinstance(error, DatumrayError):
            self.tell(text.plain_message(str(error)))
            return
        logger.error("A reaction of the viewer failed.", exc_info=error)
        self.tell(text.FAILED)

    # --- long work

    def in_background(self, work: Callable[[], Any], then: Callable[[], None]) -> None:
        """Do ``work`` in a thread, so that the picture goes on meanwhile, and ``then`` what depends on it.

        Without a running loop (tests) both are done at once.
        """
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self.guarded(work)()
            self.guarded(then)()
            return
        self.put(busy=True)
        task = loop.create_task(self._work(work, then))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _work(self, work: Callable[[], Any], then: Callable[[], None]) -> None:
        failure: Exception | None = None
        try:
            await asyncio.to_thread(work)
        except Exception as error:
            failure = error
        with self.state:
            self.put(busy=False)
            if failure is not None:
                self._confess(failure)
            else:
                self.guarded(then)()

    # --- picture

    def redraw(self) -> None:
        """Bring the changed scene to the page."""
        if self.state.drawn_by == "browser":
            if self.local is not None:
                self.local.awake = True
                self.local.update()
        elif self.remote is not None:
            self.remote.update()

    def look(self, camera: Camera) -> None:
        """Stand where ``camera`` stands, in the picture of either kind."""
        self.scene.look(camera)
        if self.state.drawn_by == "browser" and self.local is not None:
            self.local.push_camera()

    def close(self) -> None:
        """Give everything back."""
        for task in self._tasks:
            task.cancel()
        self.scene.close()
