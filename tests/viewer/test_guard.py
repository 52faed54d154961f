"""Who may enter the viewer's server, and attempts to enter it in other ways."""

import asyncio
import contextlib
import re

import aiohttp
import pytest
from aiohttp import web

from viewer import front
from viewer.front import make_front
from viewer.guard import Guard, OneTimeKeys, content_policy, same_text
from viewer.pipe import Kind, PipeClosed, packed, packed_note, read_message, read_note
from viewer.serving import _listen
from viewer.visits import TooManyVisits

SECONDS = 10


# --- the rules by themselves


def test_every_start_has_its_own_long_secrets():
    guards = [Guard(8080) for _ in range(20)]
    for name in ("key", "page_pass", "cookie"):
        values = {getattr(guard, name) for guard in guards}
        assert len(values) == 20
        assert min(map(len, values)) >= 43  # 256 bits in base 64
    assert len({secret for guard in guards for secret in (guard.key, guard.page_pass, guard.cookie)}) == 60


def test_secrets_are_not_shown():
    guard = Guard(8080)
    for secret in (guard.key, guard.page_pass, guard.cookie):
        assert secret not in repr(guard)


@pytest.mark.parametrize("given", ["", "x", "\N{SNOWMAN}", "\udc80", "a" * 100_000])
def test_texts_of_any_kind_are_compared(given):
    assert not same_text(given, "expected")
    assert same_text(given, given)


@pytest.mark.parametrize(
    "make", [lambda _: [], lambda k: [k, k], lambda k: [k[:-1]], lambda k: [k + "a"], lambda _: [""]]
)
def test_only_the_whole_key_given_once_opens(make):
    guard = Guard(8080)
    assert guard.admits_key([guard.key])
    assert not guard.admits_key(make(guard.key))


def test_the_opening_key_opens_once_and_the_printed_key_again_and_again():
    guard = Guard(8080)
    once = guard.opening_link().partition("key=")[2]
    assert [guard.admits_key([once]) for _ in range(3)] == [True, False, False]
    assert [guard.admits_key([guard.key]) for _ in range(3)] == [True, True, True]


def test_one_time_keys_age_and_are_limited_in_number():
    now = 0.0
    keys = OneTimeKeys(60.0, limit=3, clock=lambda: now)
    first, *others = [keys.issue() for _ in range(4)]
    assert not keys.redeem(first)  # the fourth pushed it out
    assert keys.redeem(others[0])
    now = 61.0
    assert not keys.redeem(others[1])
    assert all(key == key.lower() for key in others)  # the page's client turns addresses into small letters


@pytest.mark.parametrize(
    ("hosts", "admitted"),
    [
        (["127.0.0.1:8080"], True),
        (["localhost:8080"], True),
        (["LOCALHOST:8080"], True),
        (["[::1]:8080"], True),
        (["127.0.0.1"], False),
        (["127.0.0.1:8081"], False),
        (["127.0.0.1:80800"], False),
        (["example.org:8080"], False),
        (["127.0.0.1.example.org:8080"], False),
        (["127.0.0.1:8080", "127.0.0.1:8080"], False),
        ([""], False),
        ([], False),
    ],
)
def test_hosts(hosts, admitted):
    assert Guard(8080).admits_host(hosts) is admitted


def test_on_the_port_of_the_web_a_host_needs_no_port():
    assert Guard(80).admits_host(["127.0.0.1"])
    assert not Guard(80).admits_host(["example.org"])


@pytest.mark.parametrize(
    ("origins", "admitted"),
    [
        (["http://127.0.0.1:8080"], True),
        (["HTTP://127.0.0.1:8080"], True),
        (["http://localhost:8080"], False),  # another name than the one that was asked
        (["https://127.0.0.1:8080"], False),
        (["http://127.0.0.1:8081"], False),
        (["http://127.0.0.1:8080.example.org"], False),
        (["null"], False),
        (["http://127.0.0.1:8080", "http://127.0.0.1:8080"], False),
        ([], False),
    ],
)
def test_origins(origins, admitted):
    assert Guard(8080).admits_origin(origins, "127.0.0.1:8080") is admitted


def test_the_policy_names_no_other_place():
    policy = content_policy("127.0.0.1:8080")
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "connect-src 'self' ws://127.0.0.1:8080;" in policy
    assert re.findall(r"\b(?:https?|wss?):[^ ;]*", policy) == ["ws://127.0.0.1:8080"]
    assert "*" not in policy


# --- the server


