"""The tab of diagnosis: what stands out, suspects, suspicions, closures, and what to read again."""

from __future__ import annotations

from viewer.panels.closures import closures
from viewer.panels.markup import el, verdict_mark

__all__ = ["diagnosis_panel"]

SHAPES = (
    ("good", "●", "within 2 σ"),
    ("open", "■", "2 to 3 σ"),
    ("bad", "◆", "beyond 3 σ"),
    ("note", "○", "uncontrolled"),
)


def diagnosis_panel() -> None:
    """Put the widgets of the tab."""
    _choices()
    el("p", {"class": "dr-note", "v-if": "diagnosis_word", "data-test": "diagnosis-word", "aria-live": "polite"},
       "{{ diagnosis_word }}")  # fmt: skip
    with el("template", {"v-if": "diagnosis"}):
        verdict_mark("diagnosis.head")
        with el("p", {"class": "dr-key dr-key-tight", "aria-label": "Stations in the picture"}):
            el("span", {}, "Worst reading of a station:")
            for kind, shape, words in SHAPES:
                with el("span", {"class": f"dr-is-{kind}"}):
                    el("span", {"class": "dr-shape", "aria-hidden": "true"}, shape)
                    el("span", {}, words)
        _suspects()
        _card()
        _again()
        _suspicions()
        closures()
        _setups()
        _untold()


def _choices() -> None:
    with el("div", {"class": "dr-buttons", "role": "group", "aria-label": "Visit",
                    "v-if": "diagnosis_visits.length > 1"}):  # fmt: skip
        el("button", {
            "type": "button", "v-for": "each in diagnosis_visits", ":key": "each", "@click": "diagnosis_visit = each",
            ":class": "{'dr-on': diagnosis_visit === each}", ":aria-pressed": "diagnosis_visit === each",
            ":data-test": "'diagnosis-visit-' + each",
        }, "{{ each }}")  # fmt: skip
    with el("label", {"class": "dr-row", "v-if": "diagnosis_groups.length > 1"}):
        el("span", {}, "Set-ups")
        with el("select", {"v-model.number": "diagnosis_group", "data-test": "diagnosis-group"}):
            el("option", {"v-for": "each in diagnosis_groups", ":key": "each.number", ":value": "each.number"},
               "{{ each.title }}")  # fmt: skip


def _suspects() -> None:
    with el("section", {"v-if": "diagnosis.suspects.length", "data-test": "suspects"}):
        el("h2", {}, "What may have happened, the likeliest first")
        with el("div", {
            "v-for": "each in diagnosis.suspects", ":key": "each.number", "class": "dr-finding dr-is-bad dr-suspect",
            "role": "button", "tabindex": "0", "@click": "suspect = each.number",
            "@keydown.enter": "suspect = each.number", ":class": "{'dr-on': suspect === each.number}",
            ":aria-pressed": "suspect === each.number", ":data-test": "'suspect-' + each.number",
        }):  # fmt: skip
            with el("p", {"class": "dr-suspect-head"}):
                el("b", {"class": "dr-rank"}, "{{ each.rank }}")
                el("span", {}, "{{ each.about }}.")
            with el("p", {"v-if": "each.size"}):
                el("b", {}, "{{ each.size }} ")
                el("small", {}, "{{ each.size_note }}")
            el("p", {"class": "dr-note", "v-if": "each.stated"}, "{{ each.stated }}")
            el("p", {"class": "dr-advice"}, "→ {{ each.confirm }}.")
            with el("template", {"v-if": "suspect === each.number"}):
                el("p", {"class": "dr-note"}, "{{ each.evidence }}")
                with el("div", {"v-if": "each.others.length"}):
                    el("p", {}, "These readings cannot tell it from:")
                    with el("ul", {"class": "dr-others"}):
                        el("li", {"v-for": "other in each.others", ":key": "other"}, "{{ other }}")
                with el("div", {"v-if": "each.changes.length"}):
                    el("p", {}, "Taken out, it would change (not applied):")
                    with el("ul", {"class": "dr-others"}):
                        el("li", {"v-for": "part in each.changes", ":key": "part.name"},
                           "{{ part.name }} {{ part.value }}: {{ part.change }}")  # fmt: skip
                el("p", {"class": "dr-note"}, "Arrows in the picture: what it would do to the readings.")
        el("p", {"class": "dr-note"}, "{{ diagnosis.level }}")


def _card() -> None:
    with el("section", {"class": "dr-card", "v-if": "diagnosis_card", "data-test": "diagnosis-card",
                        "aria-live": "polite"}):  # fmt: skip
        with el("div", {"class": "dr-card-head"}):
            el("h2", {}, "Station {{ diagnosis_card.name }}")
            el("button", {"type": "button", "class": "dr-icon", "aria-label": "Close", "@click": "station = ''"}, "✕")
        with el("p", {"v-for": "each in diagnosis_card.facts", ":key": "each.key", ":class": "'dr-is-' + each.kind"}):
            el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
            el("b", {}, "{{ each.reading }}: ")
            el("span", {}, "{{ each.word }} ")
            el("small", {}, "{{ each.left }}")


def _again() -> None:
    with el("section", {"v-if": "diagnosis.advice.length", "data-test": "again"}):
        el("h2", {}, "Read again")
        with el("button", {
            "type": "button", "v-for": "each in diagnosis.advice", ":key": "each.station + each.setup",
            "class": "dr-finding dr-is-forecast", "@click": "station = each.station",
            ":class": "{'dr-on': station === each.station}", ":data-test": "'again-' + each.station",
        }):  # fmt: skip
            with el("span", {"class": "dr-finding-head"}):
                el("b", {}, "{{ each.station }}")
                el("span", {}, "from {{ each.setup }}")
            el("span", {}, "{{ each.reason }}")


def _suspicions() -> None:
    with el("section", {"v-if": "diagnosis.suspicions.length", "data-test": "suspicions"}):
        el("h2", {}, "Suspicions from the shape alone")
        el("p", {"class": "dr-caution"}, "△ {{ diagnosis.suspicion_note }}")
        with el("div", {"v-for": "each in diagnosis.suspicions", ":key": "each.key", "class": "dr-suspicion"}):
            with el("p", {}):
                el("span", {"aria-hidden": "true"}, "△ ")
                el("span", {}, "{{ each.about }}?")
            with el("p", {"v-if": "each.size"}):
                el("b", {}, "{{ each.size }}")
            el("p", {"class": "dr-note"}, "{{ each.share }}")
            el("p", {"class": "dr-advice"}, "→ {{ each.confirm }}.")


def _setups() -> None:
    with el("section", {"v-if": "diagnosis.setups.length"}):
        el("h2", {}, "How each set-up closes")
        el("p", {"v-for": "each in diagnosis.setups", ":key": "each.name"},
           "{{ each.name }}: chi-square {{ each.chi_square }}, expected {{ each.spare }}")  # fmt: skip


def _untold() -> None:
    with el("section", {"v-if": "diagnosis.untold.length", "data-test": "untold"}):
        el("h2", {}, "What these readings cannot show")
        with el("div", {"v-for": "each in diagnosis.untold", ":key": "each.kind", "class": "dr-fact"}):
            with el("p", {}):
                el("b", {}, "{{ each.kind }} ")
                el("span", {}, "{{ each.where }}")
            el("p", {"class": "dr-note"}, "→ {{ each.confirm }}.")
