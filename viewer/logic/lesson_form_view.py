"""The lesson of the reference lines in plain data; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.reductions.form import FormResult
from scenes.units import from_si, to_si
from scenes.vectors import Floats, Indices
from viewer import text
from viewer.logic.charts import Curve, Marks, line_chart
from viewer.logic.lesson_form import FormLesson, FormLessonResult, form_lesson_result
from viewer.logic.lesson_form_sliders import FORM_REFERENCES

__all__ = ["contacts_of", "form_document", "form_of_sliders"]

Document = dict[str, Any]

LEAST_HEIGHT = 10e-6
"""The charts reach at least this far [m]."""

LEVEL = 1e-9
"""Places of one side whose heights differ by less than this [m] hold the zone together."""


def form_of_sliders(
    lesson: FormLesson, shape: str, size: float, tilt: float, last: float, scatter: float
) -> FormLessonResult:
    """What the sliders do: ``tilt`` in seconds of arc, the others in micrometres."""
    lengths = [to_si(float(value), "um", "length") for value in (size, last, scatter)]
    return form_lesson_result(lesson, shape, lengths[0], to_si(float(tilt), "arcsec", "angle"), *lengths[1:])


def contacts_of(form: FormResult) -> tuple[Indices, Indices]:
    """Stations that are highest and lowest from the line, all of them where several are."""
    deviations = form.deviations
    return np.nonzero(deviations > deviations.max() - LEVEL)[0], np.nonzero(deviations < deviations.min() + LEVEL)[0]


def form_document(lesson: FormLesson, result: FormLessonResult, way: str) -> Document:
    """Everything that the panel shows for one place of the sliders; ``way`` is the line that is looked at."""
    unit = lesson.layout.units.deviation
    return {
        "numbers": [_number(lesson, result.forms[each], each, way, unit) for each in FORM_REFERENCES]
        + [_added(result, way, unit)],
        "note": _note(result, unit), "bars": [], "scale": "",
        "lines": [_profile(lesson, result, way, unit)],
    }  # fmt: skip


def _words(way: str) -> str:
    return str(FORM_REFERENCES[way])


def _number(lesson: FormLesson, form: FormResult, way: str, chosen: str, unit: str) -> Document:
    names = list(lesson.layout.stations)
    high, low = (", ".join(names[i] for i in side[:3]) for side in contacts_of(form))
    flat = form.value < LEVEL
    return {
        "key": way, "value": text.quantity(form.value, unit, fine=True), "words": f"from {_words(way)}",
        "more": "a straight line" if flat else f"high {high} · low {low}", "on": way == chosen,
    }  # fmt: skip


def _added(result: FormLessonResult, way: str, unit: str) -> Document:
    value = result.added[way]
    return {
        "key": "added", "value": text.quantity(value, unit, fine=True, sign=abs(value) > 5e-8),
        "words": "added by the scatter", "more": "on average",
    }  # fmt: skip


def _note(result: FormLessonResult, unit: str) -> str:
    values = [form.value for form in result.forms.values()]
    spread = max(values) - min(values)
    if max(values) < LEVEL:
        return "The rail is straight, and every line says so."
    if spread < 5e-8:
        return "All three lines give the same value here."
    return f"The same readings give values that differ by {text.quantity(spread, unit, fine=True)}."


def _ticks(lesson: FormLesson) -> list[tuple[float, str]]:
    names = list(lesson.layout.stations)
    shown = [0, len(names) // 2, len(names) - 1]
    return [(float(lesson.places[i]), names[i]) for i in shown]


def _profile(lesson: FormLesson, result: FormLessonResult, way: str, unit: str) -> Document:
    """The rail as read with the three lines, and the stations that hold the value of the chosen one."""
    per_metre, x = from_si(1.0, unit, "length"), lesson.places
    ends = x[[0, -1]]
    others = iter(("three", "four"))
    lines = [
        Curve(_words(each), ends, per_metre * _line(form, ends), "two" if each == way else next(others))
        for each, form in result.forms.items()
    ]
    held = np.unique(np.concatenate(contacts_of(result.forms[way])))
    lines.sort(key=lambda curve: curve.kind, reverse=True)
    return line_chart(
        f"Rail as read [{text.screen_unit(unit)}]", [Curve("rail", x, per_metre * result.heights), *lines],
        _ticks(lesson), per_metre * LEAST_HEIGHT,
        [Marks(x, per_metre * result.heights), Marks(x[held], per_metre * result.heights[held], "full")],
    )  # fmt: skip


def _line(form: FormResult, places: Floats) -> Floats:
    offset, slope = form.coefficients
    return np.asarray(offset + slope * places)
