"""The lesson of reversal in plain data; no widgets, no picture."""

from __future__ import annotations

from typing import Any

from scenes.units import from_si, to_si
from viewer import text
from viewer.logic.charts import Curve, Marks, line_chart
from viewer.logic.lesson_reversal import ReversalLesson, ReversalResult, reversal_result

__all__ = ["reversal_document", "reversal_of_sliders"]

Document = dict[str, Any]

LEAST_HEIGHT = 10e-6
"""The chart reaches at least this far [m]."""

NOTHING = 1e-9
"""Angles below this [rad] are nought."""

WHAT = {
    "emitter": "slope of the rail against the axis of the V",
    "prism": "angle of the way beyond a right one",
    "vial": "slope of the plate against level",
}


def reversal_of_sliders(lesson: ReversalLesson, truth: float, error: float, moved: float) -> ReversalResult:
    """What the sliders [arcsec] do."""
    angles = (to_si(float(value), "arcsec", "angle") for value in (truth, error, moved))
    return reversal_result(lesson, *angles)


def _angle(value: float) -> str:
    shown = from_si(value, "arcsec", "angle")
    return f"{text.signed(f'{shown:+.1f}') if abs(shown) > 0.05 else '0.0'} arcsec"


def reversal_document(
    lesson: ReversalLesson, result: ReversalResult, truth: float, error: float, turned: bool
) -> Document:
    """Everything that the panel shows for one place of the sliders; ``truth`` and ``error`` [arcsec] are as set."""
    unit = lesson.layout.units.deviation
    true, wrong = (to_si(float(value), "arcsec", "angle") for value in (truth, error))
    return {
        "numbers": [
            {"key": "as-set-up", "value": _angle(result.slopes[0]), "words": "read as set up", "more": "",
             "on": not turned},
            {"key": "turned", "value": _angle(result.slopes[1]), "words": "read turned", "more": "", "on": turned},
            {"key": "mean", "value": _angle(result.mean), "words": "mean of both",
             "more": f"true {_angle(true)}"},
            {"key": "half", "value": _angle(result.half_difference), "words": "half the difference",
             "more": f"true {_angle(wrong)}"},
        ],
        "note": _note(lesson, result, true, wrong), "bars": [], "scale": "",
        "lines": [_chart(lesson, result, unit)],
    }  # fmt: skip


def _note(lesson: ReversalLesson, result: ReversalResult, true: float, wrong: float) -> str:
    left = result.mean - true
    head = f"Read: {WHAT[lesson.device]}."
    if abs(left) > NOTHING:
        return f"{head} The mean is off by {_angle(left)}: half of what moved. Nothing in the readings shows it."
    if abs(wrong) < NOTHING:
        return f"{head} The device has no error, so both ways agree."
    return f"{head} One way alone would be off by {_angle(wrong)}; the mean is the machine."


def _chart(lesson: ReversalLesson, result: ReversalResult, unit: str) -> Document:
    """Both ways and their mean along the stations, each about its middle, with what the machine has."""
    per_metre, x = from_si(1.0, unit, "length"), lesson.ways[0].along
    first, second = (per_metre * (each - each.mean()) for each in result.read)
    names = [name for name in lesson.layout.stations if name not in ("near", "far")]
    places = [0, len(names) // 2, len(names) - 1]
    mean = 0.5 * (first + second)
    return line_chart(
        f"Read along the stations [{text.screen_unit(unit)}]",
        [
            Curve("as set up", x, first, "one"), Curve("turned", x, second, "two"), Curve("mean", x, mean, "three"),
            Curve("machine", x, per_metre * result.true, "four"),
        ],
        [(float(x[i]), names[i]) for i in places], per_metre * LEAST_HEIGHT, [Marks(x, mean, "full")],
    )  # fmt: skip
