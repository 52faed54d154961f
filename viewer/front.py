"""The server's routes: entry with the key, the page, scripts, tickets, and the web socket that leads to a visit.

Every request has passed the :class:`viewer.guard.Guard` before it comes here. This process makes no pictures and runs
no app, so it answers at once whatever the visits are busy with.
"""

from __future__ import annotations

import asyncio
import logging
import re
from html import escape
from pathlib import Path
from typing import Any

from aiohttp import WSCloseCode, WSMsgType, web
from trame_client.module import vue3

from viewer.guard import Guard, Handler, refusal
from viewer.pipe import Kind, PipeClosed, packed, read_message, read_note
from viewer.visits import TooManyVisits, Visit, Visits

__all__ = ["make_front"]

SHELL = Path(__file__).with_name("shell")
CLIENT = Path(vue3.www)
MESSAGE_LIMIT = 4 * 1024 * 1024 + 4096  # the page's client sends larger messages in pieces of 4 MiB
BODY_LIMIT = 64 * 1024
HEARTBEAT_SECONDS = 30.0
REASON_BYTES = 120  # a web socket's closing reason holds 123
SCRIPT_TYPES = {".js": "text/javascript", ".mjs": "text/javascript", ".cjs": "text/javascript", ".css": "text/css"}
ENDED = "The program has ended. Start it again and open the link that it prints in the terminal."
FULL = "Too many pages are open. Close one and reload."
BROKEN_OFF = "The view has ended unexpectedly. The terminal may show the reason."
logger = logging.getLogger(__name__)

_ENTRY = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>datumray</title><link rel="icon" href="data:,">
<script src="/shell/enter.js" data-pass="{page_pass}"></script></head>
<body><p>Opening. If this page stays, allow scripts and cookies for this address.</p></body></html>
"""

_PAGE = """<!doctype html>
<html lang="en" data-app-name="datumray" data-launcher-retry="[]">
<head>
<base href="/">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>datumray</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="/shell/shell.css">
<link rel="stylesheet" href="{style}">
<script src="/vue.global.js"></script>
<script src="/shell/shell.js" data-module="{module}"></script>
</head>
<body>
<noscript>This page needs JavaScript.</noscript>
<div id="app"><p class="shell-wait">Opening the view ...</p></div>
<div id="shell-notice" role="alertdialog" aria-live="assertive" hidden>
<div><p></p><button type="button">Reload</button></div></div>
</body>
</html>
"""


def make_front(guard: Guard, visits: Visits) -> web.Application:
    """Return the web application: all routes behind ``guard``, each view in a process of ``visits``."""
    front = _Front(guard, visits)
    protection: list[Any] = [guard.middleware, _plain_errors]
    app = web.Application(middlewares=protection, client_max_size=BODY_LIMIT)
    app.on_response_prepare.append(guard.add_headers)
    app.on_shutdown.append(front.close)
    app.add_routes(
        [
            web.get("/", front.root),
            web.post("/pass", front.check_pass),
            web.post("/session", front.session),
            web.get("/ws/{ticket}", front.view),
            web.get("/{path:.+}", front.file),
        ]
    )
    return app


@web.middleware
async def _plain_errors(request: web.Request, handler: Handler) -> web.StreamResponse:
    """Answer refusals and mistakes with a short page; what went wrong inside stays in the terminal."""
    try:
        return await handler(request)
    except web.HTTPException as error:
        if error.status < 400:
            raise
        return refusal(error.reason or "This request failed.", error.status)
    except Exception:
        logger.exception("The request %s failed.", request.path)
        return refusal("This request failed. The terminal shows the reason.", 500)


def _page() -> str:
    """Return the page, with the names of the client's script and style as the installed version has them."""
    text = (CLIENT / "index.html").read_text(encoding="utf-8")
    module = re.search(r'type="module"[^>]*src="\.?(/assets/[^"]+\.js)"', text)
    style = re.search(r'rel="stylesheet"[^>]*href="\.?(/assets/[^"]+\.css)"', text)
    if module is None or style is None:
        raise RuntimeError("The installed trame-client has a page of another form than this program knows.")
    return _PAGE.format(module=module[1], style=style[1])


