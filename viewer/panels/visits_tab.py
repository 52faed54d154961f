"""The tab of visits: which two, what changed and what is proven of it, its course, and what the visits share."""

from __future__ import annotations

from viewer.panels.charts import bar_chart
from viewer.panels.course import course
from viewer.panels.markup import el, switch, verdict_mark

__all__ = ["visits_panel"]


def visits_panel() -> None:
    """Put the widgets of the tab."""
    _choices()
    el("p", {"class": "dr-note", "v-if": "change_word", "data-test": "change-word", "aria-live": "polite"},
       "{{ change_word }}")  # fmt: skip
    with el("template", {"v-if": "changed"}):
        verdict_mark("changed.head")
        _values()
        course()
        _card()
        _stations()
        _shared()
        with el("section", {"v-if": "changed.remarks.length"}):
            el("h2", {}, "Remarks")
            el("p", {"v-for": "each in changed.remarks", ":key": "each"}, "{{ each }}")


def _choices() -> None:
    with el("label", {"class": "dr-row", "v-if": "tasks.length > 1"}):
        el("span", {"class": "dr-lead"}, "Task")
        with el("select", {"v-model": "task", "data-test": "change-task"}):
            el("option", {"v-for": "each in tasks", ":key": "each", ":value": "each"}, "{{ each }}")
    with el("div", {"class": "dr-row", "v-if": "change_tos.length > 1"}):
        with el("label", {"class": "dr-row dr-half"}):
            el("span", {"class": "dr-lead"}, "From")
            with el("select", {"v-model": "change_from", "data-test": "change-from"}):
                el("option", {"v-for": "each in change_froms", ":key": "each.value", ":value": "each.value",
                              ":disabled": "each.value === change_to"}, "{{ each.title }}")  # fmt: skip
        with el("label", {"class": "dr-row dr-half"}):
            el("span", {}, "to")
            with el("select", {"v-model": "change_to", "data-test": "change-to"}):
                el("option", {"v-for": "each in change_tos", ":key": "each.value", ":value": "each.value"},
                   "{{ each.title }}")  # fmt: skip


def _heads(*heads: tuple[str, str]) -> None:
    with el("thead", {}), el("tr", {}):
        for head, shown in heads:
            el("th", {"scope": "col", **({"v-if": shown} if shown else {})}, head)


def _mark(each: str) -> None:
    """Shape and word of what is proven."""
    el("span", {"class": "dr-shape", "aria-hidden": "true"}, f"{{{{ {each}.shape }}}} ")
    el("span", {}, f"{{{{ {each}.word }}}}")


def _values() -> None:
    with el("section", {"v-if": "changed.values.length"}):
        el("h2", {}, "Values")
        with el("div", {"class": "dr-scroll", "tabindex": "0", "aria-label": "Values"}), \
                el("table", {"data-test": "change-values"}):  # fmt: skip
            _heads(("Value of", ""), ("Before → after", ""), ("Change, U", ""))
            with el("tbody", {}), el("tr", {
                "v-for": "each in changed.values", ":key": "each.number", "tabindex": "0",
                "@click": "change_value = each.number; station = ''",
                "@keydown.enter": "change_value = each.number; station = ''",
                ":class": "{'dr-on': changed.values.length > 1 && change_value === each.number}",
                ":data-test": "'change-value-' + each.number",
            }):  # fmt: skip
                with el("td", {}):
                    el("span", {}, "{{ each.name }}")
                    el("small", {"v-if": "each.over", "class": "dr-under"}, "{{ each.over }}")
                    el("small", {"v-if": "each.verdict", "class": "dr-under"}, "{{ each.verdict }}")
                el("td", {"class": "dr-wrap"}, "{{ each.before }} → {{ each.after }}")
                with el("td", {"class": "dr-wrap", ":class": "'dr-is-' + each.kind"}):
                    el("b", {}, "{{ each.change }}")
                    el("small", {"class": "dr-under"}, "{{ each.expanded }}")
                    with el("small", {"class": "dr-under"}):
                        _mark("each")


