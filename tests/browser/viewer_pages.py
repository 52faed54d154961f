"""Page object of the viewer: what a person sees and does there."""

import io

import numpy as np
from PIL import Image

STEP_MS = 15_000
FIRST_PICTURE_MS = 30_000


class ViewerPage:
    """The viewer in one browser page."""

    def __init__(self, page, link):
        self.page = page
        self.link = link

    def enter(self):
        self.page.goto(self.link)
        return self.wait_for_picture()

    def reload(self):
        self.page.reload()
        return self.wait_for_picture()

    def wait_for_picture(self):
        """Wait for a picture of the size at which it is shown."""
        self.page.wait_for_function(
            """() => [...document.images].some(image => image.complete && image.naturalWidth > 16
                && Math.abs(image.naturalWidth - image.getBoundingClientRect().width) < 2)""",
            timeout=FIRST_PICTURE_MS,
        )
        return self

    def named(self, name):
        return self.page.locator(f'[data-test="{name}"]')

    def tab(self, name):
        self.named(f"tab-{name}").click()
        self.named(f"panel-{name}").wait_for(timeout=STEP_MS)
        return self

    def wait_for_words(self, name, words):
        self.page.locator(f'[data-test="{name}"]', has_text=words).first.wait_for(timeout=STEP_MS)

    def words(self, name):
        return self.named(name).first.inner_text()

    def slide(self, name, value):
        """Put a slider to a value, as dragging does."""
        self.named(name).evaluate(
            "(slider, value) => { slider.value = value; slider.dispatchEvent(new Event('input')); }", value
        )

    # --- the picture

    @property
    def box(self):
        return self.named("canvas").bounding_box()

    def pixels(self):
        """The picture alone, without what stands on it."""
        hide = self.page.add_style_tag(content=".dr-float { visibility: hidden !important; }")
        shot = self.named("canvas").screenshot()
        hide.evaluate("element => element.remove()")
        return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"), dtype=int)

    def wait_for_other_picture(self, before, share=0.002):
        """Wait until at least a share of the pixels has another colour, and the picture has come to rest."""
        last = None
        for _ in range(100):
            now = self.pixels()
            changed = now.shape != before.shape or np.mean(np.abs(now - before).max(axis=2) > 24) > share
            if changed and last is not None and last.shape == now.shape and np.abs(now - last).max() < 12:
                return now
            last = now
            self.page.wait_for_timeout(100)
        raise AssertionError("the picture did not change")

    def rest(self):
        """Wait until the picture has come to rest; return it."""
        last = self.pixels()
        for _ in range(60):
            self.page.wait_for_timeout(150)
            now = self.pixels()
            if now.shape == last.shape and np.abs(now - last).max() < 12:
                return now
            last = now
        return last

    def click_at(self, x, y):
        """Click in the picture, in shares of its width and height."""
        box = self.box
        self.page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])

    def drag(self, x, y, by_x, by_y):
        box = self.box
        start = box["x"] + x * box["width"], box["y"] + y * box["height"]
        self.page.mouse.move(*start)
        self.page.mouse.down()
        for step in range(1, 9):
            self.page.mouse.move(start[0] + by_x * step / 8, start[1] + by_y * step / 8)
            self.page.wait_for_timeout(20)
        self.page.mouse.up()

    # --- the page as a whole

    @property
    def theme(self):
        return self.page.evaluate("document.documentElement.dataset.theme")

    def sticks_out(self):
        """Names of elements that reach beyond the page or, in the panel, beyond its width."""
        return self.page.evaluate(
            """() => {
                const bad = [];
                if (document.documentElement.scrollWidth > innerWidth) bad.push("page");
                if (document.documentElement.scrollHeight > innerHeight + 1) bad.push("page, downward");
                const panel = document.querySelector(".dr-panel").getBoundingClientRect();
                for (const each of document.querySelectorAll(".dr-panel *")) {
                    const box = each.getBoundingClientRect();
                    if (box.width && box.right > panel.right + 1 && !each.closest(".dr-scroll"))
                        bad.push(each.className);
                }
                for (const each of document.querySelectorAll(".dr-scroll")) {
                    if (each.scrollWidth > each.clientWidth + 1) bad.push("table " + each.getAttribute("aria-label"));
                }
                return bad;
            }"""
        )

    def small_targets(self):
        """Things to touch that are lower or narrower than 40 pixels."""
        return self.page.evaluate(
            """() => [...document.querySelectorAll(
                    ".dr-page button, .dr-page select, .dr-page summary, .dr-page .dr-switch, .dr-page tr[tabindex]")]
                .map(each => [each, each.getBoundingClientRect()])
                .filter(([, box]) => box.width && (box.height < 39.5 || box.width < 39.5))
                .map(([each, box]) => `${each.tagName} ${each.textContent.trim()} ${box.width}x${box.height}`)"""
        )
