"""Values of a result: components, references and rules side by side, changes, and how sure they are."""

from __future__ import annotations

from viewer import text
from viewer.panels.charts import bar_chart
from viewer.panels.markup import el

__all__ = ["changes", "components", "how_sure", "references", "rules"]


def _heads(*heads: str) -> None:
    """Head of a table; to be called inside it."""
    with el("thead", {}), el("tr", {}):
        for head in heads:
            el("th", {"scope": "col"}, head)


def components() -> None:
    """Components of the task; one of them is chosen."""
    with el("section", {"v-if": "result.components.length"}):
        el("h2", {}, "Values and limits")
        with el("div", {"class": "dr-scroll", "tabindex": "0", "aria-label": "Values"}), \
                el("table", {"data-test": "components"}):  # fmt: skip
            _heads("Value of", "Value, U", "Limit")
            with el("tbody", {}), el("tr", {
                "v-for": "each in result.components", ":key": "each.number", "tabindex": "0",
                "@click": "component = each.number", "@keydown.enter": "component = each.number",
                ":class": "{'dr-on': result.component.number === each.number}",
                ":aria-selected": "result.component.number === each.number", ":data-test": "'component-' + each.number",
            }):  # fmt: skip
                with el("td", {":class": "'dr-is-' + each.kind"}):
                    el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
                    el("span", {}, "{{ each.name }}")
                    el("small", {"class": "dr-under"}, "{{ each.word }}{{ each.over ? ', ' + each.over : '' }}")
                with el("td", {"class": "dr-wrap"}):
                    el("span", {}, "{{ each.value }}")
                    el("small", {"class": "dr-under"}, "{{ each.expanded }}")
                el("td", {"class": "dr-wrap"}, "{{ each.limit }}")
    with el("section", {"v-if": "result.open.length"}):
        el("h2", {}, "Not known")
        with el("p", {"v-for": "each in result.open", ":key": "each.name"}):
            el("b", {}, "{{ each.name }}: ")
            el("span", {}, "{{ each.reason }}")


def references() -> None:
    """The value under every reference; a row chooses it."""
    with el("section", {"v-if": "result.references.length"}):
        el("h2", {}, "Under each reference")
        with el("div", {"class": "dr-scroll dr-tall", "role": "radiogroup", "aria-label": "Reference"}), \
                el("table", {"data-test": "references"}):  # fmt: skip
            _heads("Reference", "Value, U", "Verdict")
            with el("tbody", {}), el("tr", {
                "v-for": "each in result.references", ":key": "each.kind", "role": "radio",
                ":tabindex": "each.exists && !result.predicted ? 0 : -1",
                "@click": "each.exists && !result.predicted && (reference = each.kind)",
                "@keydown.enter": "each.exists && !result.predicted && (reference = each.kind)",
                ":aria-checked": "each.chosen", ":aria-disabled": "!each.exists || result.predicted",
                ":title": "each.meaning", ":class": "{'dr-on': each.chosen, 'dr-off': !each.exists}",
                ":data-test": "'reference-' + each.kind",
            }):  # fmt: skip
                with el("td", {}):
                    el("span", {}, "{{ each.name }}")
                    el("small", {"v-if": "each.asked", "class": "dr-under"}, "asked for")
                with el("td", {"v-if": "!each.reason", "class": "dr-wrap"}):
                    el("span", {}, "{{ each.value }}")
                    el("small", {"class": "dr-under"}, "{{ each.expanded }}")
                with el("td", {"v-if": "!each.reason", "class": "dr-wrap", ":class": "'dr-is-' + each.mark"}):
                    el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
                    el("span", {}, "{{ each.word }}")
                with el("td", {"v-if": "each.reason", "colspan": "2", "class": "dr-wrap dr-reason"}):
                    el("small", {}, "{{ each.reason }}")


def rules() -> None:
    """The verdict by every rule."""
    with el("section", {"v-if": "result.rules.length && !result.predicted"}):
        el("h2", {}, "By each rule")
        with el("div", {"class": "dr-scroll", "role": "radiogroup", "aria-label": "Rule"}), \
                el("table", {"data-test": "rules"}):  # fmt: skip
            _heads("Rule", "Guard", "Verdict")
            with el("tbody", {}), el("tr", {
                "v-for": "each in result.rules", ":key": "each.name", ":class": "{'dr-on': each.chosen}",
                ":title": "each.meaning", "role": "radio", "tabindex": "0", ":aria-checked": "each.chosen",
                "@click": "rule = each.value", "@keydown.enter": "rule = each.value",
                ":data-test": "'rule-' + each.test",
            }):  # fmt: skip
                with el("td", {}):
                    el("span", {}, "{{ each.name }}")
                    el("small", {"v-if": "each.asked || each.under", "class": "dr-under"},
                       "{{ [each.under, each.asked ? 'asked for' : ''].filter(Boolean).join(', ') }}")  # fmt: skip
                el("td", {}, "{{ each.guard }}")
                with el("td", {"class": "dr-wrap", ":class": "'dr-is-' + each.kind"}):
                    el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
                    el("span", {}, "{{ each.word }}")
    with el("section", {"v-if": "result.rules.length && result.predicted", "data-test": "no-rules"}):
        el("h2", {}, "By each rule")
        el("p", {"class": "dr-note"}, text.FORECAST_BY_LIMIT)


def changes() -> None:
    """Values before and after, their change and whether it is proven."""
    with el("section", {"v-if": "result.changes.length"}):
        el("h2", {}, "Change of values")
        with el("div", {"class": "dr-scroll"}), el("table", {"data-test": "changes"}):
            _heads("Value of", "Before → after", "Change, U")
            with el("tbody", {}), el("tr", {"v-for": "each in result.changes", ":key": "each.name"}):
                el("td", {}, "{{ each.name }}")
                el("td", {"class": "dr-wrap"}, "{{ each.before }} → {{ each.after }}")
                with el("td", {"class": "dr-wrap"}):
                    el("span", {}, "{{ each.change }} {{ each.expanded }}")
                    el("small", {"class": "dr-under"}, "{{ each.word }}")


def how_sure() -> None:
    """Interval, contacts, rule and budget of the component that is shown."""
    with el("section", {"v-if": "result.component && !result.predicted", "data-test": "component"}):
        el("h2", {}, "{{ result.component.name ? 'How sure: ' + result.component.name : 'How sure' }}")
        el("p", {"v-for": "each in result.component.lines", ":key": "each"}, "{{ each }}")
        with el("template", {"v-if": "!result.component.chart.none"}):
            with el("p", {"class": "dr-budget-head"}):
                el("span", {}, "Where it comes from, {{ result.component.unit }}")
                el("b", {}, "{{ result.component.chart.total }}")
            bar_chart("result.component.chart")
