"""Moves in real Chromium: sliders, the optimum one click away, and how soon the picture follows."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).parent
BED = HERE.parent.parent / "examples" / "press_bed"
START = "import sys; from viewer.commands.main import run; sys.argv[0] = 'datumray'; run()"
COMMAND = [sys.executable, "-c", START, "view", "--no-browser", BED / "layout.yaml", BED / "readings" / "as_found.csv"]
SLIDES = 9
MOST_TIMES = 2.0
"""The picture may follow a slider of a foot this many times later than that of the exaggeration."""

MOST_SECONDS = 1.0
"""On a machine with other work; quiet, it is a fifth of that."""

PICTURE_AFTER = """([name, value]) => new Promise((done, fail) => {
    const picture = document.querySelector('[data-test=canvas] img');
    const slider = document.querySelector(`[data-test="${name}"]`);
    const late = setTimeout(() => fail(new Error('no other picture')), 10000);
    const start = performance.now();
    const watch = new MutationObserver(() => {
        watch.disconnect(); clearTimeout(late); done(performance.now() - start);
    });
    watch.observe(picture, {attributes: true, attributeFilter: ['src']});
    slider.value = value; slider.dispatchEvent(new Event('input'));
})"""


@pytest.fixture(scope="module")
def viewer_pages():
    spec = importlib.util.spec_from_file_location("browser_viewer_pages", HERE / "viewer_pages.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def seconds(viewer, name, values):
    """Median time from a slider to another picture."""
    found = []
    for value in values:
        found.append(1e-3 * viewer.page.evaluate(PICTURE_AFTER, [name, value]))
        viewer.page.wait_for_timeout(400)
    return float(np.median(found))


def test_sliders_the_optimum_and_how_soon_the_picture_follows(page, watch, served, viewer_pages):
    watch.allow("GPU stall due to ReadPixels")  # Chromium's own word on software drawing
    page.set_viewport_size({"width": 1280, "height": 800})
    viewer = viewer_pages.ViewerPage(page, served.link)
    viewer.enter().tab("moves")
    viewer.wait_for_words("forecast-word", "Should conform")
    best, picture = viewer.words("value-after"), viewer.rest()

    viewer.named("moves-found").click()
    viewer.wait_for_words("forecast-word", "Would not conform")
    assert viewer.words("value-after") == viewer.words("value-before")
    picture = viewer.wait_for_other_picture(picture)

    viewer.slide("move-3", 6)
    page.wait_for_function("document.querySelector('[data-test=moves-found]').ariaPressed === 'false'")
    viewer.wait_for_other_picture(picture)
    viewer.named("move-2-number").fill("53")
    viewer.named("move-2-number").press("Enter")
    page.wait_for_function("document.querySelector('[data-test=move-2-number]').value === '50'")  # as stock allows
    viewer.named("moves-optimum").click()
    viewer.wait_for_words("forecast-word", "Should conform")
    assert viewer.words("value-after") == best
    assert "lock it out" in viewer.words("moves-steps")

    zoom = seconds(viewer, "moves_zoom", [2.6 + 0.1 * k for k in range(SLIDES)])
    moved = seconds(viewer, "move-0", [1 + k for k in range(SLIDES)])
    print(f"\nslider to another picture, median of {SLIDES}: foot {moved:.3f} s, exaggeration {zoom:.3f} s")
    assert moved < MOST_TIMES * zoom + 0.05
    assert moved < MOST_SECONDS
