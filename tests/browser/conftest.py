"""Headless Chromium and served programs for the browser tests.

The synchronous Playwright keeps an asyncio loop running in the main thread for as long as it lives. So these tests come
last in a run, and code here that needs a loop of its own runs in a thread (``in_thread``).
"""

import asyncio
import contextlib
import importlib.util
import itertools
import os
import queue
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace
from urllib.parse import urlsplit

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
CHROMIUM_FLAGS = (
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
)
LINK_SECONDS = 40
END_SECONDS = 15
LINK = re.compile(r"http://127\.0\.0\.1:\d+/\?key=\S+")
# What Python, trame and wslink print when an exception is only logged, as those inside reactions are.
LOGGED_EXCEPTION = re.compile(r"^(Traceback \(most recent call last\)|(ERROR|CRITICAL)[: ])", re.MULTILINE)


def pytest_collection_modifyitems(items):
    """Put the tests of this folder last; the order is otherwise kept."""
    items.sort(key=lambda item: HERE in item.path.parents)


def _not_here(reason):
    """Skip, except on the build server, where a browser test that does not run is a failure."""
    if os.environ.get("CI", "").lower() not in ("", "0", "false"):
        pytest.fail(f"{reason} (CI is set, so this is a failure)", pytrace=False)
    pytest.skip(reason)