class EchoVisits:
    """Stands for the processes: a visit here sends back what it is sent."""

    def __init__(self, limit=10):
        self.limit = limit
        self.opened = []
        self.given_back = 0
        self.folders = None
        self.closed = False

    async def take(self, **opening):
        if len(self.opened) - self.given_back >= self.limit:
            raise TooManyVisits
        self.opened.append(opening)
        return EchoVisit(self.folders)

    async def give_back(self, _visit):
        self.given_back += 1

    async def close(self):
        self.closed = True


class EchoVisit:
    def __init__(self, folders):
        self.reader = asyncio.StreamReader()
        self.writer = self
        if folders:
            self.reader.feed_data(packed_note(folders=folders))

    def write(self, message):
        self.reader.feed_data(message)

    async def drain(self):
        pass


class Client:
    """A program without a browser's manners: it sends what it likes."""

    def __init__(self, session, guard):
        self.session = session
        self.guard = guard
        self.origin = f"http://127.0.0.1:{guard.port}"
        self.cookie = {"Cookie": f"{guard.cookie_name}={guard.cookie}"}

    async def ask(self, path, method="GET", cookie=True, **headers):
        """Return status, headers and text of the answer to a request with exactly this path."""
        url = f"{self.origin}{path}"
        headers = {name.replace("_", "-"): value for name, value in headers.items()}
        async with self.session.request(
            method,
            aiohttp.client.URL(url, encoded=True),
            headers={**(self.cookie if cookie else {}), **headers},
            allow_redirects=False,
        ) as answer:
            return answer.status, answer.headers, (await answer.read()).decode(errors="replace")

    async def ticket_path(self):
        status, _, text = await self.ask(f"/session?pass={self.guard.page_pass}", "POST", Origin=self.origin)
        assert status == 200
        return re.search(r"ws://use_host(/ws/[0-9a-f]+)", text)[1]

    def socket(self, path, cookie=True, **headers):
        headers = {"Origin": self.origin, **(self.cookie if cookie else {}), **headers}
        headers = {name: value for name, value in headers.items() if value is not None}
        return self.session.ws_connect(f"{self.origin}{path}", headers=headers, max_msg_size=0)

    async def raw(self, text):
        """Return what the server says to these bytes."""
        reader, writer = await asyncio.open_connection("127.0.0.1", self.guard.port)
        try:
            writer.write(text.encode() if isinstance(text, str) else text)
            with contextlib.suppress(ConnectionError):
                return (await asyncio.wait_for(reader.read(65536), SECONDS)).decode(errors="replace")
            return ""
        finally:
            writer.close()
            with contextlib.suppress(ConnectionError):
                await writer.wait_closed()


def visit_server(test, visits=None):
    """Run ``test(client, guard, visits)`` against a server on a free port of this machine."""

    async def run():
        listening = _listen(0)
        guard = Guard(listening.getsockname()[1])
        held = EchoVisits() if visits is None else visits
        runner = web.AppRunner(make_front(guard, held), access_log=None, shutdown_timeout=1.0)
        await runner.setup()
        await web.SockSite(runner, listening).start()
        try:
            async with aiohttp.ClientSession(cookie_jar=aiohttp.DummyCookieJar()) as session:
                await asyncio.wait_for(test(Client(session, guard), guard, held), 4 * SECONDS)
        finally:
            await runner.cleanup()
        assert held.closed

    asyncio.run(run())


def test_with_the_key_the_browser_gets_cookie_and_pass():
    async def test(client, guard, _visits):
        status, headers, text = await client.ask(f"/?key={guard.key}", cookie=False)
        assert status == 200
        assert headers["Set-Cookie"] == (f"datumray_{guard.port}={guard.cookie}; HttpOnly; Path=/; SameSite=Strict")
        assert headers["Cache-Control"] == "no-store"
        assert headers["Referrer-Policy"] == "no-referrer"
        assert guard.page_pass in text
        assert guard.key not in text
        assert guard.cookie not in text

    visit_server(test)


def test_with_the_cookie_the_page_holds_no_secret():
    async def test(client, guard, _visits):
        status, headers, text = await client.ask("/")
        assert status == 200
        assert headers["Cache-Control"] == "no-store"
        for secret in (guard.key, guard.page_pass, guard.cookie):
            assert secret not in text

    visit_server(test)


def test_without_cookie_nothing_is_served():
    async def test(client, guard, visits):
        for path in ("/", "/index.html", "/vue.global.js", "/shell/shell.js", "/shell/enter.js", "/nothing", "/?k=1"):
            status, _, text = await client.ask(path, cookie=False)
            assert (status, "link that the program printed" in text) == (403, True), path
        for path in ("/session", "/pass"):
            url = f"{path}?pass={guard.page_pass}"
            assert (await client.ask(url, "POST", cookie=False, Origin=client.origin))[0] == 403
        assert visits.opened == []

    visit_server(test)


