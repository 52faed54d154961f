"""Small charts in plain data: points, ticks and words in the charts' own units, ready for SVG; no widgets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenes.vectors import Floats
from viewer import text

__all__ = [
    "CHART_SIZE", "LEFT", "RIGHT", "Curve", "Marks", "bar_chart", "decade_chart", "line_chart", "nice_ceiling",
]  # fmt: skip

Document = dict[str, Any]

CHART_SIZE = (360, 126)
"""Width and height of a line chart."""

LEFT, RIGHT, TOP, BOTTOM = 46.0, 8.0, 8.0, 20.0
"""Room around its area for numbers."""

FLAT = 0.05
"""What goes past zero by less than this share of the other side does not show."""

CROWDED = 12.0
"""An end of the axis nearer to zero than this has no room for its number."""

SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")

MOST_DECADES = 5
"""More powers of ten than this are not all named."""

BAR_WIDTH, BAR_STEP, BAR_TALL, BAR_TOP = 360.0, 36.0, 8.0, 20.0
"""Width of a bar chart, height of one of its rows, of a bar, and where the bar begins in its row."""


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A named curve; ``x`` and ``y`` (p,) in the units that are shown. ``kind``, ``one`` to ``four``: how it looks."""

    name: str
    x: Floats
    y: Floats
    kind: str = "one"


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Points ``x`` and ``y`` (p,) to mark. ``kind``: ``open`` or ``full``."""

    x: Floats
    y: Floats
    kind: str = "open"


def nice_ceiling(value: float) -> float:
    """The next of 1, 2, 5, 10 times a power of ten that is not below ``value`` > 0."""
    power = 10.0 ** np.floor(np.log10(value))
    steps = np.array([1.0, 2.0, 5.0, 10.0]) * power
    return float(steps[np.searchsorted(steps, value * (1.0 - 1e-9))])


def line_chart(
    name: str,
    curves: Sequence[Curve],
    x_ticks: Sequence[tuple[float, str]],
    least: float,
    marks: Sequence[Marks] = (),
) -> Document:
    """A chart of curves with zero in it.

    Parameters
    ----------
    x_ticks : sequence of (value, text)
        The first and the last are the ends of the axis.
    least : float
        The axis of y goes at least this far either way, so that rounding looks like nothing.
    marks : sequence of Marks, optional
        Points to mark.
    """
    every = _heights(curves, marks)
    bottom, top = _ends(float(every.min()), float(every.max()), least)
    spread = f"from {_number(float(every.min()))} to {_number(float(every.max()))}"

    def down(y: Floats | float) -> Floats:
        return np.asarray(TOP + (top - np.asarray(y)) / (top - bottom) * (CHART_SIZE[1] - TOP - BOTTOM))

    y_ticks = [
        {"key": i, "y": round(float(down(value)), 1), "text": _number(value), "zero": value == 0.0}
        for i, value in enumerate(sorted({top, 0.0, bottom}))
        if value == 0.0 or abs(float(down(value) - down(0.0))) > CROWDED
    ]
    return _chart(name, f"{name}: {spread}", curves, marks, x_ticks, down) | {"y_ticks": y_ticks}


def decade_chart(
    name: str,
    curves: Sequence[Curve],
    x_ticks: Sequence[tuple[float, str]],
    low: float,
    high: float,
    marks: Sequence[Marks] = (),
) -> Document:
    """A chart of sizes over powers of ten, ``low`` to ``high`` (powers of ten); what lies beyond stands at the edge.

    ``x_ticks`` as in :func:`line_chart`; sizes are never negative.
    """  # fmt: skip
    bottom, top = round(np.log10(low)), round(np.log10(high))

    def down(y: Floats | float) -> Floats:
        power = np.log10(np.clip(np.asarray(y, dtype=np.float64), low, high))
        return np.asarray(TOP + (top - power) / (top - bottom) * (CHART_SIZE[1] - TOP - BOTTOM))

    step = -(-(top - bottom) // MOST_DECADES)
    powers = range(bottom, top + 1, step)
    y_ticks = [
        {"key": power, "y": round(float(down(10.0**power)), 1), "text": _power(power), "zero": power == bottom}
        for power in powers
    ]
    every = _heights(curves, marks)
    spread = f"from {every.min():.3g} to {every.max():.3g}"
    return _chart(name, f"{name}: {spread}", curves, marks, x_ticks, down) | {"y_ticks": y_ticks}


def _power(power: int) -> str:
    """A power of ten, short enough for an axis."""
    return f"{10.0**power:g}" if -3 < power < 5 else f"10{str(power).translate(SUPERSCRIPT)}"


def _heights(curves: Sequence[Curve], marks: Sequence[Marks]) -> Floats:
    return np.concatenate([curve.y for curve in curves] + [mark.y for mark in marks])


def _chart(
    name: str, label: str, curves: Sequence[Curve], marks: Sequence[Marks],
    x_ticks: Sequence[tuple[float, str]], down: Callable[[Floats | float], Floats],
) -> Document:  # fmt: skip
    """Everything but the ticks of y; ``down`` places a height."""
    low, high = x_ticks[0][0], x_ticks[-1][0]

    def across(x: Floats | float) -> Floats:
        return np.asarray(LEFT + (x - low) / (high - low) * (CHART_SIZE[0] - LEFT - RIGHT))

    return {
        "name": name,
        "label": label,
        "lines": [
            {"key": curve.name, "kind": curve.kind, "points": _points(across(curve.x), down(curve.y))}
            for curve in curves
        ],
        "keys": [{"name": curve.name, "kind": curve.kind} for curve in curves] if len(curves) > 1 else [],
        "dots": [
            {"key": f"{number} {i}", "x": round(float(x), 1), "y": round(float(y), 1), "kind": each.kind}
            for number, each in enumerate(marks)
            for i, (x, y) in enumerate(zip(across(each.x), down(each.y), strict=True))
        ],
        "x_ticks": [
            {"key": i, "x": round(float(across(value)), 1), "text": words,
             "anchor": "start" if i == 0 else "end" if i == len(x_ticks) - 1 else "middle"}
            for i, (value, words) in enumerate(x_ticks)
        ],
    }  # fmt: skip


def _number(value: float) -> str:
    """Three figures, with a sign."""
    return text.signed(f"{value:+.3g}")


def _ends(low: float, high: float, least: float) -> tuple[float, float]:
    """Round ends of an axis that holds ``low``, ``high`` and zero."""
    largest = max(abs(low), abs(high))
    if largest < least:
        return -least, least
    bottom, top = (
        nice_ceiling(value) if value > FLAT * largest else 0.0 for value in (-low * (1.0 - 1e-6), high * (1.0 - 1e-6))
    )
    return -bottom, top


def _points(x: Floats, y: Floats) -> str:
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x.tolist(), y.tolist(), strict=True))


def bar_chart(rows: Sequence[tuple[str, float, str]]) -> Document:
    """Horizontal bars, in the order of ``rows``: name, size, and the size in words. Sizes are never negative."""
    largest = max((size for _, size, _ in rows), default=0.0) or 1.0
    bars = [
        {
            "key": f"{i} {name}", "name": name, "words": words, "y": i * BAR_STEP, "bar_y": i * BAR_STEP + BAR_TOP,
            "text_y": i * BAR_STEP + BAR_TOP - 6.0, "width": round(max(2.0, BAR_WIDTH * size / largest), 1),
        }
        for i, (name, size, words) in enumerate(rows)
    ]  # fmt: skip
    return {
        "bars": bars, "width": BAR_WIDTH, "height": max(1.0, len(rows) * BAR_STEP - 4.0), "tall": BAR_TALL,
        "label": "; ".join(f"{name} {words}" for name, _, words in rows),
    }  # fmt: skip
