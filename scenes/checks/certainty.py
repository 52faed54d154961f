"""Checks of what the plan can prove: tasks that it leaves open, limits that it cannot settle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.survey import Task
from ..reductions.network import Network
from ..reductions.planned_tasks import planned_of
from ..reductions.predicted import Predicted
from ..reductions.prediction import predict
from ..reductions.quantities.shown import Scale, scale_of
from ..vectors import Floats

__all__ = ["Prediction", "check_tasks"]

PLAN_TRIALS = 4_000


@dataclass(frozen=True, slots=True, eq=False)
class Prediction:
    """What the plan promises for one task, of its components for the tightest one; metres, or rad for an angle.

    Attributes
    ----------
    stations : tuple of str
    station_u : (n,) float
        Standard uncertainties of their deviations from the reference.
    empty_value : float
        What a perfect machine would read on average, from errors alone.
    provable : float
        Least limit that a perfect machine could be proven to keep; of a limit both ways, half its width.
    budget : tuple of (source, contribution)
        The largest first: of the typical station for a surface swept by bases, else of the value.
    component : str
        Name of the component; empty where there is one only.
    limit : float
        The limit to compare ``provable`` with.
    is_zone : bool
        True for a number that errors can only raise.
    scale, station_scale : Scale
        How its numbers and those of its stations are shown.
    """

    task: Task
    stations: tuple[str, ...]
    station_u: Floats
    empty_value: float
    provable: float
    budget: tuple[tuple[str, float], ...]
    component: str
    limit: float
    is_zone: bool
    scale: Scale
    station_scale: Scale


def check_tasks(layout: Layout, rng: np.random.Generator) -> tuple[list[Finding], list[Prediction]]:
    """Whether each task can be solved and settled with the planned readings, and how sure it will be."""
    found: list[Finding] = []
    predictions: list[Prediction] = []
    networks: dict[tuple[str, ...], Network] = {}
    for task in layout.tasks.values():
        try:
            predicted = predict(planned_of(layout, task, networks), rng, 0, PLAN_TRIALS)
            found += _open(predicted)
            prediction = _tightest(layout, predicted)
        except GeometryError as error:
            found.append(Finding(
                Severity.ERROR, "task-open", "task", task.name, str(error),
                "change the stations or the set-ups that read them", line=task.line,
            ))  # fmt: skip
            continue
        predictions.append(prediction)
        if prediction.provable > prediction.limit:
            found.append(_too_tight(prediction))
    return found, predictions


def _open(predicted: Predicted) -> list[Finding]:
    """Components that the planned readings do not tell, and why no value could prove what they tell by halves."""
    task = predicted.task
    found = [
        Finding(
            Severity.ERROR, "task-open", "task", task.name,
            f"{each.component}: {each.reason}" if each.component else each.reason,
            "change the stations or the set-ups that read them", line=task.line,
        )
        for each in predicted.unreached
    ]  # fmt: skip
    if predicted.held:
        found.append(Finding(
            Severity.WARNING, "limit-too-tight", "task", task.name, predicted.held,
            "without that, no value proves that the limit is kept", line=task.line,
        ))  # fmt: skip
    return list({finding.message: finding for finding in found}.values())


def _too_tight(prediction: Prediction) -> Finding:
    task = prediction.task
    where = f"{prediction.component}: " if prediction.component else ""
    values = (prediction.empty_value, prediction.provable, prediction.limit)
    told = [prediction.scale.told(value) for value in values]
    largest = prediction.budget[0][0] if prediction.budget else "none is stated"
    thing = "surface" if task.quantity == "flatness" else "machine"
    empty = f"even a perfect {thing} would read {told[0]} from errors alone; " if prediction.is_zone else ""
    return Finding(
        Severity.WARNING, "limit-too-tight", "task", task.name,
        f"{where}{empty}this plan cannot prove a limit below {told[1]}, and {told[2]} is asked",
        f"the largest error source is: {largest}", line=task.line,
    )  # fmt: skip


def _tightest(layout: Layout, predicted: Predicted) -> Prediction:
    """The component that is hardest to prove."""
    worst = predicted.worst
    mine = [each for each in predicted.stations if each.of == worst.name] or list(predicted.stations)
    room = worst.upper if worst.upper is not None else float("inf")
    return Prediction(
        task=predicted.task,
        stations=tuple(name for each in mine for name in each.stations),
        station_u=np.concatenate([each.u for each in mine]) if mine else np.zeros(1),
        empty_value=worst.empty_value,
        provable=worst.provable,
        budget=worst.budget,
        component=worst.name,
        limit=room if worst.lower is None else 0.5 * (room - worst.lower),
        is_zone=worst.is_zone,
        scale=scale_of(worst.kind, worst.limit, layout.units),
        station_scale=scale_of(mine[0].kind if mine else "length", None, layout.units),
    )
