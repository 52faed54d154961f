"""The live tab: next station, last reading, progress, what looks wrong, every spot, drift, missing, skipped."""

from __future__ import annotations

from viewer.panels.markup import el

__all__ = ["live_panel"]


def live_panel() -> None:
    """Put the widgets of the tab."""
    el("p", {"v-if": "live_failed", "class": "dr-caution", "role": "alert"}, "{{ live_failed }}")
    el("p", {"v-if": "!live && !live_failed", "class": "dr-note"}, "Waiting for the first word of the program.")
    with el("template", {"v-if": "live"}):
        _next()
        _last()
        _troubles()
        _skipped()
        _spots()
        _drifts()
        _missing()
        with el("section", {}):
            el("p", {"v-for": "each in live.remarks", ":key": "each", "class": "dr-note"}, "{{ each }}")
            el("p", {"class": "dr-note", "data-test": "live-source"},
               "{{ live.source }}{{ live.visit ? ', visit ' + live.visit : '' }}.")  # fmt: skip


def _next() -> None:
    with el("div", {"class": "dr-verdict dr-live-next", ":class": "live.next ? 'dr-is-next' : 'dr-is-good'",
                    "aria-live": "polite", "data-test": "live-next"}):  # fmt: skip
        with el("template", {"v-if": "live.next"}):
            el("span", {"class": "dr-live-label"}, "{{ live.next.again ? 'Next, once more' : 'Next' }}")
            with el("div", {"class": "dr-live-station"}):
                el("span", {"class": "dr-shape", "aria-hidden": "true"}, "▼")
                el("strong", {"data-test": "live-station"}, "{{ live.next.station }}")
                el("b", {"v-if": "live.next.clock"}, "clock {{ live.next.clock }}")
            el("p", {"class": "dr-live-words"}, "{{ live.next.words }}")
            el("p", {"class": "dr-note", "v-if": "live.next.target"}, "Target {{ live.next.target }}")
        with el("div", {"v-else": True, "class": "dr-live-station dr-live-done"}):
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, "●")
            el("strong", {}, "All that is planned has been read")


def _last() -> None:
    with el("section", {}):
        with el("div", {"class": "dr-live-last", ":class": "live.last ? 'dr-is-' + live.last.kind : ''",
                        "data-test": "live-last"}):  # fmt: skip
            with el("template", {"v-if": "live.last"}):
                with el("p", {"class": "dr-live-line"}):
                    el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ live.last.shape }}")
                    el("b", {}, "{{ live.last.station }}")
                    el("strong", {}, "{{ live.last.values }}")
                el("p", {"class": "dr-note"}, "Record {{ live.last.number }}, {{ live.last.where }}: "
                                              "{{ live.last.word }}")  # fmt: skip
            el("p", {"v-else": True, "class": "dr-note"}, "No reading yet.")
        el("progress", {"class": "dr-live-bar", "max": "100", ":value": "live.progress.percent",
                        "aria-label": "Read of the plan"})  # fmt: skip
        with el("p", {"class": "dr-live-count", "data-test": "live-progress"}):
            el("span", {}, "{{ live.progress.done }} of {{ live.progress.planned }} looks done")
            el("span", {}, "{{ live.progress.missing }} missing")
            el("span", {}, "{{ live.progress.records }} records")


def _troubles() -> None:
    with el("section", {"v-if": "live.troubles.length", "data-test": "live-troubles"}):
        el("h2", {}, "Look at these ({{ live.trouble_count }})")
        with el("div", {"class": "dr-list dr-live-list"}), el("button", {
            "type": "button", "v-for": "(each, k) in live.troubles", ":key": "k", "class": "dr-finding",
            ":class": "'dr-is-' + each.kind", "@click": "station = each.station",
        }):  # fmt: skip
            with el("span", {"class": "dr-finding-head"}):
                el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }}")
                el("b", {}, "{{ each.title }}")
                el("span", {}, "{{ each.place }}")
            el("span", {"class": "dr-finding-text"}, "{{ each.message }}")
            el("span", {"class": "dr-advice", "v-if": "each.advice"}, "→ {{ each.advice }}")
        el("p", {"class": "dr-note", "v-if": "live.troubles.some(each => each.shape === '■')"},
           "Test: {{ live.test }}.")  # fmt: skip


