"""The lesson tab in plain data: two numbers, two small charts, sentences; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.units import to_si
from scenes.vectors import Floats
from viewer import text
from viewer.logic.lesson import Lesson, LessonResult, lesson_result

__all__ = ["LIMIT_ARCSEC", "lesson_document", "lesson_of_sliders"]

Document = dict[str, Any]

LIMIT_ARCSEC = 20.0
"""The sliders go from minus to plus this."""

BARS_SHOWN = 60
WIDTH, HEIGHT = 300.0, 84.0
"""Size of a chart in its own units."""


def lesson_of_sliders(lesson: Lesson, tilt_x: float, tilt_y: float, cone: float) -> LessonResult:
    """What the sliders [arcsec] do."""
    angles = (to_si(float(value), "arcsec", "angle") for value in (tilt_x, tilt_y, cone))
    return lesson_result(lesson, *angles)


def lesson_document(lesson: Lesson, result: LessonResult) -> Document:
    """Everything that the panel shows for one place of the sliders."""
    unit = lesson.layout.units.deviation
    readings = result.readings - result.readings.mean()
    largest = max(float(np.abs(readings).max()), float(np.abs(result.deviations).max()), 1e-6)
    taken = 1.0 - result.deviations_spread / result.readings_spread if result.readings_spread > 1e-9 else 0.0
    return {
        "readings": text.quantity(result.readings_spread, unit, fine=True),
        "left": text.quantity(result.deviations_spread, unit, fine=True),
        "taken": f"The plane fit takes out {100.0 * max(0.0, taken):.0f} %." if result.readings_spread > 1e-9
                 else "No error is set: move a slider.",
        "charts": [
            _chart("Readings", readings, largest), _chart("After the plane fit", result.deviations, largest),
        ],
        "scale": f"both charts: ± {text.quantity(largest, unit, fine=True)}",
        "sentences": list(text.LESSON_SENTENCES),
        "steps": list(text.LESSON_STEPS),
    }  # fmt: skip


def _chart(name: str, values: Floats, largest: float) -> Document:
    """Bars of a chart, one per station, as rectangles in its own units."""
    step = max(1, -(-len(values) // BARS_SHOWN))
    chosen = values[::step]
    wide = WIDTH / len(chosen)
    middle = 0.5 * HEIGHT
    bars = []
    for number, value in enumerate(chosen):
        tall = (middle - 3.0) * float(value) / largest
        bars.append({
            "key": number, "x": round(number * wide + 0.15 * wide, 2), "width": round(0.7 * wide, 2),
            "y": round(middle - max(tall, 0.0), 2), "height": round(max(abs(tall), 0.4), 2), "high": value >= 0.0,
        })  # fmt: skip
    return {"name": name, "bars": [{**bar, "high": bool(bar["high"])} for bar in bars]}
