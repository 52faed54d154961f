"""The tab of moves: forecast, the optimum, sliders of feet or bearings, warnings, the order of the steps, soft feet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from viewer import text
from viewer.logic.moves_book import GOALS
from viewer.panels.markup import el, say, switch

__all__ = ["moves_panel"]

GOAL_WORDS = {"minimax": "Least value", "least squares": "Least squares"}
Call = Callable[..., Any]


def moves_panel(server: Any, optimum: Call, as_found: Call, set_move: Call, set_gap: Call) -> None:
    """Put the widgets of the tab."""
    _choices()
    el("p", {"class": "dr-note", "v-if": "moves_word", "data-test": "moves-word", "aria-live": "polite"},
       "{{ moves_word }}")  # fmt: skip
    with el("template", {"v-if": "moves && moves_live"}):
        _head()
        _buttons(server, optimum, as_found)
        _sliders(server, set_move)
        _warnings()
        _card()
        _components()
        _proposal()
        _steps()
        _soft(server, set_gap)


def _choices() -> None:
    with el("label", {"class": "dr-row", "v-if": "tasks.length > 1"}):
        el("span", {}, "Task")
        with el("select", {"v-model": "task", "data-test": "moves-task"}):
            el("option", {"v-for": "each in tasks", ":key": "each", ":value": "each",
                          ":disabled": "!moves_tasks.includes(each)"}, "{{ each }}")  # fmt: skip
    visits = "visits.filter(each => each.value !== 'difference')"
    with el("div", {"class": "dr-row", "v-if": f"{visits}.length > 1"}):
        el("span", {}, "Start from")
        with el("div", {"class": "dr-buttons dr-grow", "role": "group", "aria-label": "Start from"}):
            el("button", {
                "type": "button", "v-for": f"each in {visits}", ":key": "each.value", "@click": "visit = each.value",
                ":class": "{'dr-on': moves && moves.visit === each.value}",
                ":aria-pressed": "!!moves && moves.visit === each.value", ":data-test": "'moves-visit-' + each.value",
            }, "{{ each.title }}")  # fmt: skip


def _head() -> None:
    """Before and after, and the forecast as shape and word."""
    head = "moves_live.head"
    with el("div", {"class": "dr-verdict dr-foretold", ":class": f"'dr-is-' + {head}.kind", "data-test": "forecast",
                    "aria-live": "polite", ":aria-busy": f"{head}.pending"}):  # fmt: skip
        with el("div", {"class": "dr-verdict-line"}):
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, f"{{{{ {head}.shape }}}}")
            el("strong", {"class": "dr-word", "data-test": "forecast-word"}, f"{{{{ {head}.word }}}}")
        with el("div", {"class": "dr-turn"}):
            el("span", {"data-test": "value-before"}, f"{{{{ {head}.before }}}}")
            el("span", {"aria-label": "becomes"}, "→")
            el("b", {"data-test": "value-after"}, f"{{{{ {head}.after }}}}")
            el("span", {"data-test": "value-u"}, f"{{{{ {head}.expanded }}}}")
        el("p", {"class": "dr-note"}, f"{{{{ {head}.about }}}}")
        el("p", {"class": "dr-note"}, f"{{{{ {head}.sentence }}}}")


def _buttons(server: Any, optimum: Call, as_found: Call) -> None:
    with el("div", {"class": "dr-buttons", "role": "group", "aria-label": "Set all"}):
        for at, call, words in (("found", as_found, "No moves: {{ moves.visit }}"), ("optimum", optimum, "Optimum")):
            el("button", {
                "type": "button", "@click": say(server, call), "data-test": f"moves-{at}",
                ":class": f"{{'dr-on': moves_live.at === '{at}'}}", ":aria-pressed": f"moves_live.at === '{at}'",
            }, words)  # fmt: skip


def _sliders(server: Any, set_move: Call) -> None:
    row = "moves_live.rows[number]"
    with el("section", {"class": "dr-movers", "data-test": "movers"}), el("div", {
        "v-for": "(each, number) in moves.sliders", ":key": "each.key", "class": "dr-mover",
        ":class": f"{{'dr-moved': {row} && {row}.moved}}",
    }):  # fmt: skip
        with el("div", {"class": "dr-mover-head"}):
            el("b", {}, "{{ each.name }}")
            el("small", {"v-if": "each.still"}, "stays")
            el("span", {":data-test": "'shims-' + number", "class": "dr-mover-shims"},
               f"{{{{ {row} ? {row}.shims : '' }}}}")  # fmt: skip
            el("small", {"v-if": f"{row} && {row}.gap"}, f"{{{{ {row}.gap }}}}")
            el("span", {"v-if": f"{row} && {row}.load", ":class": f"{{'dr-off-load': {row}.off}}",
                        ":data-test": "'load-' + number"},
               f"{{{{ ({row}.off ? '▲ ' : '') + {row}.load }}}}")  # fmt: skip
        with el("div", {"class": "dr-mover-slide", "v-if": "!each.still"}):
            el("input", {
                "type": "range", ":min": "each.low", ":max": "each.high", ":step": "each.step",
                ":value": "moves_at[number]", ":data-test": "each.test", ":aria-label": "each.name",
                ":aria-valuetext": f"{row} ? {row}.lift + ' ' + moves.unit : ''",
                "@input": "moves_at = moves_at.map((at, k) => k === number ? Number($event.target.value) : at)",
            })  # fmt: skip
            el("input", {
                "type": "number", "step": "any", ":value": f"{row} ? {row}.number : 0",
                ":key": "each.key + moves_turn", ":data-test": "each.test + '-number'",
                ":aria-label": "each.name + ', ' + moves.unit",
                "@change": say(server, set_move, "[number, $event.target.value]"),
            })  # fmt: skip
            el("span", {"class": "dr-mover-unit"}, "{{ moves.unit }}")
    with el("div", {"class": "dr-mover-ends"}):
        el("small", {}, "{{ moves.sliders.length && moves.sliders.find(each => !each.still) ? 'Travel ' + "
                        "moves.sliders.find(each => !each.still).lowest + ' to ' + "
                        "moves.sliders.find(each => !each.still).highest + ' ' + moves.unit : '' }}")  # fmt: skip
        with el("div", {"v-if": "moves.stocked"}):
            switch("Any thickness", "moves_free", "moves-free")


def _warnings() -> None:
    with (
        el("section", {"v-if": "moves_live.warnings.length", "data-test": "moves-warnings", "aria-live": "polite"}),
        el("p", {"v-for": "each in moves_live.warnings", ":key": "each", "class": "dr-finding dr-is-open"}),
    ):
        el("span", {}, "▲ {{ each }}")


def _card() -> None:
    with el("section", {"class": "dr-card", "v-if": "moves_card", "data-test": "moves-card", "aria-live": "polite"}):
        with el("div", {"class": "dr-card-head"}):
            el("h2", {}, "Station {{ moves_card.name }}")
            el("button", {"type": "button", "class": "dr-icon", "aria-label": "Close", "@click": "station = ''"}, "✕")
        with el("p", {"v-for": "each in moves_card.rows", ":key": "each.of"}):
            el("span", {"v-if": "moves_card.rows.length > 1"}, "{{ each.of }}: ")
            el("span", {}, "{{ each.before }} → ")
            el("b", {}, "{{ each.after }}")
            el("span", {}, " {{ each.u }}")


def _components() -> None:
    with el("section", {"v-if": "moves_live.components.length"}):
        el("h2", {}, "All values")
        with el("div", {"class": "dr-scroll", "tabindex": "0", "aria-label": "All values"}), \
                el("table", {"data-test": "moves-values"}):  # fmt: skip
            with el("thead", {}), el("tr", {}):
                for words in ("Value", "Before → after"):
                    el("th", {"scope": "col"}, words)
            with el("tbody", {}), el("tr", {
                "v-for": "each in moves_live.components", ":key": "each.name", ":class": "'dr-is-' + each.kind",
            }):  # fmt: skip
                with el("td", {"class": "dr-wrap"}):
                    el("span", {}, "{{ each.name }}")
                    with el("small", {"v-if": "each.word", "class": "dr-under"}):
                        el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }}")
                        el("span", {}, "{{ each.word }}")
                with el("td", {}):
                    el("span", {}, "{{ each.before }} → {{ each.after }}")
                    el("small", {"class": "dr-under"}, "± {{ each.u }}{{ each.limit ? ', limit ' + each.limit : '' }}")


def _proposal() -> None:
    """What the optimum is to make small, and with how many feet."""
    with el("section", {}):
        el("h2", {}, "How the optimum is sought")
        with el("div", {"class": "dr-buttons", "role": "group", "aria-label": "Goal"}):
            for goal in GOALS:
                el("button", {
                    "type": "button", "@click": f"moves_goal = '{goal}'", "data-test": f"moves-goal-{goal}",
                    ":class": f"{{'dr-on': moves_goal === '{goal}'}}", ":aria-pressed": f"moves_goal === '{goal}'",
                }, GOAL_WORDS[goal])  # fmt: skip
        with el("label", {"class": "dr-row", "v-if": "moves.counts.length > 1"}):
            el("span", {}, "{{ moves.bearings ? 'Parts to touch' : 'Feet to touch' }}")
            with el("select", {"v-model.number": "moves_most", "data-test": "moves-most"}):
                el("option", {"v-for": "each in moves.counts", ":key": "each.value", ":value": "each.value"},
                   "{{ each.title }}")  # fmt: skip
        el("p", {"class": "dr-note", "data-test": "moves-about"}, "{{ moves.about }}")
        el("p", {"v-for": "each in moves.notes", ":key": "each", "class": "dr-note"}, "▲ {{ each }}")


def _steps() -> None:
    with el("section", {"data-test": "moves-steps"}):
        el("h2", {}, "Order of steps")
        with el("div", {"class": "dr-caution dr-safety"}):
            el("p", {"v-for": "each in moves.safety", ":key": "each"}, "⚠ {{ each }}")
        el("p", {"v-for": "each in moves.first", ":key": "each"}, "First: {{ each }}")
        with (
            el("ol", {"class": "dr-steps", "v-if": "moves_steps.length"}),
            el("li", {"v-for": "each in moves_steps", ":key": "each.number"}),
        ):
            el("span", {}, "{{ each.words }}")
            el("small", {"class": "dr-under", "v-if": "each.after"}, "{{ each.after }}")
        el("p", {"v-if": "!moves_steps.length"}, "Nothing is moved.")
        el("p", {"class": "dr-note", "v-if": "moves_steps.length > 1"}, "Order: {{ moves_criterion }}.")
        el("p", {"class": "dr-note", "v-if": "moves_steps.length"}, text.THEN_READ)


def _soft(server: Any, set_gap: Call) -> None:
    with el("details", {"class": "dr-gaps", "v-if": "!moves.bearings"}):
        el("summary", {"data-test": "gaps"}, "Soft foot readings")
        el("p", {"class": "dr-note"}, "Gap under each foot, its bolt loose and all others tight.")
        with (
            el("div", {"class": "dr-gap-rows"}),
            el("label", {"v-for": "(name, number) in moves.names", ":key": "name"}),
        ):
            el("span", {}, "{{ name }}")
            el("input", {
                "type": "number", "min": "0", "step": "any", ":value": "moves_gaps[name] || ''", "placeholder": "0",
                ":data-test": "'gap-' + number", "@change": say(server, set_gap, "[number, $event.target.value]"),
            })  # fmt: skip
            el("small", {}, "{{ moves.unit }}")
