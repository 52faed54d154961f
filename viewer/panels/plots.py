"""Plots of a result as SVG: a click on a station chooses it everywhere."""

from __future__ import annotations

from viewer.panels.markup import el

__all__ = ["plots"]

CHOSEN = "{'dr-on': station === dot.name}"


def plots() -> None:
    """The chosen plot, with the choice of the others."""
    with el("section", {"v-if": "result.plots.length && result.plots[plot]", "data-test": "plots"}):
        with el("div", {"class": "dr-row"}):
            el("h2", {}, "Plot")
            with el("select", {"v-model.number": "plot", "data-test": "plot", "aria-label": "Plot",
                               "v-if": "result.plots.length > 1"}):  # fmt: skip
                el("option", {"v-for": "each in result.plots", ":key": "each.number", ":value": "each.number"},
                   "{{ each.title }}")  # fmt: skip
            el("span", {"v-if": "result.plots.length === 1"}, "{{ result.plots[0].title }}")
        with el("template", {"v-for": "chart in [result.plots[plot]]", ":key": "chart.number"}):
            _profile()
            _round()
            el("p", {"v-if": "chart.piece", "data-test": "piece-words"}, "{{ chart.piece.words }}")
            el("p", {"class": "dr-note"}, "{{ chart.note }}")


def _dots() -> None:
    with el("g", {
        "v-for": "(dot, i) in chart.dots", ":key": "i", "class": "dr-plot-dot", ":class": CHOSEN, "tabindex": "0",
        "role": "button", ":aria-label": "dot.title", "@click": "station = dot.name",
        "@keydown.enter": "station = dot.name", ":data-test": "'dot-' + dot.name",
    }):  # fmt: skip
        el("title", {}, "{{ dot.title }}")
        el("circle", {":cx": "dot.x", ":cy": "dot.y", "r": "12", "class": "dr-plot-hit"})
        with el("template", {"v-if": "dot.dx || dot.dy"}):
            el("path", {":d": "`M${dot.x - dot.dx} ${dot.y}h${2 * dot.dx}M${dot.x} ${dot.y - dot.dy}v${2 * dot.dy}`",
                        "class": "dr-plot-cross"})  # fmt: skip
        el("circle", {":cx": "dot.x", ":cy": "dot.y", ":r": "station === dot.name ? 6 : 3.5"})
        el("text", {"v-if": "station === dot.name && chart.kind !== 'circle'", ":x": "dot.x", ":y": "dot.y - 10",
                    "text-anchor": "middle"}, "{{ dot.name }}")  # fmt: skip


def _profile() -> None:
    with el("svg", {"v-if": "chart.kind === 'profile'", ":viewBox": "`0 0 ${chart.width} ${chart.height}`",
                    "class": "dr-big-plot", "role": "group", ":aria-label": "chart.label"}):  # fmt: skip
        el("polygon", {"v-if": "chart.zone", ":points": "chart.zone", "class": "dr-plot-zone"})
        with el("g", {"v-for": "tick in chart.y_ticks", ":key": "'y' + tick.text"}):
            el("line", {":x1": "chart.left", ":y1": "tick.y", ":x2": "chart.right", ":y2": "tick.y",
                        "class": "dr-grid"})  # fmt: skip
            el("text", {":x": "chart.left - 6", ":y": "tick.y + 4", "text-anchor": "end"}, "{{ tick.text }}")
        el("line", {":x1": "chart.left", ":y1": "chart.zero", ":x2": "chart.right", ":y2": "chart.zero",
                    "class": "dr-axis"})  # fmt: skip
        el("text", {"v-for": "tick in chart.x_ticks", ":key": "'x' + tick.text", ":x": "tick.x",
                    ":y": "chart.foot + 15", ":text-anchor": "tick.anchor"}, "{{ tick.text }}")  # fmt: skip
        el("text", {"x": "4", ":y": "chart.height - 5"}, "{{ chart.unit }}")
        el("text", {":x": "chart.right", ":y": "chart.height - 5", "text-anchor": "end"},
           "along it [{{ chart.length_unit }}]")  # fmt: skip
        el("polygon", {":points": "chart.band", "class": "dr-plot-band"})
        el("polyline", {"v-for": "(limit, i) in chart.limits", ":key": "'l' + i", ":points": "limit",
                        "class": "dr-plot-limit"})  # fmt: skip
        el("polyline", {"v-for": "(limit, i) in chart.accepted", ":key": "'a' + i", ":points": "limit",
                        "class": "dr-plot-accepted"})  # fmt: skip
        with el("g", {"v-if": "chart.piece", "data-test": "piece"}):
            el("polygon", {":points": "chart.piece.band", "class": "dr-plot-piece"})
            el("polyline", {":points": "chart.piece.line", "class": "dr-plot-fit"})
            for of, drawn in (("limits", "dr-plot-limit"), ("accepted", "dr-plot-accepted")):
                el("polyline", {"v-for": f"(edge, i) in chart.piece.{of}", ":key": f"'{of}' + i", ":points": "edge",
                                "class": drawn})  # fmt: skip
            el("text", {":x": "chart.piece.x", ":y": "chart.piece.y", "text-anchor": "middle",
                        "class": "dr-plot-word"}, "{{ chart.piece.text }}")  # fmt: skip
        el("polyline", {":points": "chart.line", "class": "dr-curve-one"})
        _dots()


def _round() -> None:
    with el("svg", {"v-if": "chart.kind !== 'profile'", ":viewBox": "`0 0 ${chart.size} ${chart.size}`",
                    "class": "dr-big-plot dr-round-plot", "role": "group", ":aria-label": "chart.label"}):  # fmt: skip
        with el("g", {"v-for": "ring in chart.grid", ":key": "ring.r"}):
            el("circle", {":cx": "chart.middle", ":cy": "chart.middle", ":r": "ring.r", "class": "dr-grid dr-ring"})
            el("text", {":x": "chart.middle + 4", ":y": "ring.y"}, "{{ ring.text }}")
        el("path", {":d": "`M12 ${chart.middle}H${chart.size - 12}M${chart.middle} 12V${chart.size - 12}`",
                    "class": "dr-axis"})  # fmt: skip
        el("text", {":x": "chart.size - 4", ":y": "chart.middle - 6", "text-anchor": "end"}, "{{ chart.x_word }}")
        el("text", {":x": "chart.middle + 6", "y": "12"}, "{{ chart.y_word }}")
        el("text", {"x": "4", ":y": "chart.size - 4"}, "{{ chart.unit }}")
        with el("g", {"v-for": "ring in chart.rings", ":key": "ring.text"}):
            el("circle", {":cx": "chart.middle", ":cy": "chart.middle", ":r": "ring.r",
                          ":class": "chart.kind === 'circle' ? 'dr-plot-path' : 'dr-plot-limit'"})  # fmt: skip
            el("text", {":x": "chart.middle - 5", ":y": "ring.y", "text-anchor": "end"}, "{{ ring.text }}")
        el("circle", {"v-for": "(r, i) in chart.accepted", ":key": "'a' + i", ":cx": "chart.middle",
                      ":cy": "chart.middle", ":r": "r", "class": "dr-plot-accepted"})  # fmt: skip
        el("polyline", {"v-if": "chart.fit", ":points": "chart.fit", "class": "dr-plot-fit"})
        el("polyline", {"v-if": "chart.path", ":points": "chart.path", "class": "dr-plot-path"})
        _dots()
