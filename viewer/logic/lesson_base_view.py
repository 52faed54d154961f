"""The lesson of tilt and cone in plain data: two numbers and two small charts; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.units import to_si
from scenes.vectors import Floats
from viewer import text
from viewer.logic.lesson_base import BaseLesson, BaseResult, base_result

__all__ = ["HEIGHT", "WIDTH", "base_document", "base_of_sliders"]

Document = dict[str, Any]

BARS_SHOWN = 60
WIDTH, HEIGHT = 300.0, 72.0
"""Size of a chart in its own units."""


def base_of_sliders(lesson: BaseLesson, tilt_x: float, tilt_y: float, cone: float) -> BaseResult:
    """What the sliders [arcsec] do."""
    angles = (to_si(float(value), "arcsec", "angle") for value in (tilt_x, tilt_y, cone))
    return base_result(lesson, *angles)


def base_document(lesson: BaseLesson, result: BaseResult) -> Document:
    """Everything that the panel shows for one place of the sliders."""
    unit = lesson.layout.units.deviation
    readings = result.readings - result.readings.mean()
    largest = max(float(np.abs(readings).max()), float(np.abs(result.deviations).max()), 1e-6)
    return {
        "numbers": [
            {"key": "readings", "value": text.quantity(result.readings_spread, unit, fine=True),
             "words": "readings differ by", "more": ""},
            {"key": "left", "value": text.quantity(result.deviations_spread, unit, fine=True),
             "words": "left after the plane fit", "more": ""},
        ],
        "note": _taken(result),
        "bars": [_chart("Readings", readings, largest), _chart("After the plane fit", result.deviations, largest)],
        "scale": f"both charts: ± {text.quantity(largest, unit, fine=True)}, one bar for each station",
        "lines": [],
    }  # fmt: skip


def _taken(result: BaseResult) -> str:
    if abs(result.common) > 1e-9 and result.readings_spread < 1e-9:
        return "All readings moved alike, so nothing shows, whatever the fit."
    if result.readings_spread < 1e-9:
        return "No error is set: move a slider."
    share = 1.0 - result.deviations_spread / result.readings_spread
    return f"The plane fit takes out {100.0 * max(0.0, share):.0f} %."


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
            "y": round(middle - max(tall, 0.0), 2), "height": round(max(abs(tall), 0.4), 2), "high": bool(value >= 0.0),
        })  # fmt: skip
    return {"name": name, "bars": bars}
