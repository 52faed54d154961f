"""The drawing of a course over visits: points with bars of U, limits and the line of a trend; plain data for SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from scenes.reductions.quantities.shown import Scale
from scenes.vectors import Floats
from viewer import text
from viewer.logic.plots_axes import Axis, axis_over, points_text, ticks_between
from viewer.logic.result_values import bare, headline

__all__ = ["Course", "Line", "course_chart"]

Document = dict[str, Any]

SIZE = (372, 196)
LEFT, RIGHT, TOP, BOTTOM = 52.0, 12.0, 12.0, 40.0
INSET = 22.0
"""Points stay this far from the ends of the axis across."""

FAR = 3.0
"""Limits farther out than so many times what is drawn are told in words instead."""

SHORT = 13
"""Letters of the name of a visit that have room below it."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """The line of a trend: days as ordinals, values and half-width of its band (p,) [SI]."""

    days: list[int]
    values: Floats
    half: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """What is drawn: visits with value and U [SI], their dates where all have one, the trend and the limits."""

    name: str
    scale: Scale
    told: Sequence[tuple[str, float, float]]
    days: Sequence[date] | None
    line: Line | None
    limits: tuple[float, ...]


def course_chart(course: Course, sign: bool) -> Document:
    """Points, bars, line, band, limits and ticks in the units of the drawing."""
    width, height = SIZE
    values = np.array([each[1] for each in course.told])
    half = np.array([each[2] for each in course.told])
    near = [each for each in course.limits if abs(each) <= FAR * float(np.max(np.abs(values) + half, initial=1e-12))]
    line = [] if course.line is None else [course.line.values]
    y = axis_over(np.concatenate([values - half, values + half, near, *line]), height - BOTTOM, TOP, zero=True)
    x, at = _across(course)
    drawn: Document = {
        "name": course.name, "width": width, "height": height, "left": LEFT, "right": width - RIGHT,
        "foot": height - BOTTOM, "zero": round(float(y.at(0.0)), 1),
        "unit": text.screen_unit(course.scale.unit) + course.scale.behind,
        "label": _label(course, sign),
        "dots": [_dot(course, i, float(at[i]), y, sign) for i in range(len(values))],
        "limits": [{"y": round(float(y.at(each)), 1), "text": f"limit {headline(course.scale, each, whole=False)}"}
                   for each in near],
        "x_ticks": _x_ticks(course, x, at),
        "y_ticks": [{"y": round(float(y.at(each)), 1), "text": _tick(course.scale, each, sign)}
                    for each in _values(course.scale, y)],
        "line": "", "band": "",
    }  # fmt: skip
    if course.line is not None and course.days is not None:
        along = x.at(np.array(course.line.days, dtype=np.float64))
        mine, spread = course.line.values, course.line.half
        low, high = (np.clip(y.at(mine + side * spread), TOP, height - BOTTOM) for side in (-1.0, 1.0))
        drawn["line"] = points_text(along, y.at(mine))
        drawn["band"] = points_text(np.concatenate([along, along[::-1]]), np.concatenate([high, low[::-1]]))
    return drawn


def _across(course: Course) -> tuple[Axis, Floats]:
    """Axis across, by dates or by the order of the visits, and the places of the visits."""
    where = np.arange(len(course.told), dtype=np.float64)
    if course.days is not None:
        where = np.array([each.toordinal() for each in course.days], dtype=np.float64)
    low, high = float(where.min()), float(where.max())
    if high <= low:
        low, high = low - 1.0, high + 1.0
    x = Axis(low, high, LEFT + INSET, SIZE[0] - RIGHT - INSET)
    return x, x.at(where)


def _x_ticks(course: Course, x: Axis, at: Floats) -> list[Document]:
    """Names of the visits, or dates where there are such; those that would lie over another one are left out."""
    words = [_short(each[0]) for each in course.told] if course.days is None else [str(day) for day in course.days]
    ticks: list[Document] = []
    room = (x.end - x.start) / max(1, min(len(words), 4) - 1) * 0.8 if len(words) > 1 else 0.0
    for place, word in zip(at.tolist(), words, strict=True):
        if not ticks or place - ticks[-1]["x"] >= min(room, 78.0):
            ticks.append({"x": round(place, 1), "text": word})
    return ticks


def _short(name: str) -> str:
    return name if len(name) <= SHORT else name[: SHORT - 1] + "…"


def _values(scale: Scale, y: Axis) -> Floats:
    """Ticks [SI] that are round in the unit."""
    per = scale.number(1.0)
    result: Floats = ticks_between(y.low * per, y.high * per, 6) / per
    return result


def _tick(scale: Scale, value: float, sign: bool) -> str:
    number = scale.number(value)
    return text.signed(f"{0.0 if abs(number) < 1e-9 else number:{'+' if sign else ''}.4g}")


def _dot(course: Course, i: int, x: float, y: Axis, sign: bool) -> Document:
    visit, value, u = course.told[i]
    told = f"{bare(course.scale, value, sign=sign)} ± {bare(course.scale, u)} {text.screen_unit(course.scale.unit)}"
    when = f" ({course.days[i]})" if course.days is not None and str(course.days[i]) not in visit else ""
    return {
        "visit": visit, "x": round(x, 1), "y": round(float(y.at(value)), 1), "low": round(float(y.at(value - u)), 1),
        "high": round(float(y.at(value + u)), 1), "title": f"{visit}{when}: {told}",
    }  # fmt: skip


def _label(course: Course, sign: bool) -> str:
    told = [f"{each[0]} {bare(course.scale, each[1], sign=sign)}" for each in course.told]
    return f"{course.name} over the visits: {', '.join(told)}"
