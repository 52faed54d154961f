"""The picture with what stands on it: views, layers, exaggeration, legend and scale."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from trame.widgets import client, rca
from trame.widgets import vtk as vtk_widgets

from viewer.logic.detector_face import FACE_PART
from viewer.logic.lesson_sliders import LESSONS
from viewer.panels.detector_face import face_drawing
from viewer.panels.lesson import about_movable
from viewer.panels.markup import el, say

__all__ = ["picture"]

JPEG_MOVING, JPEG_STILL = 70, 92
SCALE_MOVING = 0.6
"""Share of its width that a picture has while it is being turned, so that it comes more often."""


class BrowserView(vtk_widgets.VtkLocalView):  # type: ignore[misc]
    """Picture drawn in the browser; nothing is made for it until it is first asked for."""

    awake = False

    def update(self, *given: Any, **named: Any) -> None:
        """Send the scene to the browser."""
        if self.awake:
            super().update(*given, **named)


def picture(
    server: Any,
    render_window: Any,
    on_click: Callable[..., Any],
    on_hit: Callable[..., Any],
    on_view: Callable[..., Any],
) -> tuple[Any, Any]:
    """Put the picture; return the handler of the one drawn here and the widget of the one drawn in the browser."""
    with el("div", {
        "class": "dr-canvas", "data-test": "canvas",
        "@pointerdown.capture": "press = [$event.clientX, $event.clientY]",
        "@click": _click_only(server, on_click),
    }):  # fmt: skip
        client.SizeObserver("picture_size")
        with el("div", {"v-if": "drawn_by === 'server'", "class": "dr-fill"}):
            area = rca.RemoteControlledArea(display="image", name="picture")
            handler = area.create_view_handler(
                render_window, encoder="jpeg", target_fps=30, interactive_quality=JPEG_MOVING, still_quality=JPEG_STILL
            )
            _smaller_while_turned(handler)
        # It must not be there before its scene is: without one it stays empty for good.
        with el("div", {"v-if": "drawn_by === 'browser' && scene_browser_view", "class": "dr-fill"}):
            local = BrowserView(
                render_window, ref="browser_view", picking_modes=("['click']",), click=(on_hit, "[$event]")
            )
    _views(server, on_view)
    _layers()
    _legend()
    _faces()
    _about()
    return handler, local


def _smaller_while_turned(handler: Any) -> None:
    """Let the handler of a picture draw it smaller from a press of a button to its release."""
    pass_on = handler.on_interaction

    def on_interaction(origin: Any, event: dict[str, Any]) -> None:
        kind = str(event.get("type", ""))
        if kind.endswith("ButtonPress"):
            handler.scale = SCALE_MOVING
        pass_on(origin, event)
        if kind.endswith("ButtonRelease"):
            handler.scale = 1

    handler.on_interaction = on_interaction


def _click_only(server: Any, on_click: Callable[..., Any]) -> str:
    """A click counts where the pointer has not moved since it was pressed, so that turning chooses nothing."""
    box = "$event.currentTarget.getBoundingClientRect()"
    moved = "Math.abs($event.clientX - press[0]) + Math.abs($event.clientY - press[1])"
    where = f"[$event.clientX - {box}.left, $event.clientY - {box}.top, {box}.width, {box}.height]"
    return f"drawn_by === 'server' && {moved} < 6 && {say(server, on_click, where)}"


def _views(server: Any, on_view: Callable[..., Any]) -> None:
    with el("div", {"class": "dr-views dr-float", "role": "group", "aria-label": "Look from"}):
        el("button", {
            "v-for": "each in views", ":key": "each", "type": "button", "@click": say(server, on_view, "[each]"),
            ":data-test": "'view-' + each", ":class": "{'dr-on': view === each}", ":aria-pressed": "view === each",
        }, "{{ each === 'bed' ? 'Close' : each.charAt(0).toUpperCase() + each.slice(1) }}")  # fmt: skip


def _layers() -> None:
    with el("details", {"class": "dr-layers dr-float", "v-if": "tab === 'result'"}):
        el("summary", {"data-test": "layers"}, "Show")
        with el("label", {"v-for": "each in layer_choices", ":key": "each.value", "class": "dr-switch"}):
            el("input", {
                "type": "checkbox", ":checked": "layers.includes(each.value)", ":data-test": "'layer-' + each.value",
                "@change": "layers = layers.includes(each.value) ? layers.filter(l => l !== each.value) : "
                           "[...layers, each.value]",
            })  # fmt: skip
            el("span", {}, "{{ each.title }}")


def _faces() -> None:
    """Detectors of the lesson, where it has some to show."""
    with el("div", {"class": "dr-faces dr-float", "v-if": "tab === 'lesson' && lesson?.faces?.length",
                    "data-test": "lesson-faces"}), \
            el("figure", {"v-for": "each in lesson.faces", ":key": "each.key"}):  # fmt: skip
        el("figcaption", {}, "{{ each.name }}")
        face_drawing("each.face", FACE_PART, "lesson-face")
        el("b", {}, "{{ each.value }}")


def _about() -> None:
    """What the slider that was touched last does, beside the picture that shows it."""
    with el("div", {"class": "dr-about dr-about-float dr-float", "v-if": "tab === 'lesson' && lesson_about",
                    "aria-live": "polite", "data-test": "about"}):  # fmt: skip
        for movable in LESSONS.values():
            about_movable(movable)
        el("button", {"type": "button", "class": "dr-icon", "aria-label": "Close", "@click": "lesson_about = ''"}, "✕")


def _slider(value: str, most: str, shown: str) -> None:
    with el("label", {"class": "dr-slide", "v-if": shown}):
        el("span", {"class": "dr-hidden"}, "Exaggeration")
        el("input", {
            "type": "range", "min": "0", ":max": most, "step": "0.01", ":value": value,
            "@input": f"{value} = Number($event.target.value)", "data-test": value.replace("_log", ""),
            ":aria-valuetext": "legend.factor",
        })  # fmt: skip


def _legend() -> None:
    with el("div", {"class": "dr-legend dr-float", "v-if": "legend && tab !== 'plan'", "data-test": "legend",
                    ":class": "{'dr-legend-plain': !legend.map}"}):  # fmt: skip
        with el("div", {"class": "dr-scale"}):
            el("strong", {"data-test": "factor"}, "{{ legend.factor }}")
            el("span", {"v-if": "legend.bar"}, "{{ legend.bar }}")
        _slider("zoom_log", "zoom_most", "tab === 'result' && legend.map")
        _slider("change_zoom_log", "change_zoom_most", "legend.slider === 'change_zoom_log'")
        _slider("mark_zoom_log", "mark_zoom_most", "legend.slider === 'mark_zoom_log'")
        _slider("moves_zoom_log", "moves_zoom_most", "legend.slider === 'moves_zoom_log'")
        _slider("prism_zoom", "prism_zoom_most", "legend.slider === 'prism_zoom'")
        with el("template", {"v-if": "legend.map"}):
            _map()


def _map() -> None:
    with el("div", {"class": "dr-map", ":class": "{'dr-limited': legend.limits.length}"}):
        el("div", {"class": "dr-map-bar", ":style": "{background: legend.gradient}"})
        with el("div", {
            "v-for": "each in legend.limits", ":key": "each.at", "class": "dr-map-limit",
            ":class": "{'dr-at-low': each.at < 10, 'dr-at-high': each.at > 90}",
            ":style": "{left: each.at + '%'}",
        }):  # fmt: skip
            el("i", {"aria-hidden": "true"})
            el("span", {}, "{{ each.text }}")
        el("i", {"class": "dr-map-zero", "aria-hidden": "true"})
    with el("div", {"class": "dr-map-ends"}):
        el("span", {}, "{{ legend.low }}")
        el("span", {}, "{{ legend.what }}")
        el("span", {}, "{{ legend.high }}")
