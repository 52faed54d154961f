"""Checks of what the plan can prove: cones that cannot be found, limits that cannot be settled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.survey import Task
from ..reductions.cone import EQUAL_RADII, radius_spread
from ..reductions.estimate import planned_estimate
from ..reductions.form import Reference
from ..reductions.noise import NORMAL_95, noisy_values, square_root
from ..reductions.verdict import GUARD_FACTOR
from ..uncertainty.propagate import NEGLIGIBLE
from ..units import show
from .plan import Plan

__all__ = ["Prediction", "check_radii", "check_tasks"]

PLAN_TRIALS = 4_000


@dataclass(frozen=True, slots=True, eq=False)
class Prediction:
    """What the plan promises for one task; lengths in metres.

    Attributes
    ----------
    station_u : (n,) float
        Standard uncertainties of the deviations of ``stations`` from their least-squares plane.
    empty_value : float
        What a perfect surface would read on average, from errors alone.
    provable : float
        Least limit that a perfect surface could be proven to keep: that value and the guard band of its uncertainty.
    budget : tuple of (source, contribution)
        Of the typical station, the largest first.
    """

    task: Task
    stations: tuple[str, ...]
    station_u: np.ndarray[tuple[int], np.dtype[np.float64]]
    empty_value: float
    provable: float
    budget: tuple[tuple[str, float], ...]


def check_radii(plan: Plan) -> list[Finding]:
    """Set-ups whose stations all stand at one radius from the base, seen against a plane."""
    rows, layout, found = plan.geometry.rows, plan.layout, []
    at = np.array([layout.stations[name].at for name in rows.stations]).reshape(-1, 3)
    for number, name in enumerate(rows.setups):
        mine = np.nonzero((rows.setup == number) & np.isfinite(plan.spots.path))[0]
        chosen = mine[np.unique(rows.station[mine], return_index=True)[1]]
        if len(chosen) < 4 or radius_spread(plan.spots.path[chosen], at[rows.station[chosen], :2]) >= EQUAL_RADII:
            continue
        setup = layout.setups[name]
        found.append(Finding(
            Severity.NOTE, "equal-radii", "set-up", name,
            f"all stations stand at the same radius from {setup.base}: a beam that is not square to its axis lifts "
            "every reading alike, so the cone cannot be found",
            "flatness from this set-up alone does not suffer; to find the cone, read at clearly different radii",
            setup=name, line=setup.line,
        ))  # fmt: skip
    return found


def check_tasks(layout: Layout, rng: np.random.Generator) -> tuple[list[Finding], list[Prediction]]:
    """Whether each task can be solved and settled with the planned readings, and how sure it will be."""
    found: list[Finding] = []
    predictions: list[Prediction] = []
    unit = layout.units.deviation
    for task in layout.tasks.values():
        try:
            prediction = _predict(layout, task, rng)
        except GeometryError as error:
            found.append(Finding(
                Severity.ERROR, "task-open", "task", task.name, str(error),
                "change the stations or the set-ups that read them", line=task.line,
            ))  # fmt: skip
            continue
        predictions.append(prediction)
        if prediction.provable > task.limit:
            largest = prediction.budget[0][0]
            found.append(Finding(
                Severity.WARNING, "limit-too-tight", "task", task.name,
                f"even a perfect surface would read {show(prediction.empty_value, unit)} from errors alone; this plan "
                f"cannot prove a limit below {show(prediction.provable, unit)}, and {show(task.limit, unit)} is asked",
                f"the largest error source is: {largest}", line=task.line,
            ))  # fmt: skip
    return found, predictions


def _predict(layout: Layout, task: Task, rng: np.random.Generator) -> Prediction:
    estimate = planned_estimate(layout, task)
    points, covariance = estimate.points, estimate.spread.covariance()
    reference = Reference(task.reference)
    datum = [estimate.stations.index(name) for name in task.datum if name in estimate.stations]
    errors = square_root(covariance) @ rng.standard_normal((len(points), PLAN_TRIALS))
    chosen = np.array(datum, dtype=np.int64) if reference is Reference.THREE_POINTS and len(datum) == 3 else None
    empty_values = noisy_values(points[:, :2], np.zeros(len(points)), errors, reference, chosen)
    empty, scatter = float(empty_values.mean()), float(empty_values.std())
    u = estimate.spread.standard_uncertainty()
    parts = {name: float(np.sqrt(np.mean(part))) for name, part in estimate.spread.variances().items()}
    parts = {name: part for name, part in parts.items() if part > NEGLIGIBLE}
    return Prediction(
        task=task,
        stations=estimate.stations,
        station_u=u,
        empty_value=empty,
        provable=empty + GUARD_FACTOR * max(empty / NORMAL_95, scatter),
        budget=tuple(sorted(parts.items(), key=lambda part: -part[1])),
    )
