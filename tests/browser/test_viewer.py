"""The viewer in real Chromium: what its three people see and do."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
BED = ROOT / "examples" / "press_bed"
START = "import sys; from viewer.commands.main import run; sys.argv[0] = 'datumray'; run()"
READINGS = [BED / "readings" / "as_found.csv", BED / "readings" / "as_left.csv"]


def command(layout, *readings):
    return [sys.executable, "-c", START, "view", "--no-browser", layout, *readings]


COMMAND = command(BED / "layout.yaml", *READINGS)
LAPTOP, TABLET, UPRIGHT = (1366, 768), (1024, 768), (768, 1024)


@pytest.fixture(scope="module")
def viewer_pages():
    spec = importlib.util.spec_from_file_location("browser_viewer_pages", HERE / "viewer_pages.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def viewer(page, watch, served, viewer_pages):
    watch.allow("GPU stall due to ReadPixels")  # Chromium's own word on software drawing
    page.set_viewport_size(dict(zip(("width", "height"), LAPTOP, strict=True)))
    opened = viewer_pages.ViewerPage(page, served.link)
    yield opened
    assert opened.named("notice").count() == 0 or not opened.named("notice").is_visible()


# --- customer


def test_the_customer_sees_the_verdict_and_the_bed(viewer):
    viewer.enter()
    assert "Does not conform" in viewer.words("verdict")
    assert "■" in viewer.words("verdict")
    picture = viewer.rest()
    assert len(np.unique(picture.reshape(-1, 3), axis=0)) > 500
    red, _, blue = picture.reshape(-1, 3).T
    assert np.count_nonzero(red > blue + 60) > 3000  # high
    assert np.count_nonzero(blue > red + 40) > 500  # low
    assert "standing bar = 50 µm" in viewer.words("legend")
    assert viewer.words("factor").replace("\u202f", "") == "heights × 2000"

    before = picture
    viewer.named("rule-simple-acceptance").click()
    viewer.wait_for_words("verdict", "the value alone counts")
    viewer.named("visit-as left").click()
    viewer.wait_for_words("verdict", "Conforms")
    viewer.named("rule-guard-band").click()
    viewer.wait_for_words("verdict", "ISO 14253-1: must keep the limit by")
    after = viewer.wait_for_other_picture(before)
    viewer.named("visit-difference").click()
    viewer.wait_for_words("verdict", "as left less as found")
    viewer.wait_for_other_picture(after)


def test_exaggeration_reference_and_prediction(viewer):
    before = viewer.enter().rest()
    viewer.slide("zoom", 3.7)
    viewer.page.wait_for_function("document.querySelector('[data-test=factor]').innerText.includes('5\u202f000')")
    before = viewer.wait_for_other_picture(before)
    viewer.named("reference-least squares").click()
    viewer.page.locator('[data-test="reference-least squares"][aria-checked="true"]').wait_for(timeout=15_000)
    before = viewer.wait_for_other_picture(before)
    viewer.named("predicted").check()
    viewer.wait_for_words("verdict", "Predicted, not measured")
    viewer.wait_for_other_picture(before)


def test_a_station_from_the_table_and_from_the_picture(viewer):
    before = viewer.enter().rest()
    viewer.named("station-B3").click()
    viewer.wait_for_words("card", "Station B3")
    viewer.wait_for_other_picture(before, 0.0005)
    row = viewer.named("station-C1")
    row.focus()
    row.press("Enter")
    viewer.wait_for_words("card", "Station C1")
    viewer.click_at(0.5, 0.42)
    viewer.page.wait_for_function("!document.querySelector('[data-test=card]').innerText.includes('Station C1')")
    chosen = viewer.words("card")
    turned = viewer.rest()
    viewer.drag(0.5, 0.6, 160, 10)
    viewer.wait_for_other_picture(turned, 0.05)
    assert viewer.words("card") == chosen  # turning chooses nothing
    viewer.named("sort-deviation").click()
    first = viewer.page.locator('[data-test="stations"] tbody tr').first
    first.locator("small", has_text="high").wait_for(timeout=15_000)


def test_the_theme_is_kept(viewer):
    before = viewer.enter().rest()
    assert viewer.theme == "light"
    viewer.named("theme").click()
    dark = viewer.wait_for_other_picture(before, 0.3)
    assert viewer.theme == "dark"
    assert dark.mean() < before.mean() - 60
    viewer.reload()
    assert viewer.theme == "dark"
    panel = "getComputedStyle(document.querySelector('.dr-panel')).backgroundColor"
    viewer.page.wait_for_function(f"{panel} === 'rgb(26, 32, 34)'")
    assert viewer.wait_for_other_picture(before, 0.3).mean() < before.mean() - 60


def test_the_browser_can_draw(viewer):
    viewer.enter().rest()
    viewer.named("drawn-by").select_option("browser")
    viewer.page.wait_for_selector(".dr-canvas canvas", timeout=15_000)
    for _ in range(60):
        picture = viewer.pixels()
        red, _, blue = picture.reshape(-1, 3).T
        if np.count_nonzero(red > blue + 60) > 3000 and np.count_nonzero(blue > red + 40) > 500:
            break
        viewer.page.wait_for_timeout(250)
    else:
        pytest.fail("the picture drawn in the browser stays empty")
    viewer.click_at(0.5, 0.45)
    viewer.wait_for_words("card", "Station")
    viewer.named("visit-as left").click()
    viewer.wait_for_other_picture(picture)


@pytest.mark.parametrize("size", [LAPTOP, TABLET, UPRIGHT], ids=["laptop", "tablet", "upright"])
def test_nothing_is_cut_off(viewer, size):
    viewer.page.set_viewport_size({"width": size[0], "height": size[1]})
    viewer.enter()
    viewer.named("station-A2").click()
    viewer.wait_for_words("card", "A2")
    for tab in ("result", "plan", "lesson"):
        viewer.tab(tab)
        viewer.page.wait_for_timeout(200)
        assert viewer.sticks_out() == []
        assert viewer.small_targets() == []


def test_a_page_that_prefers_dark_opens_dark(new_context, served, viewer_pages):
    opened = new_context(color_scheme="dark")
    page = viewer_pages.ViewerPage(opened.page, served.link).enter()
    assert page.theme == "dark"


# --- trainer


def test_the_trainer_sees_what_a_plane_takes_out(viewer):
    viewer.enter().tab("lesson")
    viewer.wait_for_words("lesson-readings", "0.0 µm")
    before = viewer.rest()
    viewer.slide("tilt_x", 10)
    viewer.page.wait_for_function("parseFloat(document.querySelector('[data-test=lesson-readings]').innerText) > 50")
    assert viewer.words("lesson-left") == "0.0 µm"
    before = viewer.wait_for_other_picture(before)
    viewer.named("reset").click()
    viewer.wait_for_words("lesson-readings", "0.0 µm")
    viewer.slide("cone", 10)
    viewer.page.wait_for_function("parseFloat(document.querySelector('[data-test=lesson-left]').innerText) > 10")
    viewer.wait_for_other_picture(before)


def test_the_trainer_turns_the_prism_and_bends_the_beam(viewer):
    viewer.enter().tab("lesson")
    viewer.named("lesson-prism").click()
    viewer.wait_for_words("lesson-right-angle", "0.00 arcsec")
    before = viewer.rest()
    viewer.slide("prism_exit", 10)
    viewer.wait_for_words("lesson-right-angle", "−1.75 arcsec")  # the square of ten minutes of arc
    before = viewer.wait_for_other_picture(before, 0.0005)
    viewer.named("prism_sweeps-true").click()
    viewer.wait_for_words("about", "Clamped, the prism makes one line")
    before = viewer.wait_for_other_picture(before)
    viewer.named("lesson-air").click()
    viewer.wait_for_words("lesson-at-end", "−190.9 µm")
    viewer.named("air_zeroed-true").click()
    viewer.wait_for_words("lesson-at-end", "0.0 µm")
    viewer.wait_for_other_picture(before)


# --- engineer, and strange layouts


@pytest.fixture
def strange(serve_here, page, viewer_pages, tmp_path):
    """Open the viewer on a changed layout."""

    def opened(*changes, readings=()):
        text = (BED / "layout.yaml").read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        layout = tmp_path / "layout.yaml"
        layout.write_text(text, encoding="utf-8")
        served = serve_here(command(layout, *readings))
        page.set_viewport_size({"width": 1366, "height": 768})
        return viewer_pages.ViewerPage(page, served.link).enter()

    yield opened
    page.goto("about:blank")


def test_the_engineer_is_led_to_the_findings(strange):
    viewer = strange(("at: [0.15 m, -2.3 m, 0 m]", "at: [-2.3 m, 0.2 m, 0 m]"))
    assert viewer.named("tab-result").count() == 0
    assert "Not ready to measure" in viewer.words("verdict")
    assert "blocked" in viewer.words("readings")
    before = viewer.rest()
    viewer.named("finding-0").click()
    there = viewer.wait_for_other_picture(before, 0.1)
    viewer.named("finding-1").click()
    viewer.wait_for_other_picture(there, 0.1)
    viewer.wait_for_words("station", "No light comes here: blocked by")
    viewer.named("severity-error").click()
    assert not viewer.named("finding-0").is_visible()
    viewer.named("severity-error").click()
    viewer.named("choose-station").select_option("A1")
    viewer.page.locator('[data-test="finding-0"]', has_text="this station").wait_for(timeout=15_000)
    viewer.named("budget-station").click()
    viewer.wait_for_words("budget", "Deviation of A1")
    assert viewer.page.locator('[data-test="budget"] svg rect').count() >= 4
    assert viewer.page.locator('[data-test="face"] polygon').count() >= 1
    viewer.named("tab-plan").press("ArrowRight")
    viewer.named("panel-lesson").wait_for(timeout=15_000)


def test_a_machine_without_a_plane(serve_here, page, watch, viewer_pages):
    """A lathe: spindle and lines; every tab has something to show and nothing is cut off."""
    watch.allow("GPU stall due to ReadPixels")
    lathe = ROOT / "examples" / "lathe"
    readings = sorted((lathe / "readings").glob("*.csv"))
    if not readings:
        pytest.skip("the example has no readings")
    served = serve_here(command(lathe / "layout.yaml", *readings))
    page.set_viewport_size({"width": 1024, "height": 768})
    viewer = viewer_pages.ViewerPage(page, served.link).enter()
    assert viewer.named("components").is_visible()
    before = viewer.rest()
    viewer.page.locator('[data-test="stations"] tbody tr').nth(1).click()
    viewer.wait_for_other_picture(before, 0.0005)
    assert viewer.sticks_out() == []
    viewer.tab("plan").named("reading-0").click()
    viewer.named("face").wait_for(timeout=15_000)
    assert viewer.sticks_out() == []
    assert viewer.small_targets() == []
    viewer.tab("lesson").wait_for_words("lesson-readings", "0.0 µm")
    page.goto("about:blank")


def test_words_of_a_layout_stay_words(strange):
    names = '<img src=x onerror="document.title=1"> {{ 7*7 }}'
    viewer = strange(
        ("title: Bed of a 400 t press", f"title: '{names}'"),
        ("bed flatness:", "<img src=x onerror=alert(1)>:"),
        ("  grid: {on: bed, grid: 7 x 5, margin: 100 mm, target: t1, mount: {post: 120 mm}}",
         "  grid: {on: bed, grid: 7 x 5, margin: 100 mm, target: t1, mount: {post: 120 mm}}\n"
         "  odd: {on: bed, at: {<i>S</i>: [20 mm, 30 mm]}, target: t1, mount: {post: 120 mm}}"),
        ("reads: [grid, again", "reads: [grid, odd, again"),
    )  # fmt: skip
    assert viewer.page.locator("h1").inner_text() == names
    assert viewer.page.title() == names
    assert "<img src=x onerror=alert(1)>" in viewer.words("panel-plan")
    assert "<i>S</i>" in viewer.words("readings")
    assert viewer.page.locator("img[src=x], .dr-page b b, .dr-page td i").count() == 0
    assert "49" not in viewer.page.locator("h1").inner_text()
