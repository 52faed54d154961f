"""The process of one page: makes the app on a trame server of its own and speaks with the page through the pipe.

The functions here run in a child process; :mod:`viewer.visits` starts it.
"""

from __future__ import annotations

import asyncio
import hmac
import importlib
import inspect
import logging
import multiprocessing
import os
import signal
import socket
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import wait
from typing import Any

from scenes.errors import DatumrayError
from viewer.pipe import Kind, PipeClosed, packed, packed_note, read_message, read_note

__all__ = ["LIBRARIES", "run_visit"]

CLOSE_SECONDS = 1.0
LIBRARIES = (
    "pyvista.plotting",  # pyvista itself loads it only at the first plotter
    "trame.app",
    "trame.widgets.html",
    "trame.widgets.rca",
    "trame.widgets.vuetify3",
    "trame.ui.vuetify3",
    "trame_rca.schedulers",
    "vtkmodules.vtkRenderingOpenGL2",
    "viewer.visit",
)
logger = logging.getLogger(__name__)


def run_visit(pipe: socket.socket, make_app: Callable[..., Any]) -> None:
    """Serve one page until the pipe closes; the process ends with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the server closes the pipe
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    sys.argv = sys.argv[:1]  # trame reads the command line, but these are not its options
    os.environ.pop("TRAME_ARGS", None)
    _end_with_the_server()
    try:
        _warm_up()
        prepare = getattr(make_app, "prepare", None)
        if prepare is not None:
            prepare()
        asyncio.run(_visit(pipe, make_app))
    except PipeClosed:
        pass  # the page, or the server, has gone
    except Exception:
        logger.exception("A view ended with an error.")
    finally:
        with suppress(OSError, ValueError):
            sys.stdout.flush()
            sys.stderr.flush()
        # Not through the interpreter's own end: graphics libraries tear down in an order that may crash.
        os._exit(0)


def _end_with_the_server() -> None:
    """End this process when the server dies without a word, even in the midst of a computation."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, name="end-with-the-server", daemon=True).start()


def _warm_up() -> None:
    """Load the libraries and the graphics driver, so that the first picture need not wait for them."""
    for name in LIBRARIES:
        importlib.import_module(name)
    from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

    window = vtkRenderWindow()
    window.SetOffScreenRendering(1)
    window.SetSize(16, 16)
    window.AddRenderer(vtkRenderer())
    window.Render()
    window.Finalize()


@dataclass(frozen=True, slots=True)
class _Data:
    """What wslink expects of a web socket's message."""

    data: bytes


async def _visit(pipe: socket.socket, make_app: Callable[..., Any]) -> None:
    reader, writer = await asyncio.open_connection(sock=pipe)
    _, payload = await read_message(reader)
    opening = read_note(payload)
    try:
        app, server, ended = await _open(make_app, opening["secret"])
    except Exception as error:
        if isinstance(error, DatumrayError):
            text = str(error)
            logger.error("%s", text)
        else:
            text = "The view could not be opened. The terminal shows the reason."
            logger.exception("The view could not be opened.")
        writer.write(packed_note(failed=text))
        await writer.drain()
        return
    try:
        relay = asyncio.create_task(_relay(app, server, reader, writer))
        await asyncio.wait({relay, ended}, return_when=asyncio.FIRST_COMPLETED)
        relay.cancel()
        await asyncio.gather(relay, return_exceptions=True)
    finally:
        await _close(app)


async def _open(make_app: Callable[..., Any], secret: str) -> tuple[Any, Any, asyncio.Future[Any]]:
    """Make the app and start its trame server, which listens nowhere: the pipe is its only way in."""
    from trame.app import get_server

    server = get_server("visit", client_type="vue3")
    app = make_app(server)
    ended = server.start(backend="generic", exec_mode="task", open_browser=False, show_connection_info=False, timeout=0)
    await server.ready

    async def valid_token(token: Any, _client: str) -> bool:
        return isinstance(token, str) and hmac.compare_digest(token.encode(), secret.encode())

    server.protocol.updateSecret(secret)
    server.protocol.validateToken = valid_token
    return app, server, ended


async def _relay(app: Any, server: Any, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    endpoint = server._server.ws
    _without_tracebacks(endpoint)
    folders = _Folders(server)
    connection = await endpoint.connect()

    async def to_page(_binary: bool, content: bytes) -> None:
        if note := folders.news():
            writer.write(note)
        with suppress(OSError):  # the page has gone; the end of the pipe is noticed where it is read
            writer.write(packed(Kind.DATA, content))
            await writer.drain()

    connection.on_message(to_page)
    try:
        while True:
            kind, payload = await read_message(reader)
            if kind is Kind.DATA:
                await connection.send(True, _Data(payload))
            elif hasattr(app, "hear"):
                app.hear(read_note(payload)["news"])
    except PipeClosed:
        pass
    except Exception as error:
        logger.error("A message of the page could not be read (%r); its view ends.", error)
    finally:
        await connection.close()


class _Folders:
    """The folders of scripts and styles that the app's widgets ask the server to hand out."""

    def __init__(self, server: Any) -> None:
        self._server = server
        self._told: dict[str, str] = {}

    def news(self) -> bytes | None:
        """Return a note with all folders if there are new ones since the last."""
        if len(self._server.serve) == len(self._told):
            return None
        self._told = {
            route: str(folder[0] if isinstance(folder, list | tuple) else folder)
            for route, folder in self._server.serve.items()
        }
        return packed_note(folders=self._told)


def _without_tracebacks(endpoint: Any) -> None:
    """Let error answers to the page name the call, and nothing of the inside."""
    send = endpoint.sendWrappedError

    async def send_plain(rpcid: str, code: int, message: str, data: Any = None, client_id: str | None = None) -> None:
        if isinstance(data, dict):
            data = {"method": data.get("method", "")}
        await send(rpcid, code, message, data, client_id=client_id)

    endpoint.sendWrappedError = send_plain


async def _close(app: Any) -> None:
    """Call the app's ``close``, if it has one; it may be a coroutine function."""
    close = getattr(app, "close", None)
    if close is None:
        return
    try:
        result = close()
        if inspect.isawaitable(result):
            await asyncio.wait_for(result, CLOSE_SECONDS)
    except Exception:
        logger.exception("A view could not be closed in order.")
