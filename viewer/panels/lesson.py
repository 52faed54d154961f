"""The lesson tab: which lesson, its numbers and charts, what can be moved, and what it teaches."""

from __future__ import annotations

from collections.abc import Callable
from itertools import groupby
from typing import Any

from viewer.logic.lesson_base_view import HEIGHT, WIDTH
from viewer.logic.lesson_movables import Choice, Movable, Pick, Press, Slider
from viewer.logic.lesson_sliders import LESSONS
from viewer.panels.charts import line_chart
from viewer.panels.markup import el, say
from viewer.text_lessons import HAPPENS, NAMES, STEPS

__all__ = ["about_movable", "lesson_panel"]


def lesson_panel(server: Any, on_reset: Callable[..., Any], on_press: Callable[..., Any]) -> None:
    """Put the widgets of the tab."""
    with el("div", {"class": "dr-buttons dr-lessons", "role": "group", "aria-label": "Lesson"}):
        for kind, name in NAMES.items():
            el("button", {
                "type": "button", "@click": f"lesson_kind = '{kind}'; lesson_about = ''", "data-test": f"lesson-{kind}",
                ":class": f"{{'dr-on': lesson_kind === '{kind}'}}", ":aria-pressed": f"lesson_kind === '{kind}'",
            }, name)  # fmt: skip
    with el("div", {"v-if": "lesson", "class": "dr-lesson"}):
        with el("div", {"class": "dr-column"}):
            _numbers()
            _charts()
        with el("div", {"class": "dr-column"}):
            for kind, movable in LESSONS.items():
                _controls(kind, movable, say(server, on_reset), lambda each: say(server, on_press, f"['{each.name}']"))
    for kind in LESSONS:
        _words(kind)


def _controls(kind: str, movable: tuple[Movable, ...], reset: str, press: Callable[[Press], str]) -> None:
    with el("section", {"v-if": f"lesson_kind === '{kind}'", "class": "dr-movable"}):
        with el("div", {"class": "dr-movable-head"}):
            el("h2", {}, "Move one at a time")
            el("button", {"type": "button", "class": "dr-plain", "@click": reset, "data-test": "reset"}, "Set all back")
        for kinds, group in groupby(movable, type):
            if kinds is Press:
                _presses([each for each in group if isinstance(each, Press)], press)
                continue
            for each in group:
                if isinstance(each, Slider):
                    _slider(each)
                elif isinstance(each, Choice):
                    _choice(each)
                elif isinstance(each, Pick):
                    _pick(each)
        with el("div", {"class": "dr-about dr-about-here", "aria-live": "polite"}):
            about_movable(movable)
            names = ", ".join(f"'{each.name}'" for each in movable)
            el("p", {"v-if": f"![{names}].includes(lesson_about)"}, "Touch one to read what it does.")


def about_movable(movable: tuple[Movable, ...]) -> None:
    """What a trainer says about what was touched last."""
    for each in movable:
        with el("p", {"v-if": f"lesson_about === '{each.name}'"}):
            el("b", {}, f"{each.title}. ")
            el("span", {}, each.about)


def _slider(each: Slider) -> None:
    shown = f"(Number({each.name}) > 0 ? '+' : '') + Number({each.name}).toFixed({each.digits}).replace('-', '−')"
    if each.low >= 0.0:
        shown = f"Number({each.name}).toFixed({each.digits})"
    with el("label", {"class": "dr-error"}):
        el("span", {}, each.title)
        el("input", {
            "type": "range", "min": f"{each.low:g}", "max": f"{each.high:g}", "step": f"{each.step:g}",
            ":value": each.name, "data-test": each.name, "@focus": f"lesson_about = '{each.name}'",
            "@input": f"lesson_about = '{each.name}'; {each.name} = Number($event.target.value)",
            ":aria-valuetext": f"{shown} + ' {each.unit}'",
        })  # fmt: skip
        el("b", {"data-test": f"{each.name}-text"}, f"{{{{ {shown} }}}} {each.unit}")


def _choice(each: Choice) -> None:
    with el("div", {"class": "dr-buttons", "role": "group", "aria-label": f"{each.off} or {each.on}"}):
        for value, words in (("false", each.off), ("true", each.on)):
            on = each.name if value == "true" else f"!{each.name}"
            el("button", {
                "type": "button", "@click": f"{each.name} = {value}; lesson_about = '{each.name}'",
                ":class": f"{{'dr-on': {on}}}", ":aria-pressed": f"!!({on})", "data-test": f"{each.name}-{value}",
            }, words)  # fmt: skip


def _pick(each: Pick) -> None:
    with el("div", {"class": "dr-buttons", "role": "group", "aria-label": each.title}):
        for value, words in each.ways:
            on = f"{each.name} === '{value}'"
            el("button", {
                "type": "button", "@click": f"{each.name} = '{value}'; lesson_about = '{each.name}'",
                ":class": f"{{'dr-on': {on}}}", ":aria-pressed": f"!!({on})", "data-test": f"{each.name}-{value}",
            }, words)  # fmt: skip


def _presses(each: list[Press], press: Callable[[Press], str]) -> None:
    with el("div", {"class": "dr-presses"}):
        for one in each:
            el("button", {
                "type": "button", "class": "dr-plain", "data-test": one.name,
                "@click": f"lesson_about = '{one.name}'; {press(one)}",
            }, one.title)  # fmt: skip


def _numbers() -> None:
    with el("section", {"class": "dr-pair"}), el("div", {
        "v-for": "each in lesson.numbers", ":key": "each.key", ":class": "{'dr-on': each.on}",
    }):  # fmt: skip
        el("b", {":data-test": "'lesson-' + each.key"}, "{{ each.value }}")
        el("span", {}, "{{ each.words }}")
        el("small", {"v-if": "each.more"}, "{{ each.more }}")


def _charts() -> None:
    with el("section", {}):
        with el("figure", {"v-for": "chart in lesson.bars", ":key": "chart.name", "class": "dr-chart"}):
            el("figcaption", {}, "{{ chart.name }}")
            with el("svg", {"viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}", "preserveAspectRatio": "none", "role": "img",
                            ":aria-label": "chart.name"}):  # fmt: skip
                el("rect", {
                    "v-for": "bar in chart.bars", ":key": "bar.key", ":x": "bar.x", ":y": "bar.y",
                    ":width": "bar.width", ":height": "bar.height", ":class": "bar.high ? 'dr-up' : 'dr-down'",
                })  # fmt: skip
                el("line", {"x1": "0", "y1": f"{HEIGHT / 2:g}", "x2": f"{WIDTH:g}", "y2": f"{HEIGHT / 2:g}"})
        with el("template", {"v-for": "chart in lesson.lines", ":key": "chart.name"}):
            line_chart("chart")
        el("p", {"class": "dr-note", "v-if": "lesson.scale"}, "{{ lesson.scale }}")
        el("p", {"class": "dr-note", "v-if": "lesson.note", "data-test": "lesson-note"}, "{{ lesson.note }}")


def _words(kind: str) -> None:
    with el("div", {"v-if": f"lesson_kind === '{kind}'", "class": "dr-lesson"}):
        with el("section", {}):
            el("h2", {}, "What happens")
            for sentence in HAPPENS[kind]:
                el("p", {}, sentence)
        with el("section", {}):
            el("h2", {}, "Try this")
            with el("ol", {"class": "dr-steps"}):
                for step in STEPS[kind]:
                    el("li", {}, step)