@pytest.mark.parametrize(
    "query", ["key=", "key=wrong", "key={key}a", "key={key}&key={key}", "key=%00", "key=%E2%98%83", "KEY={key}"]
)
def test_wrong_keys_give_no_cookie(query):
    async def test(client, guard, _visits):
        status, headers, text = await client.ask("/?" + query.format(key=guard.key), cookie=False)
        assert status == 403
        assert "Set-Cookie" not in headers
        assert guard.page_pass not in text

    visit_server(test)


def test_the_key_opens_the_entry_only():
    async def test(client, guard, _visits):
        for path in ("/shell/shell.js", "/session", "/index.html", "//", "/ws/x"):
            assert (await client.ask(f"{path}?key={guard.key}", cookie=False))[0] == 403
        assert (await client.ask(f"/?key={guard.key}", "POST", cookie=False, Origin=client.origin))[0] == 403

    visit_server(test)


def test_a_cookie_of_another_start_opens_nothing():
    async def test(client, guard, _visits):
        other = Guard(guard.port)
        for cookie in (f"{guard.cookie_name}={other.cookie}", f"{guard.cookie_name}=", f"other={guard.cookie}"):
            assert (await client.ask("/", cookie=False, Cookie=cookie))[0] == 403

    visit_server(test)


@pytest.mark.parametrize(
    "host", ["example.org", "example.org:{port}", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.example.org:{port}"]
)
def test_rebound_names_reach_nothing(host):
    async def test(client, guard, visits):
        host_line = host.format(port=guard.port)
        origin = f"http://{host_line}"
        assert (await client.ask("/", Host=host_line))[0] == 403
        assert (await client.ask(f"/?key={guard.key}", cookie=False, Host=host_line))[0] == 403
        answer = await client.ask(f"/session?pass={guard.page_pass}", "POST", Host=host_line, Origin=origin)
        assert answer[0] == 403
        path = await client.ticket_path()
        with pytest.raises(aiohttp.WSServerHandshakeError, match="403"):
            await client.socket(path, Host=host_line, Origin=origin)
        assert visits.opened == []

    visit_server(test)


def test_two_host_lines_are_refused():
    async def test(client, guard, _visits):
        own = f"Host: 127.0.0.1:{guard.port}\r\n"
        cookie = f"Cookie: {client.cookie['Cookie']}\r\nConnection: close\r\n\r\n"
        assert "200 OK" in await client.raw(f"GET / HTTP/1.1\r\n{own}{cookie}")
        for lines in (own + "Host: example.org\r\n", "Host: example.org\r\n" + own, ""):
            answer = await client.raw(f"GET / HTTP/1.1\r\n{lines}{cookie}")
            assert re.match(r"HTTP/1.[01] 40[03] ", answer), answer

    visit_server(test)


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://example.org", "http://127.0.0.1:1", "https://127.0.0.1:{port}", "http://localhost:{port}"],
)
def test_foreign_origins_get_no_ticket_and_no_web_socket(origin):
    async def test(client, guard, visits):
        line = origin and origin.format(port=guard.port)
        headers = {} if line is None else {"Origin": line}
        assert (await client.ask(f"/session?pass={guard.page_pass}", "POST", **headers))[0] == 403
        if line is not None:
            assert (await client.ask("/", **headers))[0] == 403
        path = await client.ticket_path()
        with pytest.raises(aiohttp.WSServerHandshakeError, match="403"):
            await client.socket(path, Origin=line)
        assert visits.opened == []

    visit_server(test)


def test_the_cookie_alone_gives_no_view():
    async def test(client, guard, visits):
        for query in ("", "?pass=", "?pass=wrong", f"?pass={guard.key}", f"?pass={guard.page_pass}&pass=x"):
            for path in ("/session", "/pass"):
                assert (await client.ask(path + query, "POST", Origin=client.origin))[0] == 403
        assert (await client.ask(f"/pass?pass={guard.page_pass}", "POST", Origin=client.origin))[0] == 204
        for path in ("/ws/", "/ws/" + "0" * 64, "/ws", "/ws/x/y"):
            with pytest.raises(aiohttp.WSServerHandshakeError, match=r"40[34]"):
                await client.socket(path)
        assert visits.opened == []

    visit_server(test)


