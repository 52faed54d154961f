"""The budget that the plan tab shows: of one reading, of a station after the reduction, or of a task."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from scenes.checks.certainty import Prediction
from scenes.checks.check import CheckResult
from scenes.errors import GeometryError
from viewer import text
from viewer.logic.budgets import Variances, budget_chart, reading_variances
from viewer.logic.station_budgets import StationBudget, station_budgets

__all__ = ["PlanBudgets"]

Document = dict[str, Any]

KINDS = {"reading": "One reading", "station": "Its deviation", "task": "Task"}
AXES = {"v": "v, up", "h": "h, to the right"}


class PlanBudgets:
    """Budgets of one plan; what takes time is worked out when first asked for, and kept."""

    def __init__(self, check: CheckResult) -> None:
        self._check = check
        self._readings: dict[str, Variances] | None = None
        self._stations: dict[str, tuple[StationBudget, ...] | str] = {}
        self._begun: set[str] = set()
        self._predictions: dict[str, Prediction] = {each.task.name: each for each in check.predictions}

    @property
    def tasks(self) -> tuple[str, ...]:
        """Tasks that have a budget."""
        return tuple(self._predictions)

    def _task_with(self, station: str, task: str) -> str:
        """Task whose reduction gives the deviation of a station: ``task`` where it can, else the first that does."""
        fitting = [name for name in self.tasks if station in self._predictions[name].stations]
        return task if task in fitting else fitting[0] if fitting else ""

    def missing(self, of: str, _axis: str, task: str, station: str) -> Callable[[], None] | None:
        """Work that has to be begun before the budget of a station can be told; None where nothing need be."""
        name = self._task_with(station, task)
        if of != "station" or not name or name in self._begun:
            return None
        self._begun.add(name)

        def work() -> None:
            try:
                self._stations[name] = station_budgets(self._check.layout, self._check.layout.tasks[name])
            except GeometryError as error:
                self._stations[name] = str(error)

        return work

    def document(self, of: str, axis: str, task: str, station: str, row: int) -> Document:
        """The budget that is asked for, or the one that can be told; ``row`` is the chosen reading, -1: none."""
        plan = self._check.plan
        possible = {
            "reading": plan is not None and row >= 0, "station": bool(self._task_with(station, task)),
            "task": bool(self._predictions),
        }  # fmt: skip
        chosen = of if possible.get(of) else next((kind for kind, can in possible.items() if can), "")
        made: Document = {
            "of": chosen, "axes": [], "axis": "", "title": "", "chart": None, "note": "", "task": "",
            "kinds": [{"value": kind, "title": KINDS[kind], "can": can} for kind, can in possible.items()],
        }  # fmt: skip
        if chosen == "reading":
            return made | self._reading(axis, station, row)
        if chosen == "station":
            return made | self._station(axis, task, station)
        if chosen == "task":
            return made | self._task(task)
        return made | {"note": "Choose a station to see where the uncertainty of its readings comes from."}

    def _reading(self, axis: str, station: str, row: int) -> Document:
        plan, unit = self._check.plan, self._check.layout.units.deviation
        assert plan is not None
        if self._readings is None:
            self._readings = reading_variances(self._check.layout, plan.geometry)
        axes = [each for each in AXES if plan.geometry.reads[each][row]]
        chosen = axis if axis in axes else axes[0] if axes else ""
        if not chosen:
            return {"note": "This reading tells neither h nor v."}
        parts = [(name, float(np.sqrt(part[row]))) for name, part in self._readings[chosen].items()]
        setup = plan.geometry.rows.setups[int(plan.geometry.rows.setup[row])]
        return {
            "axes": [{"value": each, "title": AXES[each]} for each in axes], "axis": chosen,
            "chart": budget_chart(parts, unit), "title": f"Reading {chosen} of {station} from {setup}",
        }  # fmt: skip

    def _station(self, axis: str, task: str, station: str) -> Document:
        name = self._task_with(station, task)
        found = self._stations.get(name, "Working it out.")
        if isinstance(found, str):
            return {"note": text.plain_message(found), "title": f"Deviation of {station}, {name}", "task": name}
        mine = {each.direction: each for each in found if each.station == station}
        if not mine:
            return {"note": "No set-up reads this station for the task.", "task": name}
        chosen = axis if axis in mine else next(iter(mine))
        budget, units = mine[chosen], self._check.layout.units
        unit = units.deviation if budget.kind == "length" else units.angle
        return {
            "axes": [{"value": each, "title": each} for each in mine], "axis": chosen, "task": name,
            "chart": budget_chart(list(budget.parts), unit, budget.kind),
            "title": f"Deviation of {station} {chosen}, {name}",
        }  # fmt: skip

    def _task(self, task: str) -> Document:
        name = task if task in self._predictions else self.tasks[0]
        prediction = self._predictions[name]
        scale, over = prediction.scale, prediction.scale.over or 1.0
        chart = budget_chart([(source, u * over) for source, u in prediction.budget], scale.unit, scale.kind)
        typical = prediction.task.quantity == "flatness" and not prediction.component
        what = f"Typical station of {name}" if typical else f"{name} {prediction.component}".strip()
        return {"chart": chart, "title": what + text.plain_message(scale.behind), "task": name}
