"""The lesson of the bent beam in plain data; no widgets, no picture."""

from __future__ import annotations

from typing import Any

from scenes.units import from_si
from viewer import text
from viewer.logic.charts import Curve, Marks, line_chart
from viewer.logic.lesson_air import AirLesson, AirResult

__all__ = ["air_document"]

Document = dict[str, Any]

LEAST_HEIGHT = 10e-6
"""The chart reaches at least this far [m]."""


def _metres(value: float) -> str:
    return f"{value:.3g} m"


def air_document(lesson: AirLesson, result: AirResult, zeroed: bool) -> Document:
    """Everything that the panel shows for one place of the sliders."""
    unit = lesson.layout.units.deviation
    distances, per_metre = lesson.distances, from_si(1.0, unit, "length")
    ticks = [(0.0, "emitter"), (0.5 * lesson.reach, _metres(0.5 * lesson.reach)), (lesson.reach, _metres(lesson.reach))]
    at_end, half_way = (
        text.quantity(value, unit, fine=True, sign=abs(value) > 5e-8) for value in (result.at_end, result.half_way)
    )
    bend = text.quantity(abs(result.bend), unit, fine=True)
    return {
        "numbers": [
            {"key": "at-end", "value": at_end, "words": f"at the far target, {_metres(lesson.reach)}",
             "more": "set to nought" if zeroed else "curvature × way² / 2"},
            {"key": "half-way", "value": half_way, "words": "half-way, near to far",
             "more": "curvature × way² / 8" if zeroed else "bend and slope"},
        ],
        "note": f"Against the line from near to far, the straight rail would be reported as bent by {bend}."
                if abs(result.bend) > 5e-8 else "No gradient, no bend.",
        "bars": [], "scale": "",
        "lines": [line_chart(
            f"Height of the beam over the straight line [{text.screen_unit(unit)}]",
            [Curve("beam", result.curve[0], per_metre * result.curve[1])], ticks, per_metre * LEAST_HEIGHT,
            [Marks(distances, per_metre * result.seen.v)],
        )],
    }  # fmt: skip
