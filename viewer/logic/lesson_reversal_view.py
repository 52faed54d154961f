"""The lesson of reversal in plain data; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

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


def reversal_of_sliders(
    lesson: ReversalLesson, truth: float, error: float, moved: float, short: float = 0.0
) -> ReversalResult:
    """What the sliders do: three in arcsec, and by how many degrees the turn falls ``short``."""
    first, second, third = (to_si(float(value), "arcsec", "angle") for value in (truth, error, moved))
    return reversal_result(lesson, first, second, third, to_si(float(short), "deg", "angle"))


def _angle(value: float, digits: int = 1) -> str:
    shown = from_si(value, "arcsec", "angle")
    return f"{text.signed(f'{shown:+.{digits}f}') if abs(shown) > 0.5 * 0.1**digits else f'{0.0:.{digits}f}'} arcsec"


def reversal_document(
    lesson: ReversalLesson,
    result: ReversalResult,
    truth: float,
    error: float,
    turned: bool,
    *,
    moved: float = 0.0,
    short: float = 0.0,
) -> Document:
    """Everything that the panel shows for one place of the sliders, given once more as they were set."""
    unit = lesson.layout.units.deviation
    true, wrong, gave = (to_si(float(value), "arcsec", "angle") for value in (truth, error, moved))
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
        "note": _note(lesson, result, true, wrong, (gave, float(short))), "bars": [], "scale": "",
        "lines": [_chart(lesson, result, unit)],
    }  # fmt: skip


def _note(
    lesson: ReversalLesson, result: ReversalResult, true: float, wrong: float, spoilt: tuple[float, float]
) -> str:
    """What is left and why; ``spoilt`` is what moved [rad] and by how many degrees the turn fell short."""
    left, (moved, short) = result.mean - true, spoilt
    prism = lesson.device == "prism"
    head = f"Read: {WHAT[lesson.device]}."
    tail = " A prism cannot be turned short: its exit has to meet the same targets." if prism and short else ""
    causes = ["half of what moved"] if abs(moved) > NOTHING else []
    if short and not prism and abs(wrong) > NOTHING:
        share = 50.0 * (1.0 - np.cos(np.deg2rad(short)))
        causes.append(f"{share:.2g} % of the error, for {short:.0f} degrees that the turn fell short")
    if causes:
        why = ", and ".join(causes)
        return f"{head} The mean is off by {_angle(left, 2)}: {why}. What is read here does not show it.{tail}"
    if abs(wrong) < NOTHING:
        return f"{head} The device has no error, so both ways agree.{tail}"
    return f"{head} One way alone would be off by {_angle(wrong)}; the mean is the machine.{tail}"


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
