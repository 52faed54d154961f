"""Where the uncertainty comes from: of one reading, of a station after the reduction, of a whole task."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.model.layout import Layout
from scenes.tracing.geometry import SurveyGeometry
from scenes.tracing.sensitivity import channel_slopes
from scenes.uncertainty.propagate import NEGLIGIBLE
from scenes.uncertainty.sources import source_fields, sources_of
from scenes.units import from_si
from scenes.vectors import Floats
from viewer import text
from viewer.logic.charts import bar_chart

__all__ = ["SOURCES_SHOWN", "Variances", "budget_chart", "reading_variances"]

Document = dict[str, Any]

SOURCES_SHOWN = 8
Variances = dict[str, Floats]
"""Variance of each result from each source, by its name."""


def reading_variances(layout: Layout, geometry: SurveyGeometry) -> dict[str, Variances]:
    """Variances ``(m,)`` [m^2] of every planned reading h and v from each source, by channel."""
    sources = sources_of(layout, geometry)
    slopes = channel_slopes(geometry, source_fields(sources))
    found: dict[str, Variances] = {"h": {}, "v": {}}
    for channel, parts in found.items():
        for source in sources:
            size = np.nan_to_num(slopes[channel][source.field] * source.u)
            parts[source.name] = parts.get(source.name, np.zeros(len(geometry.rows))) + size**2
    return found


def budget_chart(parts: list[tuple[str, float]], unit: str, kind: str = "length") -> Document:
    """Bars of standard uncertainties [SI] by source, the largest first, with their shares of the variance."""
    known = sorted(((name, u) for name, u in parts if u > NEGLIGIBLE), key=lambda part: -part[1])
    total = float(np.sqrt(sum(u**2 for _, u in known)))
    rest = float(np.sqrt(sum(u**2 for _, u in known[SOURCES_SHOWN:])))
    listed = known[:SOURCES_SHOWN]
    if rest > 0.0:
        listed = [*listed, (f"{len(known) - SOURCES_SHOWN} others", rest)]
    rows = [(name, u, f"{_number(u, unit, kind)} {text.screen_unit(unit)} · {_share(u, total)}") for name, u in listed]
    return bar_chart(rows) | {"total": f"u = {_number(total, unit, kind)} {text.screen_unit(unit)}", "none": not rows}


def _number(value: float, unit: str, kind: str) -> str:
    if kind == "length":
        return text.number(value, unit)
    return f"{from_si(value, unit, kind):.3g}"


def _share(u: float, total: float) -> str:
    percent = 100.0 * (u / total) ** 2
    return f"{percent:.0f} %" if percent >= 0.5 else "< 1 %"