def _skipped() -> None:
    with el("section", {"v-if": "live.skipped.count", "data-test": "live-skipped"}):
        el("h2", {}, "Skipped or doubtful records ({{ live.skipped.count }})")
        with el("ul", {"class": "dr-live-skipped"}), el("li", {
            "v-for": "(each, k) in live.skipped.list", ":key": "live.skipped.count - k",
        }):  # fmt: skip
            el("small", {}, "{{ each.where }}")
            el("span", {}, "{{ each.message }}")
            el("span", {"v-if": "each.advice", "class": "dr-advice"}, " → {{ each.advice }}")
        el("p", {"class": "dr-note", "v-if": "live.skipped.note"}, "{{ live.skipped.note }}")


def _spots() -> None:
    with el("section", {}):
        el("h2", {}, "Stations")
        with el("p", {"class": "dr-key dr-live-key"}), el("span", {
            "v-for": "each in live.key", ":key": "each.word", ":class": "'dr-is-' + each.kind",
        }):  # fmt: skip
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
            el("span", {}, "{{ each.word }}")
        with el("div", {"class": "dr-scroll dr-tall", "tabindex": "0", "aria-label": "Stations as they are read"}), \
                el("table", {"class": "dr-live-table", "data-test": "live-rows"}):  # fmt: skip
            _heads()
            with el("tbody", {}), el("tr", {
                "v-for": "each in live.rows", ":key": "each.key", "@click": "station = each.station", "tabindex": "0",
                "@keydown.enter": "station = each.station", ":class": "{'dr-on': station === each.station}",
            }):  # fmt: skip
                _cells()
        el(
            "p",
            {"class": "dr-note"},
            "What is next comes first, then the latest. Scatter: standard deviation of repeats, beside the one that "
            "the budget lets expect and where most of that comes from. Numbers in the picture are means in "
            "{{ live.unit }}.",
        )
        el("p", {"class": "dr-note", "v-if": "live.rows_note"}, "{{ live.rows_note }}.")


def _heads() -> None:
    with el("thead", {}), el("tr", {}):
        el("th", {"scope": "col"}, "Station")
        el("th", {"scope": "col"}, "n")
        for head in ("Mean", "Scatter", "Drift"):
            with el("th", {"scope": "col"}):
                el("span", {}, head)
                el("small", {}, "[{{ live.unit }}" + ("/h]" if head == "Drift" else "]"))


def _cells() -> None:
    with el("td", {":class": "'dr-is-' + each.kind"}):
        el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
        el("span", {}, "{{ each.name }}")
        el("small", {"v-if": "each.where", "class": "dr-under"}, "{{ each.where }}")
        el("small", {"v-if": "each.word.includes(' of ')", "class": "dr-under"}, "{{ each.word }}")
        el("span", {"v-else": True, "class": "dr-hidden"}, "{{ each.word }}")
    el("td", {}, "{{ each.n }}")
    el("td", {}, "{{ each.mean }}")
    with el("td", {"class": "dr-wrap", ":class": "each.wide ? 'dr-is-open' : ''"}):
        el("span", {"v-if": "each.wide", "class": "dr-shape", "title": "wider than the budget lets expect"}, "▲ ")
        el("span", {}, "{{ each.scatter }}")
        el("small", {"v-if": "each.expected", "class": "dr-under"}, "{{ each.expected }}")
    with el("td", {}):
        el("span", {}, "{{ each.drift }}")
        el("small", {"v-if": "each.drift_u", "class": "dr-under"}, "{{ each.drift_u }}")


def _drifts() -> None:
    with el("section", {"v-if": "live.drifts.length", "data-test": "live-drifts"}):
        el("h2", {}, "Drift of set-ups, from what was read again")
        with el("p", {"v-for": "each in live.drifts", ":key": "each.place + each.channel"}):
            el("b", {}, "{{ each.place }}, {{ each.channel }}: ")
            el("span", {}, "{{ each.words }}")


def _missing() -> None:
    with el("section", {"v-if": "live.missing.length", "data-test": "live-missing"}):
        el("h2", {}, "Missing ({{ live.progress.missing }})")
        with el("p", {"v-for": "each in live.missing", ":key": "each.setup"}):
            el("b", {}, "{{ each.setup }} ({{ each.count }}): ")
            el("span", {}, "{{ each.names }}")
