"""The budget that the plan tab shows: of one reading, of a station after the reduction, or of a task."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from scenes.checks.check import CheckResult
from scenes.errors import GeometryError
from scenes.reductions.estimate import planned_estimate
from viewer.logic.budgets import Variances, budget_chart, reading_variances

__all__ = ["PlanBudgets"]

Document = dict[str, Any]

KINDS = {"reading": "One reading", "station": "Its deviation", "task": "Task"}


class PlanBudgets:
    """Budgets of one plan; what takes time is worked out when first asked for, and kept."""

    def __init__(self, check: CheckResult) -> None:
        self._check = check
        self._readings: dict[str, Variances] | None = None
        self._stations: dict[str, tuple[tuple[str, ...], Variances] | str] = {}
        self._budgets = {each.task.name: each.budget for each in check.predictions}

    @property
    def tasks(self) -> tuple[str, ...]:
        """Tasks that have a budget."""
        return tuple(self._budgets)

    def _task_with(self, station: str, task: str) -> str:
        """Task whose reduction gives the deviation of a station: ``task`` where it can, else the first that does."""
        fitting = [name for name in self.tasks if station in self._check.layout.tasks[name].stations]
        return task if task in fitting else fitting[0] if fitting else ""

    def missing(self, of: str, _axis: str, task: str, station: str) -> Callable[[], None] | None:
        """Work that has to be done before the budget of a station can be told; None where it can be told now."""
        name = self._task_with(station, task)
        if of != "station" or not name or name in self._stations:
            return None

        def work() -> None:
            try:
                estimate = planned_estimate(self._check.layout, self._check.layout.tasks[name])
                self._stations[name] = (estimate.stations, estimate.spread.variances())
            except GeometryError as error:
                self._stations[name] = str(error)

        return work

    def document(self, of: str, axis: str, task: str, station: str, row: int) -> Document:
        """The budget that is asked for, or the one that can be told; ``row`` is the chosen reading, -1: none."""
        plan = self._check.plan
        possible = {
            "reading": plan is not None and row >= 0, "station": bool(self._task_with(station, task)),
            "task": bool(self._budgets),
        }  # fmt: skip
        chosen = of if possible.get(of) else next((kind for kind, can in possible.items() if can), "")
        made: Document = {
            "of": chosen, "axes": [], "axis": "", "title": "", "chart": None, "note": "", "task": "",
            "kinds": [{"value": kind, "title": KINDS[kind], "can": can} for kind, can in possible.items()],
        }  # fmt: skip
        if chosen == "reading":
            return made | self._reading(axis, station, row)
        if chosen == "station":
            return made | self._station(task, station)
        if chosen == "task":
            return made | self._task(task)
        return made | {"note": "Choose a station to see where the uncertainty of its readings comes from."}

    def _reading(self, axis: str, station: str, row: int) -> Document:
        plan, unit = self._check.plan, self._check.layout.units.deviation
        assert plan is not None
        if self._readings is None:
            self._readings = reading_variances(self._check.layout, plan.geometry)
        axes = [each for each in ("v", "h") if plan.geometry.reads[each][row]]
        chosen = axis if axis in axes else axes[0] if axes else ""
        if not chosen:
            return {"note": "This reading tells neither h nor v."}
        parts = [(name, float(np.sqrt(part[row]))) for name, part in self._readings[chosen].items()]
        setup = plan.geometry.rows.setups[int(plan.geometry.rows.setup[row])]
        return {
            "axes": axes, "axis": chosen, "chart": budget_chart(parts, unit),
            "title": f"Reading {chosen} of {station} from {setup}",
        }  # fmt: skip

    def _station(self, task: str, station: str) -> Document:
        unit = self._check.layout.units.deviation
        name = self._task_with(station, task)
        found = self._stations.get(name)
        if found is None or isinstance(found, str):
            return {"note": found or "Working it out.", "title": f"Deviation of {station}, {name}"}
        stations, variances = found
        if station not in stations:
            return {"note": "No set-up reads this station for the task."}
        number = stations.index(station)
        parts = [(source, float(np.sqrt(part[number]))) for source, part in variances.items()]
        return {"chart": budget_chart(parts, unit), "title": f"Deviation of {station}, {name}", "task": name}

    def _task(self, task: str) -> Document:
        name = task if task in self._budgets else self.tasks[0]
        chart = budget_chart(list(self._budgets[name]), self._check.layout.units.deviation)
        return {"chart": chart, "title": f"Typical station of {name}", "task": name}
