"""Page objects: what a person sees and does, in one place, so that tests do not speak in selectors."""

import io
import re

import numpy as np
from PIL import Image

FIRST_PICTURE_MS = 15_000  # a loaded machine; how fast it is, the benchmarks tell
STEP_MS = 10_000


class ShellPage:
    """What every page of the viewer has, whatever app it shows."""

    def __init__(self, page, link):
        self.page = page
        self.link = link

    @property
    def address(self):
        return self.link.split("?")[0]

    def enter(self):
        self.page.goto(self.link)
        return self.wait_for_picture()

    def wait_for_picture(self):
        self.page.wait_for_function(
            "() => [...document.images].some(image => image.complete && image.naturalWidth > 16)",
            timeout=FIRST_PICTURE_MS,
        )
        return self

    def reload(self):
        self.page.reload()
        return self.wait_for_picture()

    @property
    def notice(self):
        return self.page.locator("#shell-notice p")

    @property
    def reload_button(self):
        return self.page.locator("#shell-notice button")

    def wait_for_notice(self, text):
        self.page.locator("#shell-notice p", has_text=re.compile(text)).wait_for(timeout=STEP_MS)
        return self.notice.inner_text()


class DemoPage(ShellPage):
    """The page of the demonstration app."""

    def wait_for_picture(self):
        """Wait for a picture of the size at which it is shown; the very first one may still be stretched."""
        self.page.wait_for_function(
            """() => [...document.images].some(image => image.complete && image.naturalWidth > 16
                && Math.abs(image.naturalWidth - image.getBoundingClientRect().width) < 2)""",
            timeout=FIRST_PICTURE_MS,
        )
        return self

    def by_name(self, name):
        return self.page.locator(f'[data-test="{name}"]')

    def set_size(self, presses):
        """Move the slider by so many key presses (0.1 each); negative to the left."""
        thumb = self.page.locator(".v-slider-thumb")
        thumb.focus()
        for _ in range(abs(presses)):
            thumb.press("ArrowRight" if presses > 0 else "ArrowLeft")

    @property
    def size(self):
        return float(self.by_name("size-text").inner_text())

    def wait_for_size(self, size):
        self.page.wait_for_function(
            """size => Math.abs(document.querySelector('[data-test="size-text"]').innerText - size) < 0.01""",
            arg=size,
            timeout=STEP_MS,
        )

    def blue_pixels(self):
        """How many pixels of the picture are blue, thus belong to the sphere."""
        shot = Image.open(io.BytesIO(self.page.locator("img").first.screenshot())).convert("RGB")
        red, _green, blue = np.moveaxis(np.asarray(shot, dtype=int), -1, 0)
        return int(np.count_nonzero(blue > red + 40))

    def wait_for_blue(self, condition):
        """Wait until the number of blue pixels fulfils ``condition``; return it."""
        for _ in range(100):
            count = self.blue_pixels()
            if condition(count):
                return count
            self.page.wait_for_timeout(100)
        raise AssertionError(f"the picture did not change as expected: {count} blue pixels")
