"""Closures as SVG and as a table: a click on one chooses its station everywhere."""

from __future__ import annotations

from viewer.panels.markup import el

__all__ = ["closures"]


def closures() -> None:
    """Normalised differences with the lines of two and three standard deviations; from the state ``diagnosis``."""
    with el("section", {"v-if": "diagnosis.chart", "data-test": "closures"}):
        el("h2", {}, "Closures: readings that should agree [σ]")
        with el("template", {"v-for": "chart in [diagnosis.chart]", ":key": "0"}):
            with el("svg", {":viewBox": "`0 0 ${chart.width} ${chart.height}`", "class": "dr-big-plot", "role": "group",
                            ":aria-label": "chart.label"}):  # fmt: skip
                _frame()
                _dots()
            el("p", {"class": "dr-note"}, "{{ chart.note }}")
        _table()


def _frame() -> None:
    el("text", {"v-for": "tick in chart.y_ticks", ":key": "'y' + tick.text", ":x": "chart.left - 5", ":y": "tick.y + 4",
                "text-anchor": "end"}, "{{ tick.text }}")  # fmt: skip
    el(
        "line",
        {":x1": "chart.left", ":y1": "chart.zero", ":x2": "chart.right", ":y2": "chart.zero", "class": "dr-axis"},
    )
    with el("g", {"v-for": "line in chart.lines", ":key": "'l' + line.key"}):
        el("line", {":x1": "chart.left", ":y1": "line.y", ":x2": "chart.right", ":y2": "line.y",
                    ":class": "'dr-sigma-' + line.kind"})  # fmt: skip
        el("text", {":x": "chart.right + 4", ":y": "line.y + 4"}, "{{ line.text }}")


def _dots() -> None:
    with el("g", {
        "v-for": "dot in chart.dots", ":key": "'d' + dot.key", "class": "dr-closure", "tabindex": "0",
        ":class": "['dr-is-' + dot.kind, {'dr-on': station === dot.name}]", "role": "button",
        ":aria-label": "dot.title",
        "@click": "station = dot.name", "@keydown.enter": "station = dot.name", ":data-test": "'closure-' + dot.key",
        ":transform": "`translate(${dot.x} ${dot.y})`",
    }):  # fmt: skip
        el("title", {}, "{{ dot.title }}")
        el("circle", {"r": "9", "class": "dr-plot-hit"})
        el("path", {"v-if": "dot.shape === '◆'", "d": "M0 -6.5L6 0L0 6.5L-6 0Z"})
        el("rect", {"v-else-if": "dot.shape === '■'", "x": "-4", "y": "-4", "width": "8", "height": "8"})
        el("circle", {"v-else": True, "r": "3.6"})
        el(
            "text",
            {"v-if": "station === dot.name", ":y": "dot.y < 22 ? 19 : -9", "text-anchor": "middle"},
            "{{ dot.name }}",
        )


def _table() -> None:
    with el("div", {"class": "dr-scroll dr-short", "tabindex": "0", "aria-label": "Closures"}), \
            el("table", {"data-test": "closure-table"}):  # fmt: skip
        with el("thead", {}), el("tr", {}):
            for head in ("Station", "Difference", "Expected", "σ"):
                el("th", {"scope": "col"}, head)
        with el("tbody", {}), el("tr", {
            "v-for": "each in diagnosis.closures", ":key": "each.key", "tabindex": "0", "@click": "station = each.name",
            "@keydown.enter": "station = each.name", ":class": "{'dr-on': station === each.name}",
            ":aria-selected": "station === each.name", ":title": "each.between",
        }):  # fmt: skip
            with el("td", {":class": "'dr-is-' + each.kind"}):
                el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }}")
                el("span", {}, "{{ each.name }} {{ each.channel }}")
                el("small", {"class": "dr-under"}, "{{ each.what }}")
            el("td", {}, "{{ each.difference }}")
            el("td", {}, "{{ each.expected }}")
            with el("td", {}):
                el("b", {}, "{{ each.size }}")
                el("span", {"class": "dr-hidden"}, " {{ each.word }}")
