"""A trend in words: how fast, how sure, and when a limit will be reached."""

from __future__ import annotations

from typing import Any

from scenes.reductions.quantities.shown import Scale
from scenes.visits.trended import Outlook, Reach, Trend
from viewer import text

__all__ = ["trend_words"]

Document = dict[str, Any]


def trend_words(scale: Scale, trend: Trend) -> Document:
    """Slope per year with its U, whether it is proven, scatter, and what it means for the limits."""
    slope, expanded = (_slope(scale, value, sign) for value, sign in (
        (trend.slope, True), (trend.expanded_uncertainty, False),
    ))  # fmt: skip
    unit = text.screen_unit(scale.unit) + scale.behind
    many = f"{len(trend.dates)} visits since {trend.dates[0]}"
    lines = [f"{slope} ± {expanded} {unit} in a year ({many}, 95 %)."]
    if trend.scatter is not None and trend.scatter_probability is not None:
        odds = 100.0 * trend.scatter_probability
        lines.append(f"The visits scatter {trend.scatter:.1f} times as expected of their errors; chance {odds:.2g} %.")
    if trend.proven:
        lines += [_reach_words(scale, each) for each in trend.reach]
    return {"word": "Trend proven" if trend.proven else "No trend proven", "proven": trend.proven, "lines": lines}


def _slope(scale: Scale, value: float, sign: bool) -> str:
    number = scale.number(value)
    return text.signed(f"{number:+.3g}" if sign else f"{number:.3g}")


def _reach_words(scale: Scale, each: Reach) -> str:
    limit = text.told(scale, each.limit)
    if each.outlook is Outlook.AHEAD and each.when is not None:
        latest = str(each.latest) if each.latest is not None else "beyond a century"
        return f"Reaches {limit} about {each.when} if it goes on so (95 %: {each.earliest} to {latest})."
    return {
        Outlook.REACHED: f"Beyond {limit} already.",
        Outlook.AWAY: f"Moves away from {limit}.",
        Outlook.FAR: f"Will not reach {limit} within a century.",
    }.get(each.outlook, f"{limit}: {each.outlook}.")
