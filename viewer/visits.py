"""One process for each page that is open: started, kept ready, counted and ended here, on the server's side.

What a visit has for itself: process, interpreter, state, scene, plotter, memory. A crash, a leak or a long computation
in one visit leaves all others and the server as they are, and the memory of a visit returns whole when its page closes.
What visits share: the machine's cores, memory and graphics card, and the files that they read.
Within one visit, long work in a reaction still holds up that visit's own picture.

One spare process waits with everything imported, so that a page does not wait for imports.
"""

from __future__ import annotations

import asyncio
import functools
import logging
import multiprocessing
import signal
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import forkserver
from multiprocessing.process import BaseProcess
from typing import Any

from viewer.pipe import packed_note
from viewer.visit import LIBRARIES, run_visit

__all__ = ["TooManyVisits", "Visit", "Visits"]

LEAVE_SECONDS = 2.0  # to close by itself, before a visit's process is ended from outside
MOST_WAITING = 1_000_000  # bytes that a page has not taken yet: news wait, and only the latest are sent
CATCH_UP_SECONDS = 0.3
REFILL_SECONDS = 1.5  # the spare after next starts when the first picture is out
logger = logging.getLogger(__name__)


class TooManyVisits(Exception):
    """As many pages are open as this server allows."""


@dataclass(slots=True, eq=False)
class Visit:
    """The process of one page and the server's end of the pipe to it."""

    process: BaseProcess
    reader: asyncio.StreamReader
    writer: asyncio.StreamWriter
    _ending: asyncio.Task[None] | None = None
    _told: bytes = b""
    _waits: bool = False

    def tell(self, latest: Callable[[], bytes]) -> None:
        """Send the latest news, later where the page has not taken the earlier ones yet."""
        news = latest()
        if self._waits or self._ending is not None or not news or news is self._told:
            return
        if self.writer.transport.get_write_buffer_size() > MOST_WAITING:
            self._waits = True
            asyncio.get_running_loop().call_later(CATCH_UP_SECONDS, self._catch_up, latest)
            return
        self._told = news
        self.writer.write(news)

    def _catch_up(self, latest: Callable[[], bytes]) -> None:
        self._waits = False
        self.tell(latest)

    async def end(self) -> None:
        """Close the pipe and return when the process is gone, ended from outside if need be; may be called again."""
        if self._ending is None:
            self._ending = asyncio.create_task(self._end())
        await asyncio.shield(self._ending)

    async def _end(self) -> None:
        self.writer.close()
        with suppress(OSError):
            await self.writer.wait_closed()
        for push in (None, self.process.terminate, self.process.kill):
            if push is not None:
                push()
            if await _gone(self.process, LEAVE_SECONDS):
                self.process.close()
                return
        logger.error("The process %s of a closed page does not end.", self.process.pid)


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
        self._context = _context(make_app)
        self._seats = 0
        self._open: set[Visit] = set()
        self._spare: asyncio.Task[Visit] | None = None
        self._refill: asyncio.Task[None] | None = None
        self._news = b""

    def prepare(self) -> None:
        """Start the spare process; needs a running loop and does not wait."""
        if self._spare is None:
            self._spare = asyncio.create_task(self._start())

    def tell(self, news: dict[str, Any]) -> None:
        """Tell all pages, and those that open later; the app's ``hear`` gets the news, the latest at least."""
        self._news = packed_note(news=news)
        for visit in self._open:
            visit.tell(self._latest)

    def _latest(self) -> bytes:
        return self._news

    async def take(self, **opening: Any) -> Visit:
        """Return a process that opens a view now; ``opening`` is handed to it.

        Raises
        ------
        TooManyVisits
            The limit is reached.
        """
        if self._seats >= self._limit:
            raise TooManyVisits
        self._seats += 1
        try:
            visit = await self._spare_or_new()
        except BaseException:
            self._seats -= 1
            raise
        self._open.add(visit)
        visit.writer.write(packed_note(**opening))
        visit.tell(self._latest)
        if self._refill is None or self._refill.done():
            self._refill = asyncio.create_task(self._refill_later())
        return visit

    async def give_back(self, visit: Visit) -> None:
        """End the process of a page that has closed."""
        try:
            await visit.end()
        finally:
            if visit in self._open:
                self._open.discard(visit)
                self._seats -= 1

    async def close(self) -> None:
        """End all processes."""
        if self._refill is not None:
            self._refill.cancel()
            await asyncio.gather(self._refill, return_exceptions=True)
        spare, self._spare = self._spare, None
        ready = [] if spare is None else await asyncio.gather(spare, return_exceptions=True)
        visits = [*self._open, *(visit for visit in ready if isinstance(visit, Visit))]
        await asyncio.gather(*(visit.end() for visit in visits), return_exceptions=True)

    async def _spare_or_new(self) -> Visit:
        spare, self._spare = self._spare, None
        if spare is not None:
            visit = await spare
            if visit.process.is_alive():
                return visit
            await visit.end()
        return await self._start()

    async def _refill_later(self) -> None:
        await asyncio.sleep(REFILL_SECONDS)
        self.prepare()

    async def _start(self) -> Visit:
        ours, theirs = socket.socketpair()
        process = self._context.Process(target=run_visit, args=(theirs, self._make_app))
        with theirs:
            if self._context.get_start_method() == "forkserver":
                with _ctrl_c_ignored():
                    forkserver.ensure_running()
                await asyncio.to_thread(process.start)  # the first time it waits for the libraries
            else:
                with _ctrl_c_ignored():
                    process.start()
        reader, writer = await asyncio.open_connection(sock=ours)
        return Visit(process, reader, writer)


def _context(make_app: Callable[..., Any]) -> Any:
    """Return how processes are made: on Linux as copies of one that has imported everything and done nothing yet.

    Such copies share the memory of the libraries and start in a tenth of the time. Elsewhere, where a copy of a process
    with system libraries loaded is not safe, each one starts from nothing.
    """
    if sys.platform != "linux":
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    maker = make_app.func if isinstance(make_app, functools.partial) else make_app
    context.set_forkserver_preload([*LIBRARIES, maker.__module__])
    return context


@contextmanager
def _ctrl_c_ignored() -> Iterator[None]:
    """Let a process that starts here ignore Ctrl-C from its first moment: the server ends it in order."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
