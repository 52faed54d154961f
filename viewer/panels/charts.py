"""Charts as SVG, drawn from the plain data of ``viewer.logic.charts``."""

from __future__ import annotations

from viewer.logic.charts import CHART_SIZE, LEFT, RIGHT
from viewer.panels.markup import el

__all__ = ["bar_chart", "line_chart"]


def line_chart(chart: str) -> None:
    """A line chart; ``chart`` is the expression of its data."""
    width, height = CHART_SIZE
    with el("figure", {"class": "dr-plot"}):
        with el("figcaption", {}):
            el("span", {}, f"{{{{ {chart}.name }}}}")
            with el("span", {"v-for": f"key in {chart}.keys", ":key": "key.name", "class": "dr-plot-key"}):
                with el("svg", {"viewBox": "0 0 24 8", "aria-hidden": "true"}):
                    el("line", {"x1": "0", "y1": "4", "x2": "24", "y2": "4", ":class": "'dr-curve-' + key.kind"})
                el("span", {}, "{{ key.name }}")
        with el("svg", {"viewBox": f"0 0 {width} {height}", "role": "img", ":aria-label": f"{chart}.label"}):
            with el("g", {"v-for": f"tick in {chart}.y_ticks", ":key": "'y' + tick.key"}):
                el("line", {"x1": f"{LEFT:g}", ":y1": "tick.y", "x2": f"{width - RIGHT:g}", ":y2": "tick.y",
                            ":class": "tick.zero ? 'dr-axis' : 'dr-grid'"})  # fmt: skip
                el("text", {"x": f"{LEFT - 6:g}", ":y": "tick.y + 4", "text-anchor": "end"}, "{{ tick.text }}")
            el("text", {"v-for": f"tick in {chart}.x_ticks", ":key": "'x' + tick.key", ":x": "tick.x",
                        "y": f"{height - 4}", ":text-anchor": "tick.anchor"}, "{{ tick.text }}")  # fmt: skip
            el("polyline", {"v-for": f"line in {chart}.lines", ":key": "line.key", ":points": "line.points",
                            ":class": "'dr-curve-' + line.kind"})  # fmt: skip
            el("circle", {"v-for": f"dot in {chart}.dots", ":key": "'d' + dot.key", ":cx": "dot.x", ":cy": "dot.y",
                          "r": "4", ":class": "'dr-dot dr-dot-' + dot.kind"})  # fmt: skip


def bar_chart(chart: str) -> None:
    """Horizontal bars with names and numbers; ``chart`` is the expression of their data."""
    with el("svg", {":viewBox": f"'0 0 ' + {chart}.width + ' ' + {chart}.height", "role": "img", "class": "dr-budget",
                    ":aria-label": f"{chart}.label"}), \
            el("g", {"v-for": f"bar in {chart}.bars", ":key": "bar.key"}):  # fmt: skip
        el("text", {"x": "0", ":y": "bar.text_y"}, "{{ bar.name }}")
        el("text", {":x": f"{chart}.width", ":y": "bar.text_y", "text-anchor": "end", "class": "dr-number"},
           "{{ bar.words }}")  # fmt: skip
        el("rect", {"x": "0", ":y": "bar.bar_y", ":width": f"{chart}.width", ":height": f"{chart}.tall", "rx": "3",
                    "class": "dr-bar-room"})  # fmt: skip
        el("rect", {"x": "0", ":y": "bar.bar_y", ":width": "bar.width", ":height": f"{chart}.tall", "rx": "3",
                    "class": "dr-bar"})  # fmt: skip
