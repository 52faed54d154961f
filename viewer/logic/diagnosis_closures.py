"""Closures: readings that should agree, as a plot of normalised differences and as a table; plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from scenes.diagnosis.diagnosis import Closure
from scenes.model.layout import Layout
from viewer import text
from viewer.logic.plots_axes import axis_over, ticks_between
from viewer.report.diagnosis_words import closure_words

__all__ = ["FAR", "NEAR", "closure_chart", "closure_rows", "mark_of_size"]

Document = dict[str, Any]

NEAR, FAR = 2.0, 3.0
"""Normalised differences beyond these are marked: two in a hundred and three in a thousand sound ones are."""

SIZE = (372, 176)
LETTER = 11.0
"""Lines nearer to each other than this have no room for two numbers."""

LEFT, RIGHT, TOP, BOTTOM = 34.0, 30.0, 10.0, 22.0


def mark_of_size(size: float) -> Document:
    """Shape and kind of a normalised residual or difference."""
    if abs(size) > FAR:
        return {"kind": "bad", "shape": "◆", "word": "beyond 3"}
    if abs(size) > NEAR:
        return {"kind": "open", "shape": "■", "word": "2 to 3"}
    return {"kind": "good", "shape": "●", "word": "within 2"}


def _by_station(layout: Layout, closures: Sequence[Closure]) -> list[Closure]:
    order = {name: number for number, name in enumerate(layout.stations)}
    return sorted(closures, key=lambda each: (each.angle, order.get(each.station, len(order)), each.channel))


def closure_chart(layout: Layout, closures: Sequence[Closure]) -> Document:
    """Normalised differences, station by station, with the lines of two and three standard deviations."""
    width, height = SIZE
    ordered = _by_station(layout, closures)
    sizes = np.array([each.normalised for each in ordered])
    ends = np.concatenate([sizes, [-1.15 * FAR, 1.15 * FAR]])
    y = axis_over(ends, height - BOTTOM, TOP, zero=True, room=0.02)
    step = (width - LEFT - RIGHT) / max(1, len(ordered))
    x = LEFT + step * (np.arange(len(ordered)) + 0.5)
    worst = max(ordered, key=lambda each: abs(each.normalised))
    crowded = LETTER - abs(float(y.at(FAR) - y.at(NEAR)))
    lines = [
        {"key": f"{sign * many:g}", "y": round(float(y.at(sign * many)), 1),
         "text": f"{many:g} σ" if many == FAR or crowded < 0.0 else "", "kind": "far" if many == FAR else "near"}
        for many in (NEAR, FAR) for sign in (-1.0, 1.0)
    ]  # fmt: skip
    return {
        "width": width, "height": height, "left": LEFT, "right": width - RIGHT, "zero": round(float(y.at(0.0)), 1),
        "foot": height - BOTTOM, "lines": lines,
        "y_ticks": [{"y": round(float(y.at(each)), 1), "text": text.signed(f"{each:+.3g}")}
                    for each in ticks_between(y.low, y.high, 6)],
        "dots": [_dot(layout, each, float(x[i]), float(y.at(each.normalised)), i) for i, each in enumerate(ordered)],
        "label": f"{len(ordered)} closures; the largest is {abs(worst.normalised):.1f} standard deviations at "
                 f"{worst.station}",
        "note": f"{_many(ordered)} beyond 2 σ, where chance lets expect {0.0455 * len(ordered):.1f}. "
                "By station, in the order of the layout.",
    }  # fmt: skip


def _many(closures: Sequence[Closure]) -> str:
    beyond = sum(abs(each.normalised) > NEAR for each in closures)
    return f"{beyond} of {len(closures)} closures" if beyond else f"None of {len(closures)} closures"


def _dot(layout: Layout, each: Closure, x: float, y: float, number: int) -> Document:
    difference, expected = closure_words(layout, each)
    size = text.signed(f"{each.normalised:+.1f}")
    return {
        "key": number, "name": each.station, "x": round(x, 1), "y": round(y, 1), **mark_of_size(each.normalised),
        "title": f"{each.station}, {each.channel}, {each.what}: {size} σ; {text.spelled(difference)}, "
                 f"expected {text.spelled(expected)}",
    }  # fmt: skip


def closure_rows(layout: Layout, closures: Sequence[Closure]) -> list[Document]:
    """All closures, the worst first."""
    rows = []
    for number, each in enumerate(closures):
        difference, expected = closure_words(layout, each)
        one, two = each.between
        rows.append({
            "key": number, "name": each.station, "channel": each.channel, "what": each.what,
            "between": one if one == two else f"{one} – {two}", "difference": text.spelled(difference),
            "expected": text.spelled(expected), "size": f"{abs(each.normalised):.1f}",
            **mark_of_size(each.normalised),
        })  # fmt: skip
    return rows
