"""The face of a detector as SVG, drawn from the plain data of ``viewer.logic.detector_face``."""

from __future__ import annotations

from viewer.panels.markup import el

__all__ = ["face_drawing"]


def face_drawing(face: str, part: tuple[float, float, float, float], test: str) -> None:
    """The drawing whose data is the expression ``face``; ``part`` of it (x, y, width, height) is shown."""
    with el("svg", {"viewBox": " ".join(f"{each:g}" for each in part), "role": "img", ":aria-label": f"{face}.label",
                    "data-test": test}):  # fmt: skip
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
