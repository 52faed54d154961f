"""Who may enter: the rules that every request to the viewer's server passes.

The server listens on 127.0.0.1 only. That alone protects nothing: any web page open in the user's browser, and any
other account of the machine, can reach it. So

====================  ===============================================================================================
threat                answer
====================  ===============================================================================================
another account       a random key per start in the printed link; without it 403
a foreign web page    the ``Origin`` must be our own; the cookie is ``SameSite=Strict`` and ``HttpOnly``
DNS rebinding         the ``Host`` must be 127.0.0.1, localhost or [::1] with our port
another local server  it is sent our cookie too (cookies do not know ports), so the cookie alone opens no view: the
                      page also shows a *pass* that it keeps in the storage of its own origin, which does know ports
a list of processes   the browser is started with a key that works once
a copied web socket   its address carries a ticket that works once, shortly, and only with cookie and ``Origin``
a page inside a page  ``frame-ancestors 'none'``
====================  ===============================================================================================

The order on entering: link with key -> cookie and pass -> plain address -> pass for a ticket -> web socket with ticket.
This module holds the rules and no routes; the routes are in :mod:`viewer.front`.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Any

from aiohttp import web

__all__ = ["LOOPBACK", "Guard", "Handler", "OneTimeKeys", "refusal", "same_text"]

LOOPBACK = "127.0.0.1"
LOCAL_NAMES = (LOOPBACK, "localhost", "[::1]")
METHODS = frozenset({"GET", "HEAD", "POST"})
OPENING_SECONDS = 180.0  # a browser that starts cold on a slow machine
TICKET_SECONDS = 60.0
USE_THE_LINK = "Open the link that the program printed in the terminal."
Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


def same_text(given: str, expected: str) -> bool:
    """Return whether both texts are equal, in a time that does not tell where they differ."""
    return hmac.compare_digest(given.encode("utf-8", "surrogatepass"), expected.encode("utf-8", "surrogatepass"))


class OneTimeKeys:
    """Random keys that open once and only for a while; at most ``limit`` are kept, the oldest leave first."""

    def __init__(self, seconds: float, limit: int = 64, clock: Callable[[], float] = time.monotonic) -> None:
        self._seconds = seconds
        self._limit = limit
        self._clock = clock
        self._until: dict[bytes, float] = {}

    def issue(self) -> str:
        """Return a new key. Hexadecimal, since the page's client turns addresses into small letters."""
        key = secrets.token_hex(32)
        while len(self._until) >= self._limit:
            del self._until[next(iter(self._until))]
        self._until[_digest(key)] = self._clock() + self._seconds
        return key

    def redeem(self, key: str) -> bool:
        """Return whether ``key`` was issued, is fresh and was not used before; from now on it is used."""
        # The look-up is by digest: its time tells nothing about the keys themselves.
        until = self._until.pop(_digest(key), None)
        return until is not None and self._clock() < until


def _digest(key: str) -> bytes:
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).digest()


