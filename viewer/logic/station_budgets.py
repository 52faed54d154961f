"""Where the uncertainty of the deviation of each station comes from, for any task, from the plan alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.model.layout import Layout
from scenes.model.survey import Task
from scenes.reductions.planned_tasks import Planned, planned_of
from scenes.reductions.quantities.definition import Profile, Zone
from scenes.vectors import Floats

__all__ = ["StationBudget", "station_budgets"]


@dataclass(frozen=True, slots=True, eq=False)
class StationBudget:
    """One deviation of one station.

    Attributes
    ----------
    station, direction : str
        ``direction`` such as ``up`` or ``side``, with the component that it belongs to where there are several.
    kind : str
        ``length`` or ``angle``.
    parts : tuple of (source, standard uncertainty)
        In metres or rad.
    """

    station: str
    direction: str
    kind: str
    parts: tuple[tuple[str, float], ...]


def station_budgets(layout: Layout, task: Task) -> tuple[StationBudget, ...]:
    """Budgets of all deviations that belong to a task, in their order.

    Raises
    ------
    GeometryError
        Where the planned readings do not determine them.
    """
    planned = planned_of(layout, task)
    zones = [each for each in planned.definition.values if isinstance(each, Zone) and each.tells_deviations]
    profiles = [(each.name, each.profile, _seen(each)) for each in zones]
    profiles += [("", profile, profile.jacobian) for profile in planned.definition.shown]
    several = len({name for name, *_ in profiles}) > 1
    return tuple(
        budget
        for name, profile, jacobian in profiles
        for budget in _of_profile(planned, profile, jacobian, name if several else "")
    )


def _seen(zone: Zone) -> Floats:
    """Change ``(k, p)`` of the deviations from the reference of a zone with the unknowns."""
    jacobian, unseen = zone.profile.jacobian, zone.measure.unseen(len(zone.profile.stations))
    if unseen.shape[1]:
        jacobian = jacobian - unseen @ (np.linalg.pinv(unseen) @ jacobian)
    if zone.measure.steady:  # the reference does not depend on the shape, so that any shape tells its change
        shape: Floats = np.linspace(-1e-3, 1e-3, len(jacobian)) ** 3
        jacobian = zone.measure.at(shape).gain @ jacobian
    return jacobian


def _of_profile(planned: Planned, profile: Profile, jacobian: Floats, name: str) -> list[StationBudget]:
    variances = planned.spread_of(jacobian).variances()
    return [
        StationBudget(
            station=station,
            direction=", ".join(part for part in (profile.components[i], name) if part),
            kind=str(profile.kind),
            parts=tuple((source, float(np.sqrt(max(0.0, part[i])))) for source, part in variances.items()),
        )
        for i, station in enumerate(profile.stations)
    ]