class _Front:
    """The routes of one server."""

    def __init__(self, guard: Guard, visits: Visits) -> None:
        self._guard = guard
        self._visits = visits
        self._sockets: set[web.WebSocketResponse] = set()
        self._folders = {"shell": SHELL.resolve()}
        self._page = _page()

    async def root(self, request: web.Request) -> web.Response:
        """Answer with the page; with a key in the address (the guard has checked it), let the browser in first.

        The entry page goes on by itself to the plain address. An HTTP redirect would not do: the browser holds a
        ``SameSite=Strict`` cookie back when a chain of redirects began on another page, such as a mail with the link.
        """
        if "key" not in request.query:
            return web.Response(text=self._page, content_type="text/html")
        response = web.Response(
            text=_ENTRY.format(page_pass=escape(self._guard.page_pass)),
            content_type="text/html",
        )
        self._guard.set_cookie(response)
        return response

    async def check_pass(self, request: web.Request) -> web.Response:
        """Answer whether the page's pass is of this start."""
        self._require_pass(request)
        return web.Response(status=204)

    async def session(self, request: web.Request) -> web.Response:
        """Answer with the address of a web socket, good for one use, and the secret for it."""
        self._require_pass(request)
        ticket = self._guard.tickets.issue()
        return web.json_response(
            {"sessionURL": f"ws://use_host/ws/{ticket}", "secret": self._guard.view_secret(ticket)}
        )

    def _require_pass(self, request: web.Request) -> None:
        if not self._guard.admits_pass(request.query.getall("pass", [])):
            raise web.HTTPForbidden(reason="This page needs a new key.")

    async def file(self, request: web.Request) -> web.StreamResponse:
        """Answer with a file of the page's client, of the shell or of a widget library that a visit has named."""
        first, _, rest = request.match_info["path"].partition("/")
        folder, name = (self._folders[first], rest) if first in self._folders else (CLIENT, request.match_info["path"])
        found = _inside(folder, name)
        if found is None:
            raise web.HTTPNotFound
        response = web.FileResponse(found, headers={"Cache-Control": "no-cache"})
        if found.suffix in SCRIPT_TYPES:
            response.content_type = SCRIPT_TYPES[found.suffix]
        return response

    async def view(self, request: web.Request) -> web.StreamResponse:
        """Join the web socket of a page with the process of its visit until one of them ends."""
        ticket = request.match_info["ticket"]
        socket = web.WebSocketResponse(max_msg_size=MESSAGE_LIMIT, heartbeat=HEARTBEAT_SECONDS, compress=False)
        if not socket.can_prepare(request) or not self._guard.tickets.redeem(ticket):
            raise web.HTTPForbidden(reason="This web socket is not open.")
        await socket.prepare(request)
        self._sockets.add(socket)
        try:
            await self._visit(socket, self._guard.view_secret(ticket))
        except TooManyVisits:
            await _close(socket, WSCloseCode.TRY_AGAIN_LATER, FULL)
        except Exception:  # no error page can be sent any more: the connection is a web socket now
            logger.exception("A view ended with an error.")
            await _close(socket, WSCloseCode.INTERNAL_ERROR, BROKEN_OFF)
        finally:
            self._sockets.discard(socket)
        return socket

    async def _visit(self, socket: web.WebSocketResponse, secret: str) -> None:
        visit = await self._visits.take(secret=secret)
        try:
            await self._join(socket, visit)
        finally:
            await self._visits.give_back(visit)

    async def _join(self, socket: web.WebSocketResponse, visit: Visit) -> None:
        to_page = asyncio.create_task(self._to_page(socket, visit))
        to_visit = asyncio.create_task(_to_visit(socket, visit))
        try:
            await asyncio.wait({to_page, to_visit}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in (to_page, to_visit):
                task.cancel()
            results = await asyncio.gather(to_page, to_visit, return_exceptions=True)
        if isinstance(results[0], str):
            await _close(socket, WSCloseCode.INTERNAL_ERROR, results[0])

    async def _to_page(self, socket: web.WebSocketResponse, visit: Visit) -> str:
        """Pass messages on to the page; return why the visit ended."""
        while True:
            try:
                kind, payload = await read_message(visit.reader)
            except PipeClosed:
                return BROKEN_OFF
            if kind is Kind.DATA:
                await socket.send_bytes(payload)
                continue
            note = read_note(payload)
            if "failed" in note:
                return str(note["failed"])
            self._folders.update({route: Path(folder).resolve() for route, folder in note["folders"].items()})

    async def close(self, _app: web.Application) -> None:
        """Tell all pages that the program ends, and end their visits."""
        await asyncio.gather(
            *(_close(socket, WSCloseCode.GOING_AWAY, ENDED) for socket in tuple(self._sockets)), return_exceptions=True
        )
        await self._visits.close()


async def _to_visit(socket: web.WebSocketResponse, visit: Visit) -> None:
    async for message in socket:
        if message.type is not WSMsgType.BINARY:
            return  # the page's client sends nothing else
        visit.writer.write(packed(Kind.DATA, message.data))
        try:
            await visit.writer.drain()
        except OSError:
            return


async def _close(socket: web.WebSocketResponse, code: WSCloseCode, reason: str) -> None:
    text = reason.encode()
    if len(text) > REASON_BYTES:
        text = text[: REASON_BYTES - 4].decode(errors="ignore").encode() + b" ..."
    await socket.close(code=code, message=text)


def _inside(folder: Path, name: str) -> Path | None:
    """Return the file ``name`` in ``folder``, or None where there is none or it lies elsewhere."""
    try:
        found = (folder / name).resolve()
        return found if found.is_relative_to(folder.resolve()) and found.is_file() else None
    except (OSError, ValueError):  # a name that no file can have
        return None
