"""Small charts in plain data: points, ticks and words in the charts' own units, ready for SVG; no widgets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenes.vectors import Floats
from viewer import text

__all__ = ["CHART_SIZE", "LEFT", "RIGHT", "Curve", "bar_chart", "line_chart", "nice_ceiling"]

Document = dict[str, Any]

CHART_SIZE = (360, 126)
"""Width and height of a line chart."""

LEFT, RIGHT, TOP, BOTTOM = 46.0, 8.0, 8.0, 20.0
"""Room around its area for numbers."""

FLAT = 0.05
"""What goes past zero by less than this share of the other side does not show."""

CROWDED = 12.0
"""An end of the axis nearer to zero than this has no room for its number."""

BAR_WIDTH, BAR_STEP, BAR_TALL, BAR_TOP = 360.0, 36.0, 8.0, 20.0
"""Width of a bar chart, height of one of its rows, of a bar, and where the bar begins in its row."""


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A named curve; ``x`` and ``y`` (p,) in the units that are shown. ``kind`` is ``one`` or ``two``: how it looks."""

    name: str
    x: Floats
    y: Floats
    kind: str = "one"


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
    dots: tuple[Floats, Floats] | None = None,
) -> Document:
    """A chart of curves with zero in it.

    Parameters
    ----------
    x_ticks : sequence of (value, text)
        The first and the last are the ends of the axis.
    least : float
        The axis of y goes at least this far either way, so that rounding looks like nothing.
    dots : (x, y), optional
        Points to mark.
    """
    width, height = CHART_SIZE
    low, high = x_ticks[0][0], x_ticks[-1][0]
    every = np.concatenate([curve.y for curve in curves] + ([] if dots is None else [dots[1]]))
    bottom, top = _ends(float(every.min()), float(every.max()), least)

    def across(x: Floats | float) -> Floats:
        return np.asarray(LEFT + (x - low) / (high - low) * (width - LEFT - RIGHT))

    def down(y: Floats | float) -> Floats:
        return np.asarray(TOP + (top - np.asarray(y)) / (top - bottom) * (height - TOP - BOTTOM))

    lines = [
        {"key": curve.name, "kind": curve.kind, "points": _points(across(curve.x), down(curve.y))} for curve in curves
    ]
    marks = [] if dots is None else [
        {"key": i, "x": round(float(x), 1), "y": round(float(y), 1)}
        for i, (x, y) in enumerate(zip(across(dots[0]), down(dots[1]), strict=True))
    ]  # fmt: skip
    spread = f"from {_number(float(every.min()))} to {_number(float(every.max()))}"
    return {
        "name": name,
        "label": f"{name}: {spread}",
        "lines": lines,
        "keys": [{"name": curve.name, "kind": curve.kind} for curve in curves] if len(curves) > 1 else [],
        "dots": marks,
        "x_ticks": [
            {"key": i, "x": round(float(across(value)), 1), "text": words,
             "anchor": "start" if i == 0 else "end" if i == len(x_ticks) - 1 else "middle"}
            for i, (value, words) in enumerate(x_ticks)
        ],
        "y_ticks": [
            {"key": i, "y": round(float(down(value)), 1), "text": _number(value), "zero": value == 0.0}
            for i, value in enumerate(sorted({top, 0.0, bottom}))
            if value == 0.0 or abs(float(down(value) - down(0.0))) > CROWDED
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
