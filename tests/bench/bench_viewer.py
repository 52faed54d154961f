"""Times of the viewer in real Chromium, beside the goals; run it alone on a quiet machine.

    python tests/bench/bench_viewer.py

The page is the example's, with a picture of 960 x 690 pixels and about 10 000 cells. "Changed picture" is the time from
the input event in the page until another image has been decoded there.
"""

from __future__ import annotations

import re
import shutil
import signal
import statistics
import subprocess
import sys
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parent.parent.parent
BED = ROOT / "examples" / "press_bed"
READINGS = [str(BED / "readings" / f"{name}.csv") for name in ("as_found", "as_left")]
START = "import sys; from viewer.commands.main import run; sys.argv[0] = 'datumray'; run()"
FLAGS = ["--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-first-run",
         "--disable-quic", "--no-sandbox"]  # fmt: skip
GOALS = {
    "first picture": 1.5, "slider to changed picture": 0.15, "click on a station to its card": 0.2,
    "visit to changed verdict": 0.2, "lesson slider to changed numbers": 0.15,
}  # fmt: skip
ORBIT_GOAL = 12.0
ROUNDS = 12

PICTURE_IS_THERE = """() => [...document.images].some(image => image.complete && image.naturalWidth > 16)"""

# Resolves with the milliseconds from the input event until the next image has been decoded.
SLIDE = """([name, value]) => new Promise(done => {
    const image = document.querySelector(".dr-canvas img");
    const slider = document.querySelector(`[data-test=${name}]`);
    image.addEventListener("load", () => image.decode().then(() => done(performance.now() - began)), {once: true});
    slider.value = value;
    const began = performance.now();
    slider.dispatchEvent(new Event("input"));
})"""

# Resolves with the milliseconds from a call until the text of an element has become another one.
TEXT = """([watched, name, event, value]) => new Promise(done => {
    const panel = document.querySelector(".dr-panel");
    const read = () => document.querySelector(`[data-test=${watched}]`)?.innerText ?? "";
    const before = read();
    const look = new MutationObserver(() => {
        if (read() !== before) { look.disconnect(); done(performance.now() - began); }
    });
    look.observe(panel, {subtree: true, childList: true, characterData: true});
    const element = document.querySelector(`[data-test="${name}"]`);
    const began = performance.now();
    if (value !== null) element.value = value;
    element.dispatchEvent(new Event(event, {bubbles: true}));
})"""

COUNT = """() => {
    window.pictures = 0;
    document.querySelector(".dr-canvas img").addEventListener("load", () => { window.pictures += 1; });
}"""


def told(name: str, seconds: list[float]) -> None:
    """Print median and slowest of some times beside the goal."""
    middle, goal = statistics.median(seconds), GOALS[name]
    word = "ok" if middle <= goal else "MISSED"
    print(f"{name:36s} {middle:6.3f} s  (slowest {max(seconds):.3f})  goal {goal:.2f} s  {word}")


def first_pictures(browser: object, link: str) -> list[float]:
    """Seconds from opening a page to its first picture; each in a new context."""
    times = []
    for _ in range(4):
        context = browser.new_context(viewport={"width": 1366, "height": 768})  # type: ignore[attr-defined]
        page = context.new_page()
        began = time.monotonic()
        page.goto(link)
        page.wait_for_function(PICTURE_IS_THERE, timeout=30_000)
        times.append(time.monotonic() - began)
        time.sleep(3.0)  # the next spare process gets ready
        context.close()
    return times


def orbit(page: object) -> float:
    """Pictures per second while the view is turned."""
    page.evaluate(COUNT)  # type: ignore[attr-defined]
    mouse = page.mouse  # type: ignore[attr-defined]
    mouse.move(480, 300)
    mouse.down()
    began = time.monotonic()
    step = 0
    while time.monotonic() - began < 3.0:
        step += 1
        mouse.move(480 + 150 * ((step % 120) / 60 - 1), 300 + step % 40)
        time.sleep(0.015)
    lasted = time.monotonic() - began
    mouse.up()
    return float(page.evaluate("window.pictures")) / lasted  # type: ignore[attr-defined]


def measure(link: str) -> None:
    """Open the viewer and print all times."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        told("first picture", first_pictures(browser, link))
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        page.goto(link)
        page.wait_for_function(PICTURE_IS_THERE, timeout=30_000)
        time.sleep(2.0)
        slides = []
        for number in range(ROUNDS):
            slides.append(1e-3 * page.evaluate(SLIDE, ["zoom", 3.2 + 0.03 * number]))
            time.sleep(0.5)
        told("slider to changed picture", slides)
        cards, visits = [], []
        for number in range(ROUNDS):
            station = f"station-{'ABCDE'[number % 5]}{1 + number % 7}"
            cards.append(1e-3 * page.evaluate(TEXT, ["card", station, "click", None]))
            time.sleep(0.4)
        told("click on a station to its card", cards)
        for number in range(ROUNDS):
            visit = "visit-as left" if number % 2 == 0 else "visit-as found"
            visits.append(1e-3 * page.evaluate(TEXT, ["verdict", visit, "click", None]))
            time.sleep(0.4)
        told("visit to changed verdict", visits)
        rate = orbit(page)
        word = "ok" if rate >= ORBIT_GOAL else "MISSED"
        print(f"{'orbit':36s} {rate:6.1f} pictures/s  goal {ORBIT_GOAL:.0f}  {word}")
        page.click('[data-test="tab-lesson"]')
        time.sleep(2.0)
        lessons = []
        for number in range(ROUNDS):
            lessons.append(1e-3 * page.evaluate(TEXT, ["lesson-readings", "cone", "input", 2.0 + number]))
            time.sleep(0.4)
        told("lesson slider to changed numbers", lessons)
        browser.close()


def main() -> None:
    """Start the viewer as a user does, measure, and end it."""
    command = [sys.executable, "-c", START, "view", "--no-browser", str(BED / "layout.yaml"), *READINGS]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as program:
        assert program.stdout is not None
        link = next(found[0] for line in program.stdout if (found := re.search(r"http://127\S+\?key=\S+", line)))
        time.sleep(6.0)  # the spare process gets ready
        try:
            measure(link)
        finally:
            program.send_signal(signal.SIGINT)


if __name__ == "__main__":
    main()
