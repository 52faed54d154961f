"""Axes of plots: round ticks, and the way from values to places in a drawing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.vectors import Floats

__all__ = ["Axis", "axis_over", "points_text", "ticks_between"]

STEPS = np.array([1.0, 2.0, 2.5, 5.0, 10.0])


def ticks_between(low: float, high: float, most: int) -> Floats:
    """Round numbers from ``low`` to ``high``, no more than ``most``."""
    if not high > low:
        return np.array([low])
    rough = (high - low) / max(1, most - 1)
    power = 10.0 ** np.floor(np.log10(rough))
    step = float(STEPS[np.searchsorted(STEPS * power, rough * (1.0 - 1e-9))]) * power
    first, last = np.ceil(low / step - 1e-6), np.floor(high / step + 1e-6)
    result: Floats = step * np.arange(first, last + 1.0) + 0.0  # no minus before nought
    return result


@dataclass(frozen=True, slots=True)
class Axis:
    """Values from ``low`` to ``high`` drawn from ``start`` to ``end``."""

    low: float
    high: float
    start: float
    end: float

    def at(self, values: Floats | float) -> Floats:
        """Places ``(...)`` of values."""
        share = (np.asarray(values, dtype=np.float64) - self.low) / (self.high - self.low)
        return np.asarray(self.start + share * (self.end - self.start))


def axis_over(values: Floats, start: float, end: float, *, zero: bool, room: float = 0.06) -> Axis:
    """Axis that holds all values, and zero where asked, with some room at its ends."""
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if len(known) else (0.0, 0.0)
    if zero:
        low, high = min(low, 0.0), max(high, 0.0)
    size = (high - low) or 1.0
    return Axis(low - room * size, high + room * size, start, end)


def points_text(x: Floats, y: Floats) -> str:
    """Points as SVG writes them."""
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x.tolist(), y.tolist(), strict=True))
