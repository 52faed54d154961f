"""The plan tab: findings linked to the picture, what the plan can prove, planned readings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from viewer.panels.markup import el, say, verdict_mark
from viewer.panels.result import bars

__all__ = ["plan_panel"]


def plan_panel(server: Any, on_finding: Callable[..., Any]) -> None:
    """Put the widgets of the tab."""
    with el("template", {"v-if": "plan"}):
        verdict_mark("plan.head")
        el("p", {"v-if": "!plan.traced", "class": "dr-note"}, "{{ plan.no_plan }}")
        _findings(server, on_finding)
        _promises()
        _readings()


def _findings(server: Any, on_finding: Callable[..., Any]) -> None:
    with el("section", {}):
        el("h2", {}, "Findings")
        el("p", {"v-if": "!plan.findings.length", "data-test": "no-findings"}, "{{ plan.nothing }}")
        with el("button", {
            "type": "button", "v-for": "each in plan.findings", ":key": "each.number", "class": "dr-finding",
            ":class": "['dr-is-' + each.kind, {'dr-on': finding === each.number}]",
            "@click": say(server, on_finding, "[each.number]"), ":data-test": "'finding-' + each.number",
        }):  # fmt: skip
            with el("span", {"class": "dr-finding-head"}):
                el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }}")
                el("b", {}, "{{ each.word }}")
                el("code", {}, "{{ each.code }}")
                el("span", {}, "{{ each.place }}")
            el("span", {"class": "dr-finding-text"}, "{{ each.message }}")
            el("span", {"class": "dr-advice"}, "→ {{ each.advice }}")
            el("small", {"v-if": "each.line"}, "{{ each.line }}")


def _promises() -> None:
    with el("section", {"v-if": "plan.promises.length"}):
        el("h2", {}, "What this plan can prove")
        with el("div", {"v-for": "each in plan.promises", ":key": "each.task", "class": "dr-promise"}):
            with el("p", {":class": "'dr-is-' + each.kind"}):
                el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }}")
                el("b", {}, "{{ each.task }}")
            el("p", {}, "{{ each.sentence }}")
            el("p", {"v-for": "line in each.lines", ":key": "line"}, "{{ line }}")
            el("h3", {}, "Typical station, u [{{ each.unit }}]")
            bars("each.budget")


def _readings() -> None:
    heads = ("Range", "Spot v", "Margin", "Radius")
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
            with el("tbody", {}), el("tr", {"v-for": "each in plan.rows", ":key": "each.key", ":title": "each.setup"}):
                with el("td", {":class": "'dr-is-' + each.kind"}):
                    el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
                    el("span", {}, "{{ each.station }}")
                    el("small", {"v-if": "each.kind !== 'good'", "class": "dr-under"}, "{{ each.sight }}")
                    el("span", {"v-else": True, "class": "dr-hidden"}, "{{ each.sight }}")
                for key in ("range", "v", "margin", "radius"):
                    el("td", {}, f"{{{{ each.{key} }}}}")
        el("p", {"class": "dr-note", "v-if": "plan.note"}, "{{ plan.note }}")
