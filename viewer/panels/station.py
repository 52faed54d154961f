"""The chosen station of the plan: the face of its detector, how it is read, and numbers."""

from __future__ import annotations

from viewer.logic.detector_face import FACE_SIZE
from viewer.panels.detector_face import face_drawing
from viewer.panels.markup import el

__all__ = ["station_card"]


def station_card() -> None:
    """Put the card; without a chosen station only the way to choose one."""
    with el("section", {"class": "dr-station", "data-test": "station"}):
        with el("label", {"class": "dr-row"}):
            el("h2", {}, "Station")
            with el("select", {":value": "station", "@change": "station = $event.target.value; plan_row = -1",
                               "data-test": "choose-station"}):  # fmt: skip
                el("option", {"value": ""}, "none chosen")
                el("option", {"v-for": "each in station_names", ":key": "each", ":value": "each"}, "{{ each }}")
        el(
            "p",
            {"class": "dr-hidden", "aria-live": "polite"},
            "{{ plan_station ? 'Station ' + plan_station.name + '. ' + (plan_station.face?.label ?? '') : '' }}",
        )
        with el("div", {"v-if": "plan_station", "class": "dr-card dr-face-card"}):
            with el("div", {"class": "dr-card-head"}):
                el("h2", {}, "{{ plan_station.name }}")
                el("span", {"class": "dr-note"}, "{{ plan_station.place }}")
                el("button", {"type": "button", "class": "dr-icon", "aria-label": "Close",
                              "@click": "station = ''; plan_row = -1"}, "✕")  # fmt: skip
            with el("template", {"v-if": "plan_station.face"}):
                _face()
                _facts()
            _rows()
            el("p", {"class": "dr-note", "v-if": "plan_station.note"}, "{{ plan_station.note }}")


def _face() -> None:
    with el("figure", {"class": "dr-face"}):
        face_drawing("plan_station.face", (0, 0, *FACE_SIZE), "face")
        with el("figcaption", {}):
            el("p", {"v-for": "line in plan_station.face.caption", ":key": "line"}, "{{ line }}")


def _facts() -> None:
    with el("dl", {}), el("div", {"v-for": "each in plan_station.facts", ":key": "each.name"}):
        el("dt", {}, "{{ each.name }}")
        el("dd", {}, "{{ each.value }}")


def _rows() -> None:
    with el("div", {"class": "dr-scroll dr-short", "v-if": "plan_station.rows.length > 1", "tabindex": "0",
                    "aria-label": "Readings of this station"}), el("table", {"data-test": "station-rows"}):  # fmt: skip
        with el("thead", {}), el("tr", {}):
            el("th", {"scope": "col"}, "Read from")
            for head in ("h", "v", "Margin"):
                with el("th", {"scope": "col"}):
                    el("span", {}, head)
        with el("tbody", {}), el("tr", {
            "v-for": "each in plan_station.rows", ":key": "each.row", "tabindex": "0", "@click": "plan_row = each.row",
            "@keydown.enter": "plan_row = each.row", ":class": "{'dr-on': plan_row === each.row}",
            ":aria-selected": "plan_row === each.row", ":data-test": "'row-' + each.row",
        }):  # fmt: skip
            with el("td", {":class": "'dr-is-' + each.kind"}):
                el("span", {"class": "dr-shape", "aria-hidden": "true"}, "{{ each.shape }} ")
                el("span", {}, "{{ each.setup }}")
                el("small", {"v-if": "each.how", "class": "dr-under"}, "{{ each.how }}")
                el("small", {"v-if": "each.kind !== 'good'", "class": "dr-under"}, "{{ each.sight }}")
                el("span", {"v-else": True, "class": "dr-hidden"}, "{{ each.sight }}")
            for key in ("h", "v", "margin"):
                el("td", {}, f"{{{{ each.{key} }}}}")
