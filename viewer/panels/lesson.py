"""The lesson tab: three sliders, two numbers, two charts, three sentences, three steps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from viewer.logic.lesson_view import HEIGHT, WIDTH
from viewer.panels.markup import el, say

__all__ = ["lesson_panel"]

SLIDERS = (
    ("tilt_x", "Base tilted about x"), ("tilt_y", "Base tilted about y"), ("cone", "Beam not square to the axis"),
)  # fmt: skip


def lesson_panel(server: Any, on_reset: Callable[..., Any]) -> None:
    """Put the widgets of the tab."""
    with el("template", {"v-if": "lesson"}):
        with el("section", {}):
            el("h2", {}, "Move one error at a time")
            for name, title in SLIDERS:
                _slider(name, title)
            el("button", {"type": "button", "class": "dr-plain", "@click": say(server, on_reset), "data-test": "reset"},
               "Set all to zero")  # fmt: skip
        _numbers()
        _charts()
        with el("section", {}):
            el("h2", {}, "What happens")
            el("p", {"v-for": "each in lesson.sentences", ":key": "each"}, "{{ each }}")
        with el("section", {}):
            el("h2", {}, "Try this")
            with el("ol", {"class": "dr-steps"}):
                el("li", {"v-for": "each in lesson.steps", ":key": "each"}, "{{ each }}")


def _slider(name: str, title: str) -> None:
    with el("label", {"class": "dr-error"}):
        el("span", {}, title)
        el("b", {"data-test": f"{name}-text"}, f"{{{{ Number({name}).toFixed(1).replace('-', '−') }}}} arcsec")
        el("input", {
            "type": "range", ":min": "-slider_end", ":max": "slider_end", "step": "0.5", ":value": name,
            "@input": f"{name} = Number($event.target.value)", "data-test": name,
        })  # fmt: skip


def _numbers() -> None:
    with el("section", {"class": "dr-pair"}):
        with el("div", {}):
            el("b", {"data-test": "lesson-readings"}, "{{ lesson.readings }}")
            el("span", {}, "readings differ by")
        with el("div", {}):
            el("b", {"data-test": "lesson-left"}, "{{ lesson.left }}")
            el("span", {}, "left after the plane fit")
        el("p", {}, "{{ lesson.taken }}")


def _charts() -> None:
    with el("section", {}):
        with el("figure", {"v-for": "chart in lesson.charts", ":key": "chart.name", "class": "dr-chart"}):
            el("figcaption", {}, "{{ chart.name }}")
            with el("svg", {"viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}", "preserveAspectRatio": "none", "role": "img",
                            ":aria-label": "chart.name"}):  # fmt: skip
                el("rect", {
                    "v-for": "bar in chart.bars", ":key": "bar.key", ":x": "bar.x", ":y": "bar.y",
                    ":width": "bar.width", ":height": "bar.height", ":class": "bar.high ? 'dr-up' : 'dr-down'",
                })  # fmt: skip
                el("line", {"x1": "0", "y1": f"{HEIGHT / 2:g}", "x2": f"{WIDTH:g}", "y2": f"{HEIGHT / 2:g}"})
        el("p", {"class": "dr-note"}, "{{ lesson.scale }}, one bar for each station")
