"""What two visits share, and what is left of it in a change; plain data."""

from __future__ import annotations

from typing import Any

from scenes.model.layout import Layout
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.visits.changed import Change, ChangedValue, SharedSource
from viewer import text
from viewer.logic.charts import bar_chart
from viewer.logic.result_values import bare, headline

__all__ = ["shared_document"]

Document = dict[str, Any]

MOST_SHARED = 8
"""Sources that are told one by one, the largest first."""

MOST_OWN = 6

CANCELS = 0.05
"""What is left of a source below this share of its larger part is as good as nothing."""


def shared_document(layout: Layout, change: Change, value: ChangedValue, number: int) -> Document:
    """Sources that act on both visits alike, what cancels of them, and what makes up the uncertainty of the change."""
    limit = next((part.limit for part in change.after.components if part.name == value.name), None)
    scale = scale_of(value.kind, limit, layout.units)
    ranked = sorted(value.shared, key=lambda each: -max(each.one, each.two))
    told = [each for each in ranked if max(each.one, each.two) > 0.0]
    budget = sorted(value.budget, key=lambda each: -abs(each[1]))[:MOST_OWN]
    return {
        "number": number,
        "name": value.name or change.after.evidence.task.quantity,
        "unit": text.screen_unit(scale.unit) + scale.behind,
        "rows": [_row(scale, each) for each in told[:MOST_SHARED]],
        "more": f"{len(told) - MOST_SHARED} smaller ones are not told." if len(told) > MOST_SHARED else "",
        "together": headline(scale, value.standard_uncertainty),
        "apart": headline(scale, value.apart),
        "sentence": _sentence(scale, value),
        "chart": bar_chart([(name, abs(size), text.told(scale, abs(size))) for name, size in budget]),
        "k": f"{value.coverage_factor:.3g}",
    }


def _row(scale: Scale, each: SharedSource) -> Document:
    largest = max(each.one, each.two)
    share = each.left / largest
    return {
        "name": each.name, "one": bare(scale, each.one), "two": bare(scale, each.two), "left": bare(scale, each.left),
        "gone": "cancels" if share < CANCELS else f"{100.0 * share:.0f} % left" if share < 1.0 else "adds up",
    }  # fmt: skip


def _sentence(scale: Scale, value: ChangedValue) -> str:
    """How much sharing saves."""
    u, apart = value.standard_uncertainty, value.apart
    start = f"Standard uncertainty of the change {headline(scale, u)}; {headline(scale, apart)} if nothing were shared."
    if not value.shared:
        return f"{start} The visits share no error that is stated."
    return start
