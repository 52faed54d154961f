"""All plots of what is shown, as drawings ready for the page."""

from __future__ import annotations

from typing import Any

from viewer.logic.plots_circle import circle_chart, circles_of
from viewer.logic.plots_polar import polar_chart, polars_of
from viewer.logic.plots_profile import profile_chart, profiles_of
from viewer.logic.plots_run_out import turned_chart, turned_of
from viewer.logic.session import Session
from viewer.logic.shown import Kind, Shown

__all__ = ["MOST_PLOTS", "plot_of_component", "plot_with", "plots_of"]

MOST_PLOTS = 80
WORDS = {"profile": "Profile", "polar": "Polar", "circle": "Circle"}


def plots_of(session: Session, shown: Shown) -> list[dict[str, Any]]:
    """Polar plots of axes first, then profiles, then circles of spindles; each with a name to choose it by."""
    layout = session.layout
    found = [polar_chart(layout, each) for each in polars_of(shown)]
    found += [turned_chart(layout, each) for each in turned_of(layout, shown)]
    found += [profile_chart(layout, each) for each in profiles_of(shown)]
    if shown.kind == Kind.MEASURED:
        found += [circle_chart(layout, each, shown.factor) for each in circles_of(layout, shown.measured)]
    listed = found[:MOST_PLOTS]
    return [each | {"number": i, "title": f"{WORDS[each['kind']]}: {each['name']}"} for i, each in enumerate(listed)]


def plot_of_component(plots: list[dict[str, Any]], shown: Shown) -> int:
    """Number of the plot that tells of the component that is shown; -1 where none is about it alone."""
    name = "" if shown.component is None else shown.component.name
    return next((each["number"] for each in plots if name and each["name"] == name), -1)


def plot_with(plots: list[dict[str, Any]], station: str, now: int) -> int:
    """Number of the plot to show for a station: the one shown, if it has it, else the first that has."""
    if 0 <= now < len(plots) and (not station or station in plots[now]["stations"]):
        return now
    holds = (each["number"] for each in plots if station in each["stations"])
    return next(holds, now if 0 <= now < len(plots) else 0)