@dataclass(slots=True)
class Guard:
    """The secrets of one start of the server and the rules that use them."""

    port: int
    key: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)
    page_pass: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)
    seed: bytes = field(default_factory=lambda: secrets.token_bytes(32), repr=False)
    opening: OneTimeKeys = field(default_factory=lambda: OneTimeKeys(OPENING_SECONDS), repr=False)
    tickets: OneTimeKeys = field(default_factory=lambda: OneTimeKeys(TICKET_SECONDS), repr=False)

    @property
    def cookie_name(self) -> str:
        """Name of the cookie; the port is part of it, since servers on other ports share the cookie jar."""
        return f"datumray_{self.port}"

    def link(self) -> str:
        """Return the link for the terminal; it works as long as this server runs."""
        return f"http://{LOOPBACK}:{self.port}/?key={self.key}"

    def opening_link(self) -> str:
        """Return a link that works once, for the command line of a browser, which other accounts can read."""
        return f"http://{LOOPBACK}:{self.port}/?key={self.opening.issue()}"

    def admits_key(self, keys: Sequence[str]) -> bool:
        """Return whether the ``key`` values of an address (exactly one is expected) open this server."""
        if len(keys) != 1:
            return False
        return same_text(keys[0], self.key) or self.opening.redeem(keys[0])

    def admits_host(self, hosts: Sequence[str]) -> bool:
        """Return whether the ``Host`` lines of a request (exactly one is expected) name this server."""
        return len(hosts) == 1 and hosts[0].lower() in self._hosts()

    def admits_origin(self, origins: Sequence[str], host: str) -> bool:
        """Return whether the ``Origin`` lines of a request come from this server under the name ``host``."""
        return len(origins) == 1 and origins[0].lower() == f"http://{host.lower()}"

    def admits_cookie(self, request: web.BaseRequest) -> bool:
        """Return whether the request carries the cookie of this start."""
        return same_text(request.cookies.get(self.cookie_name, ""), self.cookie)

    def admits_pass(self, passes: Sequence[str]) -> bool:
        """Return whether the pass that a page shows is the one of this start."""
        return len(passes) == 1 and same_text(passes[0], self.page_pass)

    def view_secret(self, ticket: str) -> str:
        """Return the secret that page and visit share for the web socket opened with ``ticket``."""
        return hmac.new(self.seed, ticket.encode("utf-8", "surrogatepass"), hashlib.sha256).hexdigest()

    def set_cookie(self, response: web.StreamResponse) -> None:
        """Hand the cookie to the browser. Not ``Secure``: the server speaks plain HTTP to its own machine."""
        response.set_cookie(self.cookie_name, self.cookie, path="/", httponly=True, samesite="Strict")

    def _hosts(self) -> frozenset[str]:
        hosts = {f"{name}:{self.port}" for name in LOCAL_NAMES}
        return frozenset(hosts | set(LOCAL_NAMES)) if self.port == 80 else frozenset(hosts)

    def refusal_of(self, request: web.Request) -> str | None:
        """Return why ``request`` is refused, or None where it may go on."""
        if request.method not in METHODS:
            return "This way of asking is not served here."
        hosts = request.headers.getall("Host", [])
        if not self.admits_host(hosts):
            return f"This address is not served here. {USE_THE_LINK}"
        origins = request.headers.getall("Origin", [])
        must_tell = request.method == "POST" or "Upgrade" in request.headers
        if (origins or must_tell) and not self.admits_origin(origins, hosts[0]):
            return "Requests from other pages are refused."
        if request.path == "/" and "key" in request.query:
            return None if request.method == "GET" and self.admits_key(request.query.getall("key")) else _key_refused()
        return None if self.admits_cookie(request) else _key_refused()

    @property
    def middleware(self) -> Any:
        """The rules as aiohttp middleware: a refused request reaches no route."""

        @web.middleware
        async def guarded(request: web.Request, handler: Handler) -> web.StreamResponse:
            reason = self.refusal_of(request)
            return refusal(reason) if reason else await handler(request)

        return guarded

    async def add_headers(self, request: web.Request, response: web.StreamResponse) -> None:
        """Add the protecting headers; connect it to ``on_response_prepare`` so that errors get them too."""
        hosts = request.headers.getall("Host", [])
        host = hosts[0] if self.admits_host(hosts) else f"{LOOPBACK}:{self.port}"
        response.headers["Content-Security-Policy"] = content_policy(host)
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["X-Frame-Options"] = "DENY"
        response.headers["Referrer-Policy"] = "no-referrer"
        response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
        response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
        response.headers.setdefault("Cache-Control", "no-store")
        response.headers["Server"] = "datumray"


def content_policy(host: str) -> str:
    """Return the Content-Security-Policy for pages served as ``host``: nothing from or to any other place."""
    rules = {
        "default-src": "'none'",
        "script-src": "'self' 'unsafe-eval'",  # the page's templates are compiled in the browser
        "style-src": "'self' 'unsafe-inline'",
        "img-src": "'self' data: blob:",
        "font-src": "'self' data:",
        "media-src": "'self' blob:",
        "worker-src": "'self' blob:",
        "connect-src": f"'self' ws://{host}",
        "base-uri": "'self'",
        "form-action": "'none'",
        "frame-ancestors": "'none'",
    }
    return "; ".join(f"{name} {value}" for name, value in rules.items())


def refusal(reason: str, status: int = 403) -> web.Response:
    """Return the short plain page that says why a request is refused."""
    page = (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>datumray</title><p>{escape(reason)}</p></html>\n'
    )
    return web.Response(text=page, content_type="text/html", status=status)


def _key_refused() -> str:
    return f"This page needs a key. {USE_THE_LINK}"
