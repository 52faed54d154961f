"""Figures of a diagnosis in words: sizes with their U in the units that the layout shows."""

from __future__ import annotations

from scenes.diagnosis.diagnosis import Closure, Suspect, Suspicion
from scenes.model.layout import Layout
from scenes.units import show

__all__ = ["COVERAGE", "closure_words", "size_words", "unit_of"]

COVERAGE = 2.0
"""Coverage factor of the U of estimated sizes."""


def unit_of(layout: Layout, kind: str) -> str:
    """Unit in which sizes of a kind are shown."""
    units = {"length": layout.units.deviation, "angle": layout.units.angle, "angle rate": "urad/h",
             "temperature gradient": "K/m"}  # fmt: skip
    return units.get(kind, "")


def size_words(layout: Layout, each: Suspect | Suspicion) -> str:
    """Sizes, each with its U where it is known, and what is stated of such an error."""
    unit = unit_of(layout, each.unit)
    if not unit or not each.sizes:
        return ""
    u = each.u if isinstance(each, Suspect) else ()
    told = [show(size, unit, each.unit, sign=True) for size in each.sizes]
    if u:
        told = [f"{size} (U = {show(COVERAGE * part, unit, each.unit)})" for size, part in zip(told, u, strict=True)]
    words = " and ".join(told)
    if each.stated_u > 0.0:
        words += f"; stated to {show(each.stated_u, unit, each.unit)} (standard)"
    return words


def closure_words(layout: Layout, each: Closure) -> tuple[str, str]:
    """Difference, and what is expected of it."""
    kind = "angle" if each.angle else "length"
    unit = unit_of(layout, kind)
    return show(each.difference, unit, kind, sign=True), show(each.expected, unit, kind)
