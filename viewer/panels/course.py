"""The course of a value or a station over the visits, as SVG."""

from __future__ import annotations

from viewer.panels.markup import el

__all__ = ["course"]


def course() -> None:
    """Points with bars of U, limits, trend and its words; from the state ``course``."""
    with el("section", {"v-if": "course", "data-test": "course"}):
        with el("div", {"class": "dr-row"}):
            el("h2", {}, "Over the visits: {{ course.name }}")
        with el("svg", {":viewBox": "`0 0 ${course.width} ${course.height}`", "class": "dr-big-plot", "role": "img",
                        ":aria-label": "course.label"}):  # fmt: skip
            _frame()
            el("polygon", {"v-if": "course.band", ":points": "course.band", "class": "dr-plot-band"})
            el("polyline", {"v-if": "course.line", ":points": "course.line", "class": "dr-curve-two"})
            _dots()
        with el("p", {"v-if": "course.apart", "class": "dr-is-open", "data-test": "no-common-datum"}):
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, "▲ ")
            el("span", {}, "{{ course.apart }}")
        with el("p", {"v-if": "course.trend.word", ":class": "course.trend.proven ? 'dr-is-open' : 'dr-is-note'"}):
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ course.trend.proven ? '◆' : '◇' }} ")
            el("b", {"data-test": "trend"}, "{{ course.trend.word }}")
        el("p", {"v-for": "line in course.trend.lines", ":key": "line"}, "{{ line }}")
        el("p", {"class": "dr-note"}, "{{ course.note }}")


def _frame() -> None:
    with el("g", {"v-for": "tick in course.y_ticks", ":key": "'y' + tick.text"}):
        el("line", {":x1": "course.left", ":y1": "tick.y", ":x2": "course.right", ":y2": "tick.y", "class": "dr-grid"})
        el("text", {":x": "course.left - 6", ":y": "tick.y + 4", "text-anchor": "end"}, "{{ tick.text }}")
    el("line", {":x1": "course.left", ":y1": "course.zero", ":x2": "course.right", ":y2": "course.zero",
                "class": "dr-axis"})  # fmt: skip
    el("text", {"v-for": "(tick, i) in course.x_ticks", ":key": "'x' + i", ":x": "tick.x", ":y": "course.foot + 17",
                "text-anchor": "middle"}, "{{ tick.text }}")  # fmt: skip
    el("text", {"x": "4", ":y": "course.height - 5"}, "{{ course.unit }}")
    with el("g", {"v-for": "(limit, i) in course.limits", ":key": "'l' + i"}):
        el("line", {":x1": "course.left", ":y1": "limit.y", ":x2": "course.right", ":y2": "limit.y",
                    "class": "dr-plot-limit"})  # fmt: skip
        el("text", {":x": "course.right - 2", ":y": "limit.y - 4", "text-anchor": "end"}, "{{ limit.text }}")


def _dots() -> None:
    with el("g", {"v-for": "(dot, i) in course.dots", ":key": "'d' + i", "class": "dr-plot-dot"}):
        el("title", {}, "{{ dot.title }}")
        el("path", {":d": "`M${dot.x} ${dot.low}V${dot.high}M${dot.x - 5} ${dot.low}h10M${dot.x - 5} ${dot.high}h10`",
                    "class": "dr-u-bar"})  # fmt: skip
        el("circle", {":cx": "dot.x", ":cy": "dot.y", "r": "12", "class": "dr-plot-hit"})
        el("circle", {":cx": "dot.x", ":cy": "dot.y", "r": "4"})
