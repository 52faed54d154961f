"""The served page in a real browser: entry, picture, slider, tabs, reload, ends and errors."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import aiohttp
import msgpack
import pytest
from wslink.chunking import UnChunker, generate_chunks

DEMO = Path(__file__).with_name("demo.py")
COMMAND = [sys.executable, DEMO]
LINUX = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads the list of processes of Linux")
POSIX = pytest.mark.skipif(os.name != "posix", reason="sends signals as POSIX systems do")
MEGABYTE = 1024 * 1024


@pytest.fixture
def demo(page, pages, served):
    return pages.DemoPage(page, served.link)


@pytest.fixture
def one_more(new_context, pages):
    """Open the served program in a further browser, as another person would."""

    def open_page(served):
        return pages.DemoPage(new_context().page, served.link)

    return open_page


def wait_until(condition, seconds=10.0):
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "the expected state did not come"
        time.sleep(0.05)


# --- the way in


def test_the_first_picture_comes_and_the_key_leaves_the_address(demo, visitor, served):
    demo.enter()
    assert demo.blue_pixels() > 1000
    assert demo.page.url == served.address
    assert demo.page.title() == "Sphere"
    (cookie,) = visitor.context.cookies()
    assert cookie["name"] == f"datumray_{served.port}"
    assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")
    assert demo.page.evaluate("document.cookie") == ""
    assert len(visitor.watch.requests) > 8
    assert any(url.startswith(f"ws://127.0.0.1:{served.port}/ws/") for url in visitor.watch.requests)


def test_the_page_with_the_key_is_left_only_when_it_has_come_whole(demo, visitor):
    """Left earlier, its request breaks off, and the browser tells of a failed page."""
    visitor.page.add_init_script(
        """addEventListener("load", () => sessionStorage.setItem("came", location.search.slice(0, 5)), {once: true});
        addEventListener("pagehide", () => sessionStorage.setItem("left", sessionStorage.getItem("came")))"""
    )
    demo.enter()
    assert demo.page.evaluate("sessionStorage.getItem('left')") == "?key="


def test_reload_works_without_the_key(demo, served):
    demo.enter()
    for _ in range(2):
        demo.reload()
        assert demo.blue_pixels() > 1000
        assert demo.page.url == served.address
    assert demo.notice.is_hidden()


def test_the_way_back_does_not_lead_to_the_key(demo, served):
    demo.page.goto("about:blank")
    demo.enter()
    demo.page.go_back()
    assert served.link not in demo.page.url
    demo.page.go_forward()
    demo.wait_for_picture()


def test_a_link_on_a_foreign_page_works(demo, served):
    # The browser holds strict cookies back along a chain that began elsewhere, so this is a way of its own.
    demo.page.set_content(f'<a href="{served.link}">open</a>')
    demo.page.click("a")
    demo.wait_for_picture()
    demo.reload()
    assert demo.page.url == served.address


@pytest.mark.parametrize("path", ["", "?key=wrong"])
def test_without_the_key_a_short_page_says_what_to_do(page, watch, served, path):
    watch.allow("403")
    answer = page.goto(served.address + path)
    assert answer.status == 403
    assert page.inner_text("body").strip() == (
        "This page needs a key. Open the link that the program printed in the terminal."
    )


def test_a_cookie_without_the_pass_is_told_to_use_the_link(demo):
    demo.enter()
    demo.page.evaluate("localStorage.clear()")
    demo.page.reload()
    assert "Open the link" in demo.wait_for_notice("needs a key")
    demo.enter()


# --- the picture and the tabs


def test_the_slider_changes_the_picture(demo):
    before = demo.enter().blue_pixels()
    demo.set_size(5)
    demo.wait_for_size(1.5)
    demo.wait_for_blue(lambda count: count > 1.8 * before)
    demo.set_size(-10)
    demo.wait_for_size(0.5)
    demo.wait_for_blue(lambda count: count < 0.5 * before)


def test_two_tabs_are_independent(demo, visitor, pages, served):
    before = demo.enter().blue_pixels()
    second = pages.DemoPage(visitor.context.new_page(), served.link)
    second.page.goto(served.address)  # the cookie and the pass are those of the first tab
    second.wait_for_picture()
    second.page.set_viewport_size({"width": 700, "height": 700})
    second.set_size(8)
    second.wait_for_size(1.8)
    second.wait_for_blue(lambda count: count > 2.0 * before)
    demo.page.bring_to_front()
    assert demo.size == 1.0
    assert demo.blue_pixels() == pytest.approx(before, rel=0.05)
    second.page.close()
    demo.set_size(2)
    demo.wait_for_size(1.2)
    demo.wait_for_blue(lambda count: count > 1.2 * before)


def test_long_work_of_one_visitor_does_not_hold_up_another(demo, one_more, served):
    before = demo.enter().blue_pixels()
    other = one_more(served).enter()
    other.by_name("work").click()  # three seconds, in a reaction, without giving way
    started = time.monotonic()
    demo.set_size(5)
    demo.wait_for_size(1.5)
    demo.wait_for_blue(lambda count: count > 1.8 * before)
    assert time.monotonic() - started < 2.5
    assert other.by_name("answer").inner_text() == ""
    other.page.locator('[data-test="answer"]', has_text="worked").wait_for(timeout=10_000)


# --- ways in that are closed


def test_a_foreign_page_in_the_same_browser_reaches_nothing(demo, visitor, served):
    demo.enter()
    visitor.watch.allow("403|ERR_|Cross-Origin|CORS|WebSocket|Failed to load|favicon|csp|frame-ancestors|refused")
    foreign = visitor.context.new_page()
    foreign.goto("about:blank")
    outcome = foreign.evaluate(
        """async address => {
            const read = await fetch(address + "vue.global.js").then(a => "read " + a.status, e => "refused");
            const posted = await fetch(address + "session", {method: "POST", mode: "no-cors", credentials: "include"})
                .then(a => a.type, e => "refused");
            const socket = await new Promise(done => {
                const ws = new WebSocket(address.replace("http", "ws") + "ws/" + "0".repeat(64));
                ws.onopen = () => done("open"); ws.onerror = () => done("refused");
            });
            const frame = document.createElement("iframe");
            frame.src = address;
            await new Promise(done => { frame.onload = done; document.body.append(frame); });
            let inside = "unreadable";
            try { inside = frame.contentDocument === null ? "unreadable" : frame.contentDocument.body.innerText; }
            catch { }
            return {read, posted, socket, inside};
        }""",
        served.address,
    )
    assert outcome["read"] == "refused"
    assert outcome["posted"] in ("refused", "opaque")  # a page may send, but it learns nothing
    assert outcome["socket"] == "refused"
    assert outcome["inside"] == "unreadable"


def test_the_real_server_refuses_what_is_not_its_page(served, in_thread):
    async def attack():
        async with aiohttp.ClientSession(cookie_jar=aiohttp.DummyCookieJar()) as session:
            async with session.get(served.link) as entry:
                cookie = entry.headers["Set-Cookie"].partition(";")[0]
                page_pass = re.search('data-pass="([^"]+)"', await entry.text())[1]
            own = {"Cookie": cookie, "Origin": served.address.rstrip("/")}

            async def ticket(**changed):
                url = f"{served.address}session?pass={page_pass}"
                async with session.post(url, headers={**own, **changed}) as answer:
                    return answer.status, await answer.text()

            assert (await ticket())[0] == 200
            assert (await ticket(Origin="http://example.org"))[0] == 403
            assert (await ticket(Host=f"example.org:{served.port}"))[0] == 403
            assert (await ticket(Cookie="a=b"))[0] == 403
            _, text = await ticket()
            path = re.search(r"ws/[0-9a-f]+", text)[0]
            for changed in ({"Origin": "http://example.org"}, {"Cookie": "a=b"}, {"Host": "example.org"}):
                with pytest.raises(aiohttp.WSServerHandshakeError, match="403"):
                    await session.ws_connect(served.address + path, headers={**own, **changed})
            async with session.ws_connect(served.address + path, headers=own) as ws:
                # A web socket that is let in still has to say the secret of its view.
                async def call(method, args):
                    message = {"wslink": "1.0", "id": "system:c0:0" if "hello" in method else "rpc:c0:1"}
                    packed = msgpack.packb({**message, "method": method, "args": args, "kwargs": {}})
                    for chunk in generate_chunks(packed, 4_000_000):
                        await ws.send_bytes(chunk)
                    answer = None
                    unchunker = UnChunker()
                    while answer is None:
                        answer = unchunker.process_chunk((await ws.receive(timeout=20)).data)
                    return answer

                for secret in ("wslink-secret", "", None, 5, page_pass):
                    assert "Authentication failed" in str(await call("wslink.hello", [{"secret": secret}]))
                assert "Unauthorized" in str(await call("trame.state.get", []))
        return True

    assert in_thread(attack())


@LINUX
def test_only_this_machine_can_connect(served):
    listening = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    own = [row[1] for row in listening if row[3] == "0A" and int(row[1].split(":")[1], 16) == served.port]
    assert own == [f"0100007F:{served.port:04X}"]


# --- errors


def test_error_answers_to_the_page_hold_nothing_of_the_inside(demo, watch, served):
    watch.allow("console error")  # the page's client writes the short answer to its console
    served.allow("JS Error")  # and tells the server so
    received = []
    demo.page.on("websocket", lambda ws: ws.on("framereceived", lambda frame: received.append(frame)))
    demo.enter()
    served.allow("the inside of the program")
    served.allow("Exception raised")
    served.allow("ValueError")
    demo.by_name("fail").click()
    served.wait_for_output("ValueError: the inside of the program")
    wait_until(lambda: demo.page.evaluate("1") and any(b"Exception raised" in bytes(frame) for frame in received))
    everything = b"".join(bytes(frame) for frame in received)
    assert b"Traceback" not in everything
    assert b"the inside" not in everything
    assert b"demo.py" not in everything
    demo.set_size(1)  # the view goes on
    demo.wait_for_size(1.1)


def test_an_exception_that_is_only_logged_is_noticed(demo, served):
    demo.enter()
    demo.by_name("fail-reaction").click()
    served.wait_for_output("a sphere of negative size")
    time.sleep(0.2)
    assert served.unexpected()
    served.allow("a sphere of negative size")
    served.allow("ERROR|Exception")
    demo.set_size(3)
    demo.wait_for_blue(lambda count: count > 0)


def test_an_app_that_cannot_be_made_is_explained_on_the_page(page, pages, watch, serve_here, python, tmp_path):
    watch.allow("console|page error: Object")
    told = tmp_path / "told"
    told.write_text("geometry")
    served = serve_here([python, DEMO, "--refuse", told])
    served.allow("three datum points|could not be opened|the inside of the program")
    page.goto(served.link)
    shell = pages.ShellPage(page, served.link)
    assert shell.wait_for_notice("datum") == "The three datum points lie on one line."
    told.write_text("mistake")
    shell.reload_button.click()
    assert "terminal shows the reason" in shell.wait_for_notice("could not be opened")
    served.wait_for_output("the inside of the program")
    page.goto("about:blank")


# --- ends


@LINUX
def test_a_view_that_breaks_off_can_be_opened_again(demo, watch, served):
    watch.allow("console|page error: Object")
    wait_until(lambda: len(served.visits()) == 1)
    (spare,) = served.visits()
    demo.enter()
    os.kill(spare, signal.SIGKILL)
    demo.wait_for_notice("ended unexpectedly")
    demo.reload_button.click()
    demo.page.locator(".v-slider-thumb").wait_for()
    demo.wait_for_picture()
    assert demo.notice.is_hidden()


@LINUX
def test_visits_leave_nothing_behind(new_context, pages, served):
    sizes = []
    for _ in range(3):
        closed = served.output.count("demo closed")
        opened = new_context()
        pages.DemoPage(opened.page, served.link).enter()
        opened.page.close()
        wait_until(lambda before=closed: served.output.count("demo closed") > before)
        wait_until(lambda: len(served.visits()) == 1)  # the spare
        sizes.append(served.memory())
    # One visit needs 50 MB and more; the server keeps none of it.
    assert sizes[-1] - sizes[0] < 3 * MEGABYTE
    assert served.process.poll() is None  # it goes on after the last page has closed


def test_after_a_restart_the_page_explains_itself(page, pages, watch, serve_here, python):
    watch.allow("console|ERR_|403|page error: Object")
    first = serve_here([python, DEMO])
    demo = pages.DemoPage(page, first.link).enter()
    assert first.stop() == 0
    demo.wait_for_notice("program has ended")
    demo.reload_button.click()
    demo.wait_for_notice("does not answer")
    second = serve_here([python, DEMO, "--port", first.port])
    assert second.address == first.address
    assert second.link != first.link
    demo.reload_button.click()
    demo.wait_for_notice("Open the new link")
    assert demo.reload_button.is_hidden()
    pages.DemoPage(page, second.link).enter()
    assert demo.notice.is_hidden()


@POSIX
@pytest.mark.parametrize("how", ["SIGTERM", "ctrl-c at work"])
def test_the_program_ends_cleanly(page, pages, watch, serve_here, python, how):
    watch.allow("console")
    served = serve_here([python, DEMO])
    demo = pages.DemoPage(page, served.link).enter()
    if how == "ctrl-c at work":
        demo.by_name("work").click()
    began = time.monotonic()
    assert served.stop(signal.SIGTERM if how == "SIGTERM" else None) == 0
    assert time.monotonic() - began < 6
    assert served.output.rstrip().endswith("Ended.")
    assert "Traceback" not in served.output
    if sys.platform.startswith("linux"):
        wait_until(lambda: served.visits() == [], 5)


@LINUX
def test_visits_end_when_the_program_is_killed(page, pages, watch, serve_here, python):
    watch.allow("console")
    served = serve_here([python, DEMO])
    demo = pages.DemoPage(page, served.link).enter()
    demo.by_name("work").click()
    served.process.kill()
    wait_until(lambda: served.visits() == [], 5)
    demo.wait_for_notice("closed")


def test_a_port_that_is_taken_is_explained(python):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = subprocess.run(
            [python, DEMO, "--port", str(port)], capture_output=True, text=True, timeout=60, check=False
        )
    assert done.returncode == 1
    assert f"port {port} is taken" in done.stderr
    assert "Choose another port" in done.stderr
    assert "Traceback" not in done.stderr


@POSIX
def test_the_browser_gets_a_key_that_works_once_and_an_early_end_is_clean(serve_here, python, tmp_path, monkeypatch):
    script = tmp_path / "browser"
    script.write_text(f'#!/bin/sh\necho "$1" > {tmp_path}/part\nmv {tmp_path}/part {tmp_path}/opened\n')
    script.chmod(0o755)
    monkeypatch.setenv("BROWSER", str(script))
    served = serve_here([python, DEMO, "--browser"])
    wait_until((tmp_path / "opened").exists)
    opened = (tmp_path / "opened").read_text().strip()
    assert opened != served.link
    assert opened.startswith(served.address)
    assert [status_of(link) for link in (opened, opened, served.link, served.link)] == [200, 403, 200, 200]
    assert served.stop() == 0  # no page was ever open, and the spare is still being made
    assert "Traceback" not in served.output
    if sys.platform.startswith("linux"):
        wait_until(lambda: served.visits() == [], 5)


def status_of(link):
    try:
        with urllib.request.urlopen(link, timeout=10) as answer:
            return answer.status
    except urllib.error.HTTPError as error:
        error.close()
        return error.code
