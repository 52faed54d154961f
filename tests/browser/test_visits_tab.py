"""Visits and their difference, and the diagnosis, in real Chromium."""

import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
BED = ROOT / "examples" / "press_bed"
START = "import sys; from viewer.commands.main import run; sys.argv[0] = 'datumray'; run()"
READINGS = [BED / "readings" / f"{name}.csv" for name in ("as_found", "as_left")]
COMMAND = [sys.executable, "-c", START, "view", "--no-browser", BED / "layout.yaml", *READINGS]
LONG = 45_000


def test_what_changed_and_what_stands_out(page, watch, served):
    watch.allow("GPU stall due to ReadPixels")
    page.goto(served.link)
    page.locator("[data-test=tab-visits]").click(timeout=LONG)
    page.get_by_text("It changed its shape", exact=True).wait_for(timeout=LONG)
    page.locator("[data-test=change-A7]").click()
    page.locator("[data-test=change-card]").get_by_text("Station A7").wait_for(timeout=LONG)
    page.locator("[data-test=tab-diagnosis]").click()
    page.get_by_text("Nothing stands out", exact=True).wait_for(timeout=LONG)
    page.locator("[data-test=closure-0]").click()
    page.locator("[data-test=diagnosis-card]").wait_for(timeout=LONG)
