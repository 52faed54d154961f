"""The result tab: verdict, visits, references, chosen station, stations, shims, budget, remarks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from viewer import text
from viewer.panels.markup import el, say, switch, verdict_mark
from viewer.panels.plots import plots
from viewer.panels.result_values import changes, components, how_sure, references, rules

__all__ = ["result_panel"]


def result_panel(server: Any, on_sort: Callable[..., Any]) -> None:
    """Put the widgets of the tab."""
    with el("template", {"v-if": "result"}):
        _choices()
        verdict_mark("result.head")
        components()
        changes()
        plots()
        _card()
        references()
        rules()
        _stations(server, on_sort)
        _shims()
        how_sure()
        _remarks()


def _choices() -> None:
    with el("label", {"class": "dr-row", "v-if": "tasks.length > 1"}):
        el("span", {}, "Task")
        with el("select", {"v-model": "task", "data-test": "task"}):
            el("option", {"v-for": "each in tasks", ":key": "each", ":value": "each"}, "{{ each }}")
    with el("div", {"class": "dr-buttons", "role": "group", "aria-label": "Visit", "v-if": "visits.length > 1"}):
        el("button", {
            "type": "button", "v-for": "each in visits", ":key": "each.value", "@click": "visit = each.value",
            ":class": "{'dr-on': visit === each.value}", ":aria-pressed": "visit === each.value",
            ":data-test": "'visit-' + each.value",
        }, "{{ each.title }}")  # fmt: skip


def _card() -> None:
    with el("section", {"class": "dr-card", "v-if": "card", "data-test": "card", "aria-live": "polite"}):
        with el("div", {"class": "dr-card-head"}):
            el("h2", {}, "Station {{ card.name }}")
            el("b", {}, "{{ card.deviation }}")
            el("button", {"type": "button", "class": "dr-icon", "aria-label": "Close", "@click": "station = ''"}, "✕")
        el("p", {"v-if": "card.role"}, "{{ card.role }}")
        with el("dl", {}), el("div", {"v-for": "each in card.facts", ":key": "each.name"}):
            el("dt", {}, "{{ each.name }}")
            el("dd", {}, "{{ each.value }}")


def _stations(server: Any, on_sort: Callable[..., Any]) -> None:
    heads = (
        ("name", "Station", "", ""),
        ("deviation", "{{ result.change ? 'Change' : 'Deviation' }}", "unit", ""), ("u", "U", "unit", ""),
        ("leverage", "Leverage", "", "result.columns.leverage"),
    )  # fmt: skip
    with el("section", {"v-if": "rows.length"}):
        el("h2", {}, "Stations")
        with el("div", {"class": "dr-scroll", "tabindex": "0", "aria-label": "Stations"}), \
                el("table", {"data-test": "stations"}):  # fmt: skip
            with el("thead", {}), el("tr", {}):
                for key, title, unit, shown in heads:
                    sorted_so = f"sort_key === '{key}' ? (sort_down ? 'descending' : 'ascending') : 'none'"
                    told: dict[str, str | bool] = {"v-if": shown} if shown else {}
                    with el("th", {":aria-sort": sorted_so, "scope": "col", **told}), el("button", {
                        "type": "button", "@click": say(server, on_sort, f"['{key}']"), "data-test": f"sort-{key}",
                    }):  # fmt: skip
                        el("span", {}, f"{title} {{{{ sort_key === '{key}' ? (sort_down ? '▼' : '▲') : '' }}}}")
                        if unit:
                            el("small", {}, "{{ result.unit }}")
            with el("tbody", {}), el("tr", {
                "v-for": "each in rows", ":key": "each.key", "tabindex": "0", "@click": "station = each.name",
                "@keydown.enter": "station = each.name", ":class": "{'dr-on': station === each.name}",
                ":aria-selected": "station === each.name", ":data-test": "'station-' + each.name",
            }):  # fmt: skip
                with el("td", {}):
                    el("span", {}, "{{ each.name }}")
                    el("small", {"v-if": "each.mark"}, "{{ each.mark === 'high' ? '▲ high' : '▼ low' }}")
                    el("small", {"v-if": "result.columns.direction", "class": "dr-under"}, "{{ each.direction }}")
                el("td", {}, "{{ each.deviation }}")
                el("td", {}, "{{ each.u }}")
                el("td", {"v-if": "result.columns.leverage"}, "{{ each.leverage }}")
        el("p", {"class": "dr-note", "v-if": "rows_note"}, "{{ rows_note }}")


def _shims() -> None:
    with el("section", {"v-if": "result.shims", "data-test": "shims"}):
        el("h2", {}, "Shims")
        el("p", {"v-if": "result.shims.note"}, "{{ result.shims.note }}")
        with el("p", {}):
            el("span", {}, "Flatness {{ result.shims.before }} → ")
            el("b", {}, "{{ result.shims.after }}")
            el("span", {}, " predicted. Best with any thickness: {{ result.shims.bound }}.")
        switch("Show predicted", "predicted", "predicted")
        with el("div", {"class": "dr-scroll", "tabindex": "0", "aria-label": "Shims"}), el("table", {}):
            with el("thead", {}), el("tr", {}):
                el("th", {"scope": "col"}, "Foot")
                for title, unit, shown in (
                    ("Lift", "{{ result.unit }}", True), ("Shims", "{{ result.length_unit }}", True),
                    ("Load", "kN", "result.shims.loads"),
                ):  # fmt: skip
                    with el("th", {"scope": "col"} if shown is True else {"scope": "col", "v-if": str(shown)}):
                        el("span", {}, title)
                        el("small", {}, unit)
            with el("tbody", {}), el("tr", {
                "v-for": "each in result.shims.rows", ":key": "each.name", ":class": "{'dr-strong': each.moved}",
            }):  # fmt: skip
                el("td", {}, "{{ each.name }}")
                el("td", {}, "{{ each.lift }}")
                el("td", {"class": "dr-wrap"}, "{{ each.stack }}")
                el("td", {"v-if": "result.shims.loads"}, "{{ each.before }} → {{ each.after }}")
        el("p", {"v-for": "each in result.shims.warnings", ":key": "each", "class": "dr-note"}, "▲ {{ each }}")
        el("p", {"class": "dr-caution"}, f"⚠ {text.CAUTION_LIFTING}")
    with el("section", {"v-if": "!result.shims && result.no_shims"}):
        el("h2", {}, "Shims")
        el("p", {"class": "dr-note"}, "{{ result.no_shims }}")


def _remarks() -> None:
    with el("section", {"v-if": "result.findings.length || result.remarks.length"}):
        el("h2", {}, "Remarks")
        with el("div", {"v-for": "each in result.findings", ":key": "each.code + each.place", "class": "dr-finding",
                        ":class": "'dr-is-' + each.kind"}):  # fmt: skip
            with el("div", {"class": "dr-finding-head"}):
                el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }}")
                el("b", {}, "{{ each.word }}")
                el("code", {}, "{{ each.code }}")
                el("span", {}, "{{ each.place }}")
            el("p", {}, "{{ each.message }}")
            el("p", {"class": "dr-advice"}, "→ {{ each.advice }}")
        el("p", {"v-for": "each in result.remarks", ":key": "each"}, "{{ each }}")