def _load(name):
    """Load a module of this folder by its path: ``tests`` is also the name of a folder that trame-vuetify installs."""
    spec = importlib.util.spec_from_file_location(f"browser_{name}", HERE / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def pages():
    """The page objects."""
    return _load("pages")


@pytest.fixture(scope="session")
def chromium():
    """One headless Chromium for all tests."""
    found = next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)
    if found is None:
        _not_here("no Chromium on this machine: install the system's package 'chromium'")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _not_here("playwright is not installed: pip install playwright")
    with sync_playwright() as playwright:
        arguments = [*CHROMIUM_FLAGS, *(["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else [])]
        browser = playwright.chromium.launch(executable_path=found, args=arguments)
        yield browser
        browser.close()


class Watch:
    """Everything that a page must not do silently, written down; what a test expects it allows beforehand."""

    def __init__(self, context):
        self.requests = []
        self.troubles = []
        self._allowed = []
        context.on("request", self._request)
        context.on("requestfailed", self._failed)
        context.on("response", self._response)
        context.on("console", self._console)
        context.on("weberror", lambda error: self._trouble(f"page error: {error.error}"))
        context.on("page", lambda page: page.on("websocket", lambda socket: self._address(socket.url)))

    def allow(self, pattern):
        """Allow troubles that match the regular expression ``pattern`` in this test."""
        self._allowed.append(re.compile(pattern))

    def unexpected(self):
        return [text for text in self.troubles if not any(allowed.search(text) for allowed in self._allowed)]

    def _trouble(self, text):
        self.troubles.append(text)

    def _request(self, request):
        self._address(request.url)

    def _address(self, url):
        self.requests.append(url)
        parts = urlsplit(url)
        if parts.scheme not in ("data", "blob", "about") and parts.hostname != "127.0.0.1":
            self._trouble(f"another host: {url}")

    def _failed(self, request):
        # A picture that the page itself holds, still being shown when the page is left: nothing was asked of anybody.
        if not (request.url.startswith("blob:") and request.failure == "net::ERR_ABORTED"):
            self._trouble(f"failed: {request.url} {request.failure}")

    def _response(self, response):
        if response.status >= 400:
            self._trouble(f"status {response.status}: {response.url}")

    def _console(self, message):
        if message.type in ("error", "warning"):
            self._trouble(f"console {message.type}: {message.text}")


@pytest.fixture
def new_context(chromium):
    """Open a further browser context (its own cookies and storage), watched like the first."""
    opened = []

    def open_context(**options):
        context = chromium.new_context(viewport={"width": 900, "height": 700}, **options)
        watch = Watch(context)
        opened.append((context, watch))
        return SimpleNamespace(context=context, watch=watch, page=context.new_page())

    yield open_context
    troubles = []
    for context, watch in opened:
        context.close()
        troubles += watch.unexpected()
    if troubles:
        pytest.fail("the browser tells of trouble:\n" + "\n".join(troubles), pytrace=False)


@pytest.fixture
def visitor(new_context):
    """One watched context with one page: ``.page``, ``.context`` and ``.watch``."""
    return new_context()


@pytest.fixture
def page(visitor):
    """A page that fails its test on console errors, page errors, failed requests and requests to other hosts."""
    return visitor.page


@pytest.fixture
def watch(visitor):
    """What the test's page did; ``watch.allow(pattern)`` for expected trouble."""
    return visitor.watch


class Served:
    """A program that serves the viewer, with what it printed."""

    def __init__(self, command):
        environment = {**os.environ, "PYTHONUNBUFFERED": "1", "PYTHONPATH": str(ROOT)}
        flags = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP} if os.name == "nt" else {}
        self.process = subprocess.Popen(
            command,
            cwd=ROOT,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            start_new_session=os.name == "posix",
            **flags,
        )
        self.lines = []
        self._allowed = []
        self._links = queue.SimpleQueue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        self.link = self._links.get(timeout=LINK_SECONDS)
        if self.link is None:
            self.stop()
            raise AssertionError(f"the program ended without a link:\n{self.output}")

    def _read(self):
        for line in self.process.stdout:
            self.lines.append(line)
            if found := LINK.search(line):
                self._links.put(found[0])
        self._links.put(None)

    @property
    def output(self):
        return "".join(self.lines)

    @property
    def port(self):
        return urlsplit(self.link).port

    @property
    def address(self):
        return self.link.split("?")[0]

    def allow(self, pattern):
        """Allow printed exceptions whose text, up to the next one, matches ``pattern``."""
        self._allowed.append(re.compile(pattern, re.DOTALL))

    def wait_for_output(self, pattern, seconds=END_SECONDS):
        deadline = time.monotonic() + seconds
        while not re.search(pattern, self.output):
            if time.monotonic() > deadline:
                raise AssertionError(f"the program did not print {pattern!r}:\n{self.output}")
            time.sleep(0.05)

    def visits(self):
        """Return the process numbers of visits and spare, first started first (Linux)."""
        found = []
        for stat in Path("/proc").glob("[0-9]*/stat"):
            with contextlib.suppress(OSError):
                fields = stat.read_text().rpartition(")")[2].split()
                parent, session = int(fields[1]), int(fields[3])
                if session == self.process.pid:
                    found.append((int(stat.parent.name), parent, fields[0]))
        parents = {number: parent for number, parent, _ in found}
        # The visits are copies made by a process that is itself a child of the program.
        return sorted(
            number
            for number, parent, state in found
            if state != "Z" and number != self.process.pid and parent != self.process.pid and parent in (*parents, 1)
        )

    def memory(self):
        """Return the memory of the program itself in bytes, without its visits (Linux)."""
        text = (Path("/proc") / str(self.process.pid) / "status").read_text()
        return int(re.search(r"VmRSS:\s+(\d+) kB", text)[1]) * 1024

    def stop(self, how=None):
        """End the program as Ctrl-C does; return its exit code."""
        if self.process.poll() is None:
            if how is not None:
                self.process.send_signal(how)
            elif os.name == "posix":
                os.killpg(self.process.pid, signal.SIGINT)  # as a terminal does: the whole group
            else:
                self.process.send_signal(signal.CTRL_BREAK_EVENT)
        try:
            return self.process.wait(timeout=END_SECONDS)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise AssertionError(f"the program did not end:\n{self.output}") from None
        finally:
            self._reader.join(timeout=END_SECONDS)
            if not self._reader.is_alive():
                self.process.stdout.close()

    def unexpected(self):
        """Return the printed exceptions that no test allowed."""
        starts = [found.start() for found in LOGGED_EXCEPTION.finditer(self.output)]
        pieces = [self.output[start:end] for start, end in itertools.pairwise([*starts, None])]
        return [piece for piece in pieces if not any(allowed.search(piece) for allowed in self._allowed)]


@pytest.fixture(scope="session")
def start_served():
    """Start programs; what still runs at the end of the session is ended."""
    running = []

    def start(command):
        served = Served([str(part) for part in command])
        running.append(served)
        return served

    yield start
    for served in running:
        if served.process.poll() is None:
            served.stop()


@pytest.fixture
def serve_here(start_served):
    """Start a program for one test; the test fails on exceptions that the program only printed."""
    started = []

    def start(command):
        started.append(start_served(command))
        return started[-1]

    yield start
    troubles = []
    for served in started:
        served.stop()
        troubles += served.unexpected()
    if troubles:
        pytest.fail("the served program printed exceptions:\n" + "\n".join(troubles), pytrace=False)


@pytest.fixture(scope="module")
def module_served(start_served, request):
    """One program for a module: the command stands in the module as ``COMMAND``."""
    served = start_served(request.module.COMMAND)
    yield served
    served.stop()


@pytest.fixture
def served(module_served):
    """The module's program; the test fails on exceptions printed while it ran."""
    before = len(module_served.lines)
    yield module_served
    time.sleep(0.05)  # the last lines come through a pipe
    shown = Served.__new__(Served)
    shown.lines, shown._allowed = module_served.lines[before:], module_served._allowed
    troubles = shown.unexpected()
    module_served._allowed = []
    if troubles:
        pytest.fail("the served program printed exceptions:\n" + "\n".join(troubles), pytrace=False)


@pytest.fixture
def in_thread():
    """Run a coroutine in a loop of its own in a thread, and return what it returns."""

    def run(coroutine):
        outcome = queue.SimpleQueue()

        def work():
            try:
                outcome.put((asyncio.run(coroutine), None))
            except BaseException as error:
                outcome.put((None, error))

        thread = threading.Thread(target=work)
        thread.start()
        thread.join()
        result, error = outcome.get()
        if error is not None:
            raise error
        return result

    return run


@pytest.fixture
def python():
    """The interpreter for commands."""
    return sys.executable
