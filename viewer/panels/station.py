"""The chosen station of the plan: the face of its detector, how it is read, and numbers."""

from __future__ import annotations

from viewer.logic.detector_face import FACE_SIZE
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
    width, height = FACE_SIZE
    face = "plan_station.face"
    with el("figure", {"class": "dr-face"}):
        with el("svg", {"viewBox": f"0 0 {width} {height}", "role": "img", ":aria-label": f"{face}.label",
                        "data-test": "face"}):  # fmt: skip
            _box(f"{face}.mount", "dr-face-mount")
            _box(f"{face}.window", "dr-face-window")
            _axes(face)
            _free(f"{face}.free")
            _box(f"{face}.room", "dr-face-room")
            with el("g", {"v-for": f"spot in {face}.spots", ":key": "spot.key",
                          ":class": "'dr-spot dr-spot-' + spot.kind"}):  # fmt: skip
                el("polygon", {":points": "spot.points"})
                el("path", {":d": "`M${spot.x - 4},${spot.y} h8 M${spot.x},${spot.y - 4} v8`"})
            el("text", {"v-for": f"each in {face}.margins", ":key": "each.key", ":x": "each.x", ":y": "each.y",
                        ":text-anchor": "each.anchor", ":class": "each.kind"}, "{{ each.text }}")  # fmt: skip
        with el("figcaption", {}):
            el("p", {"v-for": f"line in {face}.caption", ":key": "line"}, "{{ line }}")


def _box(box: str, kind: str) -> None:
    el("rect", {"v-if": box, ":x": f"{box}.x", ":y": f"{box}.y", ":width": f"{box}.width", ":height": f"{box}.height",
                "class": kind})  # fmt: skip


def _axes(face: str) -> None:
    window, middle = f"{face}.window", f"{face}.middle"
    el("line", {":x1": f"{window}.x", ":y1": f"{middle}.y", ":x2": f"{window}.x + {window}.width", ":y2": f"{middle}.y",
                "class": "dr-face-axis"})  # fmt: skip
    el("line", {":x1": f"{middle}.x", ":y1": f"{window}.y", ":x2": f"{middle}.x",
                ":y2": f"{window}.y + {window}.height", "class": "dr-face-axis"})  # fmt: skip
    el("text", {":x": f"{window}.x + {window}.width - 6", ":y": f"{middle}.y - 5", "text-anchor": "end",
                "class": "dr-face-letter"}, "h")  # fmt: skip
    el("text", {":x": f"{middle}.x + 6", ":y": f"{window}.y + 13", "class": "dr-face-letter"}, "v")


def _free(free: str) -> None:
    """Arrow with two heads."""
    with el("g", {"v-if": free, "class": "dr-face-free"}):
        el("line", {":x1": f"{free}.x1", ":y1": f"{free}.y1", ":x2": f"{free}.x2", ":y2": f"{free}.y2"})
        start, end = f"M${{{free}.x1}},${{{free}.y1}}", f"M${{{free}.x2}},${{{free}.y2}}"
        el("path", {"v-if": f"{free}.axis === 'h'", ":d": f"`{start} l8,-4 v8 z {end} l-8,-4 v8 z`"})
        el("path", {"v-else": True, ":d": f"`{start} l-4,8 h8 z {end} l-4,-8 h8 z`"})


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
