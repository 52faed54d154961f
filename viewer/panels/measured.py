"""The result tab for quantities other than a surface: components with their verdicts, deviations of stations."""

from __future__ import annotations

from viewer.panels.charts import bar_chart
from viewer.panels.markup import el

__all__ = ["components", "deviations"]


def components() -> None:
    """Components of the task, and the chosen one in full."""
    with el("section", {"v-if": "result.components.length"}):
        el("h2", {}, "Values and limits")
        with el("div", {"class": "dr-scroll", "tabindex": "0", "aria-label": "Values"}), \
                el("table", {"data-test": "components"}):  # fmt: skip
            with el("thead", {}), el("tr", {}):
                for head in ("Value of", "Value, U", "Limit"):
                    el("th", {"scope": "col"}, head)
            with el("tbody", {}), el("tr", {
                "v-for": "each in result.components", ":key": "each.number", "tabindex": "0",
                "@click": "component = each.number", "@keydown.enter": "component = each.number",
                ":class": "{'dr-on': result.component.number === each.number}",
                ":aria-selected": "result.component.number === each.number", ":data-test": "'component-' + each.number",
            }):  # fmt: skip
                with el("td", {":class": "'dr-is-' + each.kind"}):
                    el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
                    el("span", {}, "{{ each.name }}")
                    el("small", {"class": "dr-under"}, "{{ each.word }}")
                with el("td", {"class": "dr-wrap"}):
                    el("span", {}, "{{ each.value }}")
                    el("small", {"class": "dr-under"}, "{{ each.expanded }}")
                el("td", {"class": "dr-wrap"}, "{{ each.limit }}")
    with el("section", {"v-if": "result.open.length"}):
        el("h2", {}, "Not known")
        with el("p", {"v-for": "each in result.open", ":key": "each.name"}):
            el("b", {}, "{{ each.name }}: ")
            el("span", {}, "{{ each.reason }}")
    with el("section", {"v-if": "result.component", "data-test": "component"}):
        el("h2", {}, "{{ result.component.name ? 'How sure: ' + result.component.name : 'How sure' }}")
        el("p", {"v-for": "each in result.component.lines", ":key": "each"}, "{{ each }}")
        with el("template", {"v-if": "!result.component.chart.none"}):
            with el("p", {"class": "dr-budget-head"}):
                el("span", {}, "Where it comes from, {{ result.component.unit }}")
                el("b", {}, "{{ result.component.chart.total }}")
            bar_chart("result.component.chart")


def deviations() -> None:
    """Deviations of stations in every direction."""
    with el("section", {"v-if": "result.rows.length"}):
        el("h2", {}, "Deviations {{ result.rows_unit ? '[' + result.rows_unit + ']' : '' }}")
        with el("div", {"class": "dr-scroll", "tabindex": "0", "aria-label": "Deviations"}), \
                el("table", {"data-test": "deviations"}):  # fmt: skip
            with el("thead", {}), el("tr", {}):
                el("th", {"scope": "col"}, "Station")
                for head in ("Direction", "Deviation", "u"):
                    el("th", {"scope": "col"}, head)
            with el("tbody", {}), el("tr", {
                "v-for": "each in result.rows", ":key": "each.key", "tabindex": "0", "@click": "station = each.name",
                "@keydown.enter": "station = each.name", ":class": "{'dr-on': station === each.name}",
                ":aria-selected": "station === each.name", ":data-test": "'deviation-' + each.key",
            }):  # fmt: skip
                with el("td", {}):
                    el("span", {}, "{{ each.name }}")
                    el("small", {"v-if": "each.mark"}, "{{ each.mark === 'high' ? '▲ high' : '▼ low' }}")
                    el("small", {"v-if": "result.several && each.of", "class": "dr-under"}, "{{ each.of }}")
                el("td", {}, "{{ each.component }}")
                el("td", {}, "{{ each.deviation }}")
                el("td", {}, "{{ each.u }}")
        el("p", {"class": "dr-note", "v-if": "result.rows_note"}, "{{ result.rows_note }}")