def _card() -> None:
    with el("section", {"class": "dr-card", "v-if": "change_card", "data-test": "change-card", "aria-live": "polite"}):
        with el("div", {"class": "dr-card-head"}):
            el("h2", {}, "Station {{ change_card.name }}")
            el("button", {"type": "button", "class": "dr-icon", "aria-label": "Close", "@click": "station = ''"}, "✕")
        with el("div", {"v-for": "each in change_card.facts", ":key": "each.key", "class": "dr-fact"}):
            with el("p", {":class": "'dr-is-' + each.kind"}):
                el("b", {}, "{{ each.change }} ")
                _mark("each")
            el("p", {"class": "dr-note"}, "{{ each.way }}: {{ each.course }}; U {{ each.apart }}")


def _stations() -> None:
    with el("section", {"v-if": "changed.rows.length", "data-test": "change-stations"}):
        with el("div", {"class": "dr-row"}):
            el("h2", {}, "Stations [{{ changed.unit }}]")
            el("span", {"class": "dr-note"}, "◆ {{ changed.moved }} of {{ changed.rows.length }} beyond U")
        with el("div", {"class": "dr-scroll", "tabindex": "0", "aria-label": "Stations"}), el("table", {}):
            _heads(("Station", ""), ("Before", ""), ("After", ""), ("Change", ""), ("U", ""))
            with el("tbody", {}), el("tr", {
                "v-for": "each in changed.rows", ":key": "each.key", "tabindex": "0", "@click": "station = each.name",
                "@keydown.enter": "station = each.name", ":class": "{'dr-on': station === each.name}",
                ":aria-selected": "station === each.name", ":data-test": "'change-' + each.name",
            }):  # fmt: skip
                with el("td", {":class": "'dr-is-' + each.kind"}):
                    el("span", {"class": "dr-shape", "aria-hidden": "true", ":title": "each.word"}, "{{ each.shape }}")
                    el("span", {}, "{{ each.name }}")
                    el("span", {"class": "dr-hidden"}, " {{ each.word }}")
                    el("small", {"v-if": "changed.has_ways", "class": "dr-under"}, "{{ each.way }}")
                el("td", {}, "{{ each.before }}")
                el("td", {}, "{{ each.after }}")
                with el("td", {}):
                    el("b", {"v-if": "each.moved"}, "{{ each.change }}")
                    el("span", {"v-else": True}, "{{ each.change }}")
                el("td", {}, "{{ each.u }}")
        el("p", {"class": "dr-note"}, "◆ changed by more than U; ◇ within U.")
        switch("Bars of U in the picture", "change_bars", "change-bars")
        with el("div", {"v-for": "each in changed.sets", ":key": "each.name", "class": "dr-fact",
                        "data-test": "change-test"}):  # fmt: skip
            el("h3", {"v-if": "changed.sets.length > 1"}, "{{ each.name }}")
            with el("p", {":class": "'dr-is-' + each.kind"}):
                el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
                el("span", {}, "{{ each.test }}")
            el("p", {"class": "dr-note"}, "{{ each.datum }} {{ each.apart }} {{ each.factor }} {{ each.dropped }}")


def _shared() -> None:
    with el("section", {"v-if": "changed.shared", "data-test": "change-shared"}):
        el("h2", {}, "Shared by both visits: {{ changed.shared.name }} [{{ changed.shared.unit }}]")
        with el("div", {"class": "dr-scroll", "tabindex": "0", "aria-label": "Shared errors",
                        "v-if": "changed.shared.rows.length"}), el("table", {}):  # fmt: skip
            _heads(("Error source", ""), ("First", ""), ("Second", ""), ("Left", ""))
            with el("tbody", {}), el("tr", {"v-for": "each in changed.shared.rows", ":key": "each.name"}):
                el("td", {}, "{{ each.name }}")
                el("td", {}, "{{ each.one }}")
                el("td", {}, "{{ each.two }}")
                with el("td", {}):
                    el("b", {}, "{{ each.left }}")
                    el("small", {"class": "dr-under"}, "{{ each.gone }}")
        el("p", {"class": "dr-note"}, "{{ changed.shared.sentence }} {{ changed.shared.more }}")
        el("h3", {}, "What the uncertainty of this change is made of")
        bar_chart("changed.shared.chart")
