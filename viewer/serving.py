"""Serve the viewer on this machine: one server that lets people in, one process for each page.

An app is made by a function ``make_app(server) -> app``, and this is its contract:

* It is importable by name (defined at the top of a module, or a ``functools.partial`` of such a function), since each
  page's process imports it anew. Its arguments must be picklable.
* It runs in a process of its own for each page, inside a running asyncio loop. ``server`` is a fresh trame server
  (``client_type="vue3"``). It builds state, widgets and scene on it and returns the app; it never calls
  ``server.start``.
* Where it has a ``prepare()``, that is called once in the process of each page before there is a page, to do ahead what
  need not wait for one.
* It makes the picture with ``RemoteControlledArea.create_view_handler(plotter.render_window, ...)`` of
  ``trame.widgets.rca`` or with any other trame widget; the scripts of widgets are found through ``server.serve``.
* The app may have ``close()``, a function or coroutine function. It is called when the page is closed or reloaded and
  has one second. Memory, plotters and handlers need no care, the process ends; pools of processes and files on disk do.
* Where it has a ``hear(news)``, that is called in the process of each page with what the ``feed`` of the server tells,
  the latest at least: what came before the page was opened, or faster than it can take, is not told twice.
* Where it raises an error of :mod:`scenes.errors`, the page shows that error's text; after any other error the page
  says that the terminal shows the reason.
* A reload of the page is a new visit: it reads the layout again and starts from the app's first state.

What one page cannot disturb in another: state, scene, picture, memory, a crash, and long work (beyond its share of the
machine's cores). Within one page long work in a reaction holds up that page's own picture: give it to a thread or a
process and await it. See :mod:`viewer.visits`.

"""

from __future__ import annotations

import asyncio
import errno
import multiprocessing
import os
import signal
import socket
import threading
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Protocol

from aiohttp import web

from scenes.errors import InputError, Problem
from viewer.front import make_front
from viewer.graphics import require_graphics
from viewer.guard import LOOPBACK, Guard
from viewer.visits import Visits

__all__ = ["DEFAULT_MAX_VISITS", "Feed", "MakeApp", "serve"]

MakeApp = Callable[[Any], Any]
DEFAULT_MAX_VISITS = 8
SHUTDOWN_SECONDS = 3.0


class Feed(Protocol):
    """What lives in the server's process and tells all pages: readings while they are taken."""

    def begin(self, tell: Callable[[dict[str, Any]], None]) -> str:
        """Begin; ``tell`` may be called from any thread. Returns what to say in the terminal."""

    def close(self) -> None:
        """End; called in the server's process, and may take a second."""


def serve(
    make_app: MakeApp,
    *,
    port: int = 0,
    open_browser: bool = True,
    on_ready: Callable[[str], None] | None = None,
    max_visits: int = DEFAULT_MAX_VISITS,
    say: Callable[[str], None] = print,
    feed: Feed | None = None,
) -> None:
    """Serve until Ctrl-C or SIGTERM; closing the last page does not end it.

    Parameters
    ----------
    make_app : callable
        Makes one app for one page; see the contract above.
    port : int
        Port on 127.0.0.1; 0 takes a free one.
    open_browser : bool
        Open the user's browser, with a key that works once.
    on_ready : callable, optional
        Called with the link when the server answers.
    max_visits : int
        So many pages may be open at the same time.
    say : callable
        Prints a line for the user.
    feed : Feed, optional
        Tells all pages what comes in while they are open.

    Raises
    ------
    InputError
        The port is taken or not allowed.
    PictureError
        This machine cannot draw.
    """
    with _listen(port) as listening:
        require_graphics()
        try:
            asyncio.run(_serve(listening, make_app, open_browser, on_ready, max_visits, say, feed))
        except KeyboardInterrupt:
            pass
        finally:
            for process in multiprocessing.active_children():  # only after an end in the midst of the ending
                process.kill()
    say("Ended.")


def _listen(port: int) -> socket.socket:
    """Return a socket that listens on 127.0.0.1 and on nothing else."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    exclusive = getattr(socket, "SO_EXCLUSIVEADDRUSE", None)  # Windows lets two programs share a port otherwise
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR if exclusive is None else exclusive, 1)
    try:
        listening.bind((LOOPBACK, port))
        listening.listen(128)
    except (OSError, OverflowError) as error:
        listening.close()
        raise InputError([_port_problem(port, error)]) from error
    return listening


def _port_problem(port: int, error: Exception) -> Problem:
    advice = "Choose another port, or 0 for any free one."
    number = getattr(error, "errno", None)
    if number == errno.EADDRINUSE:
        text = f"port {port} is taken: another program, or this one started before, is listening there"
    elif number == errno.EACCES:
        text = f"port {port} is reserved for the system"
    else:
        text = f"port {port} cannot be used ({error})"
    return Problem("port", 0, 0, text, advice)


async def _serve(
    listening: socket.socket,
    make_app: MakeApp,
    open_browser: bool,
    on_ready: Callable[[str], None] | None,
    max_visits: int,
    say: Callable[[str], None],
    feed: Feed | None,
) -> None:
    guard = Guard(listening.getsockname()[1])
    visits = Visits(make_app, max_visits)
    runner = web.AppRunner(make_front(guard, visits), access_log=None, shutdown_timeout=SHUTDOWN_SECONDS)
    await runner.setup()
    try:
        visits.prepare()
        if feed is not None:
            say(f"{_begin(feed, visits)}.")
        await web.SockSite(runner, listening).start()
        say(f"The viewer runs. Open this link in a browser on this machine:\n\n    {guard.link()}\n")
        say("Whoever has the link can use the viewer. Press Ctrl-C to end.")
        if on_ready is not None:
            on_ready(guard.link())
        if open_browser:
            # Not awaited: some ways of opening a browser return only when it is closed.
            threading.Thread(target=webbrowser.open, args=(guard.opening_link(),), daemon=True).start()
        await _until_told_to_end()
    finally:
        if feed is not None:
            await asyncio.to_thread(feed.close)
        await runner.cleanup()


def _begin(feed: Feed, visits: Visits) -> str:
    """Let what the feed tells from its own threads reach the pages; where it comes from."""
    loop = asyncio.get_running_loop()

    def tell(news: dict[str, Any]) -> None:
        with suppress(RuntimeError):  # the loop has ended meanwhile
            loop.call_soon_threadsafe(visits.tell, news)

    return feed.begin(tell)


async def _until_told_to_end() -> None:
    """Return on SIGTERM; Ctrl-C cancels the wait instead."""
    told = asyncio.Event()
    if os.name == "posix":
        with suppress(ValueError, RuntimeError):  # not in the main thread: then the caller ends this task
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, told.set)
    await told.wait()