def test_a_ticket_works_once_and_only_with_the_cookie():
    async def test(client, guard, visits):
        path = await client.ticket_path()
        with pytest.raises(aiohttp.WSServerHandshakeError, match="403"):
            await client.socket(path, cookie=False)
        async with client.socket(path) as socket:
            await socket.send_bytes(b"hello")
            assert (await socket.receive(timeout=SECONDS)).data == b"hello"
        with pytest.raises(aiohttp.WSServerHandshakeError, match="403"):
            await client.socket(path)
        assert len(visits.opened) == 1
        assert visits.opened[0]["secret"] == guard.view_secret(path.rpartition("/")[2])

    visit_server(test)


def test_each_view_has_its_own_random_secret():
    async def test(client, _guard, visits):
        for _ in range(3):
            async with client.socket(await client.ticket_path()):
                pass
        secrets = {opening["secret"] for opening in visits.opened}
        assert len(secrets) == 3
        assert "wslink-secret" not in secrets
        assert min(map(len, secrets)) == 64

    visit_server(test)


def test_when_too_many_pages_are_open_the_page_is_told():
    async def test(client, _guard, visits):
        async with client.socket(await client.ticket_path()) as first:
            await first.send_bytes(b"here")
            await first.receive(timeout=SECONDS)
            async with client.socket(await client.ticket_path()) as second:
                message = await second.receive(timeout=SECONDS)
                assert message.type is aiohttp.WSMsgType.CLOSE
                assert "Too many pages" in message.extra
        while visits.given_back < 1:
            await asyncio.sleep(0.01)
        async with client.socket(await client.ticket_path()) as third:
            await third.send_bytes(b"room again")
            assert (await third.receive(timeout=SECONDS)).data == b"room again"

    visit_server(test, EchoVisits(limit=1))


@pytest.mark.parametrize("send", ["send_oversized", "send_text"])
def test_oversized_and_strange_messages_end_their_own_view_only(send):
    async def test(client, _guard, visits):
        async with client.socket(await client.ticket_path()) as other, client.socket(await client.ticket_path()) as bad:
            if send == "send_text":
                await bad.send_str("text")
            else:
                with contextlib.suppress(ConnectionError):  # the server may hang up before it has read all
                    await bad.send_bytes(bytes(front.MESSAGE_LIMIT + 1))
            message = await bad.receive(timeout=SECONDS)
            assert message.type in (aiohttp.WSMsgType.CLOSE, aiohttp.WSMsgType.CLOSED)
            await other.send_bytes(bytes(front.MESSAGE_LIMIT - 1))
            assert len((await other.receive(timeout=SECONDS)).data) == front.MESSAGE_LIMIT - 1
        assert len(visits.opened) == 2

    visit_server(test)


TRAVERSALS = (
    "/shell/../guard.py",
    "/shell/%2e%2e/guard.py",
    "/shell/..%2fguard.py",
    "/shell/..%5cguard.py",
    "/shell/%2e%2e%2f%2e%2e%2fpyproject.toml",
    "/shell//etc/passwd",
    "/shell/%2fetc/passwd",
    "//etc/passwd",
    "/..%2f..%2f..%2f..%2f..%2f..%2f..%2fetc/passwd",
    "/assets/..%2f..%2f__init__.py",
    "/shell/%00",
    "/shell/enter.js%00.css",
    "/shell/",
    "/shell",
    "/assets",
    "/C:/Windows/win.ini",
    "/shell/" + "a" * 5000,
)


def test_only_files_of_the_folders_are_handed_out():
    async def test(client, _guard, _visits):
        assert "localStorage" in (await client.ask("/shell/enter.js"))[2]
        for path in TRAVERSALS:
            status, _, text = await client.ask(path)
            assert status in (400, 404), (path, text[:200])
            assert "class Guard" not in text

    visit_server(test)


def test_traversals_as_raw_bytes():
    async def test(client, guard, _visits):
        rest = f"Host: 127.0.0.1:{guard.port}\r\nCookie: {client.cookie['Cookie']}\r\nConnection: close\r\n\r\n"
        for path in ("/shell/../guard.py", "/../../../../etc/passwd", "../guard.py", "/shell/..\\guard.py"):
            answer = await client.raw(f"GET {path} HTTP/1.1\r\n{rest}")
            assert re.match(r"HTTP/1.[01] 40[034] ", answer), answer
            assert "class Guard" not in answer
            assert "root:" not in answer

    visit_server(test)


