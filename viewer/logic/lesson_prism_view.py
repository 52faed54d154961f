"""The lesson of the prism in plain data; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.units import from_si, to_si
from scenes.vectors import Floats
from viewer import text
from viewer.logic.charts import Curve, Marks, line_chart
from viewer.logic.lesson_movables import Slider
from viewer.logic.lesson_prism import SCAN_END, PrismLesson, PrismResult, prism_result, prism_state
from viewer.logic.lesson_scenes import FLANGE_RADII
from viewer.logic.lesson_sliders import PRISM

__all__ = ["prism_document", "prism_of_sliders"]

Document = dict[str, Any]

FLAT = 0.5e-6
"""Rings whose mean heights differ by less than this [m] lie in one plane."""

LEAST_HEIGHT = 10e-6
LEAST_SECONDS = 2.0
"""Charts reach at least this far, metres and seconds of arc."""


def prism_of_sliders(lesson: PrismLesson, values: tuple[float, ...]) -> PrismResult:
    """What the sliders do; ``values`` in their units, in the order in which the lesson lists them."""
    sliders = [each for each in PRISM if isinstance(each, Slider)]
    kinds = {"arcmin": "angle", "arcsec": "angle", "mm": "length"}
    given = [to_si(float(value), each.unit, kinds[each.unit]) for each, value in zip(sliders, values, strict=True)]
    return prism_result(lesson, prism_state(*given))


def _seconds(angle: float) -> str:
    shown = from_si(angle, "arcsec", "angle")
    digits = 2 if abs(shown) < 100.0 else 0
    return text.signed(f"{shown:+.{digits}f}") + " arcsec"


def _shown(values: Floats, unit: str, kind: str) -> Floats:
    """Values in a unit that has no offset."""
    return values * from_si(1.0, unit, kind)


def prism_document(lesson: PrismLesson, result: PrismResult, sweeps: bool) -> Document:
    """Everything that the panel shows for one place of the sliders."""
    unit, length = lesson.line_layout.units.deviation, lesson.line_layout.units.length
    shared: Document = {"bars": [], "scale": ""}
    if sweeps:
        return shared | _plane(result, unit, length)
    return shared | _line(result, unit, length)


def _line(result: PrismResult, unit: str, length: str) -> Document:
    reach = f"{text.length_number(FLANGE_RADII[-1], length)} {length}"
    turn, error = result.scan[0], _shown(result.scan[1], "arcsec", "angle")
    at = np.array([float(result.state.prism_rz)]), _shown(np.array([result.right_angle]), "arcsec", "angle")
    ticks = [(-SCAN_END, "−10 arcmin"), (0.0, "turn about the exit"), (SCAN_END, "+10 arcmin")]
    return {
        "numbers": [
            {"key": "right-angle", "value": _seconds(result.right_angle), "words": "off the right angle",
             "more": f"{text.quantity(result.along, unit, fine=True, sign=True)} at {reach}"},
            {"key": "out-of-plane", "value": _seconds(result.out_of_plane), "words": "out of its plane",
             "more": f"{text.quantity(result.aside, unit, sign=True)} at {reach}"},
        ],
        "note": "+ = the exit leans back to the emitter; sideways + = to the right as seen from there.",
        "lines": [line_chart("Error of the right angle [arcsec]", [Curve("error", turn, error)], ticks,
                             LEAST_SECONDS, [Marks(*at)])],
    }  # fmt: skip


def _plane(result: PrismResult, unit: str, length: str) -> Document:
    inner, outer = result.heights
    low, high = (_shown(height, unit, "length") for height in result.heights)
    angle = np.linspace(0.0, 360.0, len(inner))
    ticks = [(0.0, "exit up"), (90.0, "90°"), (180.0, "down"), (270.0, "270°"), (360.0, "up")]
    names = [f"at {text.length_number(radius, length)} {length}" for radius in FLANGE_RADII]
    step = float(outer.mean() - inner.mean())
    return {
        "numbers": [
            {"key": "wave", "value": text.quantity(float(np.ptp(outer)), unit, fine=True),
             "words": "wave round one turn", "more": "outer ring"},
            {"key": "cone", "value": text.quantity(step, unit, fine=True, sign=True), "words": "outer less inner ring",
             "more": "a plane" if abs(step) < FLAT else "a cone, no plane"},
        ],
        "note": "Height of the swept light over a plane square to the beam, + = toward the emitter.",
        "lines": [line_chart(f"Height round one turn [{text.screen_unit(unit)}]", [Curve(names[0], angle, low, "one"),
                             Curve(names[1], angle, high, "two")], ticks,
                             from_si(LEAST_HEIGHT, unit, "length"))],
    }  # fmt: skip
