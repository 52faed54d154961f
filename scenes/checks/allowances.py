"""What the limits of tasks allow, as lengths: how far a surface may move a spot, and what counts as much."""

from __future__ import annotations

import math

import numpy as np

from ..model.layout import Layout
from ..model.survey import Task
from ..tracing.geometry import SurveyGeometry
from ..tracing.places import station_places
from ..vectors import Floats, dot, length

__all__ = ["PART", "allowed", "channel_travel", "extent", "stations_of_features", "strictest", "wanted_travel"]

PART = 0.1
"""An effect is worth a note from this share of a limit (common practice: a tenth is looked at)."""

_ALONG_NORMAL = ("flatness", "levelness", "twist", "cross level", "slope")
"""Quantities that only count along the normal of the surface."""


def stations_of_features(layout: Layout, task: Task) -> tuple[str, ...]:
    """Stations of a task on the surfaces that it asks about, not on its datum; all where that cannot be told."""
    asked = {feature.removesuffix(" axis").removesuffix(" travel") for feature in task.of} or {task.surface}
    names = tuple(
        name for name in task.stations
        if name in layout.stations and {layout.stations[name].surface, layout.stations[name].carried_by} & asked
    )  # fmt: skip
    return names or task.stations


def extent(layout: Layout, names: tuple[str, ...]) -> float:
    """Largest distance between stations, metres; 0 for a single one."""
    foot = station_places(layout, names)[0]
    if len(foot) < 2:
        return 0.0
    end = foot[int(np.argmax(length(foot - foot.mean(axis=0))))]
    return float(length(foot - end).max())


def _whole(layout: Layout, task: Task) -> float:
    """Length of what a task asks about, metres: of a travel its way, else the largest distance of stations."""
    names = stations_of_features(layout, task)
    carriers = {feature.removesuffix(" travel") for feature in task.of if feature.endswith(" travel")}
    ways: dict[str, list[float]] = {}
    for station in (layout.stations[name] for name in names):
        moves = layout.surfaces[station.carried_by].moves if station.carried_by in carriers else None
        if moves is not None and station.position:
            ways.setdefault(station.carried_by, []).append(moves.positions[station.position])
    return max((max(each) - min(each) for each in ways.values()), default=0.0) or extent(layout, names)


def allowed(layout: Layout, task: Task, over: float | None = None) -> float:
    """Largest deviation [m] of a station that a task allows; an angle counts ``over`` [m] what is asked about."""
    whole = _whole(layout, task) if over is None else over
    sizes = []
    for limit in task.limits.values():
        size = max(abs(limit.upper), abs(limit.lower or 0.0))
        if limit.over > 0.0:
            size *= whole / limit.over
        elif limit.angle:
            size *= whole
        sizes.append(0.5 * size if limit.diameter else size)
    return max(sizes, default=task.limit)


def strictest(layout: Layout, names: tuple[str, ...] | set[str]) -> tuple[float, str]:
    """Least of what the tasks allow that use any of the stations ``names``, metres, and the name of that task."""
    asked = set(names)
    found = [(allowed(layout, task), task.name) for task in layout.tasks.values() if asked & set(task.stations)]
    return min(found, default=(math.inf, ""))


def wanted_travel(layout: Layout, names: tuple[str, ...]) -> Floats:
    """How far ``(n,)`` [m] a station may stand off its place while all limits are kept."""
    travel = dict.fromkeys(names, 0.0)
    for task in layout.tasks.values():
        size = allowed(layout, task)
        for name in task.stations:
            if name in travel:
                travel[name] = max(travel[name], size)
    return np.array(list(travel.values()))


def _shares(task: Task, geometry: SurveyGeometry, axis: Floats) -> Floats:
    """Share ``(m,)`` of a deviation within the limit of a task that an ``axis`` (m, 3) of the detectors may see."""
    upright: Floats = np.abs(axis[:, 2])
    level = np.sqrt(np.maximum(0.0, 1.0 - upright**2))
    if task.plane == "vertical":
        return upright
    if task.plane == "horizontal" or (task.quantity == "spacing" and not task.plane):
        return level
    if task.quantity in _ALONG_NORMAL or (task.quantity == "straightness" and not task.plane):
        result: Floats = np.abs(dot(axis, geometry.normal))
        return result
    return np.ones(len(axis))


def channel_travel(layout: Layout, geometry: SurveyGeometry) -> Floats:
    """How far ``(m, 2)`` [m] the surface may move the spot of each row along h and v within the limits of the tasks."""
    rows = geometry.rows
    travel = np.zeros((len(rows), 2))
    for task in layout.tasks.values():
        asked = set(task.stations)
        mine = np.array([name in asked for name in rows.stations], dtype=bool)[rows.station]
        size = allowed(layout, task)
        for channel, axis in enumerate((geometry.axis_h, geometry.axis_v)):
            share = np.where(mine, _shares(task, geometry, axis), 0.0)
            travel[:, channel] = np.maximum(travel[:, channel], size * share)
    return travel