def test_folders_named_by_a_visit_are_handed_out_but_not_what_their_links_lead_to(tmp_path):
    folder = tmp_path / "widgets"
    folder.mkdir()
    (folder / "a.js").write_text("1")
    (folder / "b.cjs").write_text("2")
    (tmp_path / "secret.txt").write_text("secret")
    (folder / "link.txt").symlink_to(tmp_path / "secret.txt")
    visits = EchoVisits()
    visits.folders = {"__widgets_1": str(folder)}

    async def test(client, _guard, _visits):
        assert (await client.ask("/__widgets_1/a.js"))[0] == 404
        async with client.socket(await client.ticket_path()) as socket:
            await socket.send_bytes(b"x")
            await socket.receive(timeout=SECONDS)
            for name in ("a.js", "b.cjs"):
                status, headers, _ = await client.ask(f"/__widgets_1/{name}")
                assert (status, headers["Content-Type"]) == (200, "text/javascript")
            assert (await client.ask("/__widgets_1/link.txt"))[0] == 404
            assert (await client.ask("/__widgets_1/..%2fsecret.txt"))[0] == 404

    visit_server(test, visits)


def test_every_answer_carries_the_protecting_headers():
    async def test(client, guard, _visits):
        answers = [
            await client.ask("/"),
            await client.ask("/", cookie=False),
            await client.ask("/nothing"),
            await client.ask("/shell/shell.js"),
            await client.ask(f"/?key={guard.key}", cookie=False),
            await client.ask("/", Host="example.org"),
            await client.ask("/session", "GET"),
            await client.ask("/", "DELETE", Origin=client.origin),
        ]
        assert [status for status, _, _ in answers] == [200, 403, 404, 200, 200, 403, 404, 403]
        for _, headers, _ in answers:
            assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
            assert headers["X-Content-Type-Options"] == "nosniff"
            assert headers["Referrer-Policy"] == "no-referrer"
            assert headers["Cache-Control"] in ("no-store", "no-cache")
            assert headers["Server"] == "datumray"
            assert "example.org" not in headers["Content-Security-Policy"]
            assert not [name for name in headers if name.lower().startswith("access-control")]

    visit_server(test)


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "PROPFIND"])
def test_other_ways_of_asking_are_refused(method):
    async def test(client, _guard, _visits):
        assert (await client.ask("/", method, Origin=client.origin))[0] in (403, 405)

    visit_server(test)


def test_mistakes_inside_are_not_told(caplog, monkeypatch):
    async def test(client, _guard, visits):
        async def broken(**_):
            raise ValueError("the inside of the program")

        visits.take = broken
        async with client.socket(await client.ticket_path()) as socket:
            message = await socket.receive(timeout=SECONDS)
            assert message.type is aiohttp.WSMsgType.CLOSE
            assert "ended unexpectedly" in message.extra
            assert "inside" not in message.extra

        def broken_pass(*_):
            raise ValueError("the inside of the program")

        monkeypatch.setattr(Guard, "admits_pass", broken_pass)
        status, _, text = await client.ask("/pass", "POST", Origin=client.origin)
        assert status == 500
        assert "Traceback" not in text
        assert "inside" not in text

    visit_server(test)
    assert caplog.text.count("ValueError: the inside of the program") >= 2


def test_malformed_and_endless_requests_are_answered_shortly():
    async def test(client, guard, _visits):
        host = f"Host: 127.0.0.1:{guard.port}\r\n"
        for text in (
            "NONSENSE\r\n\r\n",
            f"GET / HTTP/1.1\r\n{host}X: {'a' * 200_000}\r\n\r\n",
            f"GET /{'a' * 200_000} HTTP/1.1\r\n{host}\r\n",
            f"POST /session HTTP/1.1\r\n{host}Content-Length: -5\r\n\r\n",
            f"POST /session HTTP/1.1\r\n{host}Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        ):
            answer = await client.raw(text)
            assert answer == "" or re.match(r"HTTP/1.[01] 4\d\d ", answer), answer[:300]
            assert "Traceback" not in answer
        assert (await client.ask("/"))[0] == 200

    visit_server(test)


# --- the pipe


def test_messages_go_through_the_pipe_whole():
    async def run():
        reader = asyncio.StreamReader()
        reader.feed_data(packed(Kind.DATA, b"") + packed(Kind.DATA, bytes(100_000)) + packed_note(failed="\N{SNOWMAN}"))
        reader.feed_data(packed(Kind.DATA, b"cut off")[:-1])
        reader.feed_eof()
        assert await read_message(reader) == (Kind.DATA, b"")
        assert await read_message(reader) == (Kind.DATA, bytes(100_000))
        kind, payload = await read_message(reader)
        assert (kind, read_note(payload)) == (Kind.NOTE, {"failed": "\N{SNOWMAN}"})
        with pytest.raises(PipeClosed):
            await read_message(reader)

    asyncio.run(run())
