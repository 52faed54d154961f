"""The plan tab: findings linked to the picture, the chosen station, budget, what can be proven, planned readings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from viewer.panels.charts import bar_chart
from viewer.panels.markup import el, say, verdict_mark
from viewer.panels.station import station_card

__all__ = ["plan_panel"]


def plan_panel(server: Any, on_finding: Callable[..., Any]) -> None:
    """Put the widgets of the tab."""
    with el("template", {"v-if": "plan"}):
        verdict_mark("plan.head")
        el("p", {"v-if": "!plan.traced", "class": "dr-note"}, "{{ plan.no_plan }}")
        _findings(server, on_finding)
        station_card()
        _budget()
        _promises()
        _readings()


def _findings(server: Any, on_finding: Callable[..., Any]) -> None:
    with el("section", {}):
        el("h2", {}, "Findings")
        el("p", {"v-if": "!plan.findings.length", "data-test": "no-findings"}, "{{ plan.nothing }}")
        with el("div", {"class": "dr-filter", "v-if": "plan.findings.length", "role": "group",
                        "aria-label": "Which findings are listed"}), el("button", {
            "type": "button", "v-for": "each in plan.severities", ":key": "each.value",
            ":class": "['dr-is-' + each.kind, {'dr-on': severities.includes(each.value)}]",
            ":aria-pressed": "severities.includes(each.value)", ":data-test": "'severity-' + each.value",
            "@click": "severities = severities.includes(each.value) ? severities.filter(s => s !== each.value) : "
                      "[...severities, each.value]",
        }):  # fmt: skip
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }}")
            el("span", {}, "{{ each.title }}")
        with el("div", {"class": "dr-list", "v-if": "plan.findings.length", "role": "group",
                        "aria-label": "Findings"}):  # fmt: skip
            _finding(server, on_finding)
            el("p", {"class": "dr-note", "v-if": "!plan.findings.some(each => severities.includes(each.severity))"},
               "None of the chosen kinds.")  # fmt: skip
        el("p", {"class": "dr-note", "v-if": "plan.findings_note"}, "{{ plan.findings_note }}")


def _finding(server: Any, on_finding: Callable[..., Any]) -> None:
    with el("button", {
        "type": "button", "v-for": "each in plan.findings", ":key": "each.number", "class": "dr-finding",
        "v-show": "severities.includes(each.severity)", ":aria-pressed": "finding === each.number",
        ":class": "['dr-is-' + each.kind, {'dr-on': finding === each.number, 'dr-here': about[each.number]}]",
        "@click": say(server, on_finding, "[each.number]"), ":data-test": "'finding-' + each.number",
    }):  # fmt: skip
        with el("span", {"class": "dr-finding-head"}):
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }}")
            el("b", {}, "{{ each.word }}")
            el("code", {}, "{{ each.code }}")
            el("span", {}, "{{ each.place }}")
            el("em", {"v-if": "about[each.number]"}, "{{ about[each.number] }}")
        el("span", {"class": "dr-finding-text"}, "{{ each.message }}")
        el("span", {"class": "dr-advice"}, "→ {{ each.advice }}")
        el("small", {"v-if": "each.line"}, "{{ each.line }}")


def _budget() -> None:
    with el("section", {"v-if": "budget", "data-test": "budget"}):
        el("h2", {}, "Where the uncertainty comes from")
        with el("div", {"class": "dr-buttons", "role": "group", "aria-label": "Uncertainty of"}):
            el("button", {
                "type": "button", "v-for": "each in budget.kinds", ":key": "each.value", ":disabled": "!each.can",
                "@click": "budget_of = each.value", ":class": "{'dr-on': budget.of === each.value}",
                ":aria-pressed": "budget.of === each.value", ":data-test": "'budget-' + each.value",
            }, "{{ each.title }}")  # fmt: skip
        with el("label", {"class": "dr-row", "v-if": "budget.of === 'task' && budget_tasks.length > 1"}):
            el("span", {}, "Task")
            with el("select", {":value": "budget.task", "@change": "budget_task = $event.target.value",
                               "data-test": "budget-task"}):  # fmt: skip
                el("option", {"v-for": "each in budget_tasks", ":key": "each", ":value": "each"}, "{{ each }}")
        with el("div", {"class": "dr-buttons", "role": "group", "aria-label": "Direction",
                        "v-if": "budget.axes.length > 1"}):  # fmt: skip
            el("button", {
                "type": "button", "v-for": "each in budget.axes", ":key": "each.value",
                "@click": "budget_axis = each.value", ":class": "{'dr-on': budget.axis === each.value}",
                ":aria-pressed": "budget.axis === each.value", ":data-test": "'axis-' + each.value",
            }, "{{ each.title }}")  # fmt: skip
        with el("template", {"v-if": "budget.chart"}):
            with el("p", {"class": "dr-budget-head"}):
                el("span", {}, "{{ budget.title }}")
                el("b", {"data-test": "budget-total"}, "{{ budget.chart.total }}")
            bar_chart("budget.chart")
            el("p", {"class": "dr-note", "v-if": "budget.chart.none"}, "No error source is stated.")
            el("p", {"class": "dr-note", "v-else": True}, "Standard uncertainty, and its share of the variance.")
        el("p", {"class": "dr-note", "v-if": "budget.note"}, "{{ budget.note }}")


def _promises() -> None:
    with el("section", {"v-if": "plan.promises.length"}):
        el("h2", {}, "What this plan can prove")
        with el("div", {"v-for": "each in plan.promises", ":key": "each.task", "class": "dr-promise"}):
            with el("p", {":class": "'dr-is-' + each.kind"}):
                el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }}")
                el("b", {}, "{{ each.task }}")
            el("p", {}, "{{ each.sentence }}")
            el("p", {"v-for": "line in each.lines", ":key": "line"}, "{{ line }}")


def _readings() -> None:
    heads = ("Range", "h", "v", "Margin")
    with el("section", {"v-if": "plan.rows.length"}):
        el("h2", {}, "Planned readings [{{ plan.length_unit }}]")
        with el("p", {"class": "dr-key"}), el("span", {
            "v-for": "each in plan.sights", ":key": "each.word", ":class": "'dr-is-' + each.kind",
        }):  # fmt: skip
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
            el("span", {}, "{{ each.word }}")
        with el("div", {"class": "dr-scroll dr-tall", "tabindex": "0", "aria-label": "Planned readings"}), \
                el("table", {"data-test": "readings"}):  # fmt: skip
            with el("thead", {}), el("tr", {}):
                el("th", {"scope": "col"}, "Station")
                for head in heads:
                    el("th", {"scope": "col"}, head)
            with el("tbody", {}), el("tr", {
                "v-for": "each in plan.rows", ":key": "each.row", ":title": "each.setup", "tabindex": "0",
                "@click": "station = each.station; plan_row = each.row",
                "@keydown.enter": "station = each.station; plan_row = each.row",
                ":class": "{'dr-on': plan_row === each.row}", ":aria-selected": "plan_row === each.row",
                ":data-test": "'reading-' + each.row",
            }):  # fmt: skip
                with el("td", {":class": "'dr-is-' + each.kind"}):
                    el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
                    el("span", {}, "{{ each.station }}")
                    el("small", {"v-if": "each.where", "class": "dr-under"}, "{{ each.where }}")
                    el("small", {"v-if": "each.kind !== 'good'", "class": "dr-under"}, "{{ each.sight }}")
                    el("span", {"v-else": True, "class": "dr-hidden"}, "{{ each.sight }}")
                for key in ("range", "h", "v", "margin"):
                    el("td", {}, f"{{{{ each.{key} }}}}")
        el("p", {"class": "dr-note", "v-if": "plan.note"}, "{{ plan.note }}")
