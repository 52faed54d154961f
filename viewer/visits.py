"""One process for each page that is open: started, kept ready, counted and ended here, on the server's side.

What a visit has for itself: process, interpreter, state, scene, plotter, memory. A crash, a leak or a long computation
in one visit leaves all others and the server as they are, and the memory of a visit returns whole when its page closes.
What visits share: the machine's cores, memory and graphics card, and the files that they read.
Within one visit, long work in a reaction still holds up that visit's own picture.

One spare process waits with everything imported, so that a page does not wait for imports.
"""

from __future__ import annotations

import asyncio
import logging
import multiprocessing
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from typing import Any

from viewer.pipe import packed_note
from viewer.visit import run_visit

__all__ = ["TooManyVisits", "Visit", "Visits"]

LEAVE_SECONDS = 2.0  # to close by itself, before a visit's process is ended from outside
REFILL_SECONDS = 2.0  # the spare after next starts when the first picture is out
logger = logging.getLogger(__name__)


class TooManyVisits(Exception):
    """As many pages are open as this server allows."""


@dataclass(slots=True, eq=False)
class Visit:
    """The process of one page and the server's end of the pipe to it."""

    process: BaseProcess
    reader: asyncio.StreamReader
    writer: asyncio.StreamWriter

    async def end(self, patience: float = LEAVE_SECONDS) -> None:
        """Close the pipe and return when the process is gone, ended from outside if need be."""
        self.writer.close()
        with suppress(OSError):
            await self.writer.wait_closed()
        for push in (None, self.process.terminate, self.process.kill):
            if push is not None:
                push()
            if await _gone(self.process, patience):
                break
        else:
            logger.error("The process %s of a closed page does not end.", self.process.pid)
            return
        self.process.close()


async def _gone(process: BaseProcess, patience: float) -> bool:
    deadline = asyncio.get_running_loop().time() + patience
    while process.is_alive():
        if asyncio.get_running_loop().time() > deadline:
            return False
        await asyncio.sleep(0.02)
    return True


class Visits:
    """The processes of all open pages and one spare."""

    def __init__(self, make_app: Callable[..., Any], limit: int) -> None:
        self._make_app = make_app
        self._limit = limit
        # A forked copy of a process with threads and graphics may hang; "spawn" is the same on every system.
        self._context = multiprocessing.get_context("spawn")
        self._open: set[Visit] = set()
        self._spare: Visit | None = None
        self._taking = 0
        self._refill: asyncio.Task[None] | None = None

    async def prepare(self) -> None:
        """Start the spare process."""
        if self._spare is None:
            self._spare = await self._start()

    async def take(self, **opening: Any) -> Visit:
        """Return a process that opens a view now; ``opening`` is handed to it.

        Raises
        ------
        TooManyVisits
            The limit is reached.
        """
        if len(self._open) + self._taking >= self._limit:
            raise TooManyVisits
        self._taking += 1
        try:
            visit, self._spare = self._spare, None
            if visit is not None and not visit.process.is_alive():
                await visit.end()
                visit = None
            if visit is None:
                visit = await self._start()
            self._open.add(visit)
        finally:
            self._taking -= 1
        visit.writer.write(packed_note(**opening))
        if self._refill is None or self._refill.done():
            self._refill = asyncio.create_task(self._refill_later())
        return visit

    async def give_back(self, visit: Visit) -> None:
        """End the process of a page that has closed."""
        try:
            await visit.end()
        finally:
            self._open.discard(visit)

    async def close(self) -> None:
        """End all processes."""
        if self._refill is not None:
            self._refill.cancel()
            await asyncio.gather(self._refill, return_exceptions=True)
        visits = [*self._open, *([self._spare] if self._spare else [])]
        self._open.clear()
        self._spare = None
        await asyncio.gather(*(visit.end() for visit in visits), return_exceptions=True)

    async def _refill_later(self) -> None:
        await asyncio.sleep(REFILL_SECONDS)
        await self.prepare()

    async def _start(self) -> Visit:
        ours, theirs = socket.socketpair()
        with theirs:
            process = self._context.Process(target=run_visit, args=(theirs, self._make_app), daemon=True)
            process.start()
        reader, writer = await asyncio.open_connection(sock=ours)
        return Visit(process, reader, writer)
