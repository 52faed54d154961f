"""The plan tab in plain data: findings, planned readings and what they can prove; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.checks.check import CheckResult
from scenes.checks.plan import Plan
from scenes.checks.window import usable_half_window
from scenes.model.finding import Severity
from scenes.tracing.sight import Sight
from scenes.units import PLACE, SIZE, SPOT, from_si
from viewer import text
from viewer.logic.result import finding_row

__all__ = ["READINGS_SHOWN", "plan_document"]

Document = dict[str, Any]

READINGS_SHOWN = 400
_SIGHTS = {Sight.CLEAR: ("good", "●", "clear"), Sight.CLIPPED: ("open", "▲", "clipped"),
           Sight.BLOCKED: ("bad", "■", "blocked")}  # fmt: skip


def plan_document(check: CheckResult) -> Document:
    """Everything that the panel shows."""
    rows, note = _readings(check) if check.plan is not None else ([], "")
    return {
        "head": _head(check),
        "findings": [{**finding_row(finding), "number": n} for n, finding in enumerate(check.findings)],
        "nothing": text.NO_FINDINGS,
        "traced": check.plan is not None,
        "no_plan": text.NO_PLAN,
        "rows": rows,
        "note": note,
        "length_unit": check.layout.units.length,
        "promises": [_promise(check, number) for number in range(len(check.predictions))],
        "sights": [{"kind": kind, "shape": shape, "word": word} for kind, shape, word in _SIGHTS.values()],
    }


def _head(check: CheckResult) -> Document:
    count = {severity: sum(each.severity is severity for each in check.findings) for severity in Severity}
    kind, shape, word = ("good", "●", "Ready to measure")
    if count[Severity.ERROR]:
        kind, shape, word = ("bad", "■", "Not ready to measure")
    elif count[Severity.WARNING]:
        kind, shape, word = ("open", "▲", "Ready, with warnings")
    parts = [f"{n} {severity!s}{'s' * (n != 1)}" for severity, n in count.items() if n]
    planned = 0 if check.plan is None else len(check.plan.geometry.rows)
    sentence = f"{planned} planned readings; {', '.join(parts) if parts else 'nothing found against them'}."
    return {"kind": kind, "shape": shape, "word": word, "sentence": sentence}


def _readings(check: CheckResult) -> tuple[list[Document], str]:
    """One row for each planned reading that is not a repeat."""
    plan = check.plan
    assert plan is not None
    rows = plan.geometry.rows
    _, first = np.unique(rows.setup * len(rows.stations) + rows.station, return_index=True)
    order = np.sort(first)
    margin = usable_half_window(plan) - np.abs(plan.spots.v)
    made = [_reading(plan, int(i), float(margin[i]), check.layout.units.length) for i in order[:READINGS_SHOWN]]
    note = f"{len(made)} of {len(order)} readings are listed." if len(made) < len(order) else ""
    return made, note


def _reading(plan: Plan, i: int, margin: float, unit: str) -> Document:
    rows, sight = plan.geometry.rows, Sight(int(plan.sight.sight[i]))
    kind, shape, word = _SIGHTS[sight]
    by = "" if sight is Sight.CLEAR else f" by {plan.obstacles.names[plan.sight.by[i]]}"

    def told(value: float, to: float) -> str:
        return text.length_number(value, unit, to)

    return {
        "key": f"{rows.setups[rows.setup[i]]}/{rows.stations[rows.station[i]]}",
        "station": rows.stations[rows.station[i]], "setup": rows.setups[rows.setup[i]],
        "range": told(float(plan.spots.path[i]), PLACE), "v": told(float(plan.spots.v[i]), SPOT),
        "margin": told(margin, SIZE), "radius": told(float(plan.spots.radius[i]), SPOT),
        "kind": kind, "shape": shape, "sight": word + by,
    }  # fmt: skip


def _promise(check: CheckResult, number: int) -> Document:
    """What the plan can prove for one task."""
    prediction, unit = check.predictions[number], check.layout.units.deviation
    largest_u = float(prediction.station_u.max())
    enough = prediction.provable <= prediction.task.limit
    parts = [(name, u) for name, u in prediction.budget if u > 1e-10][:5]
    largest = parts[0][1] if parts else 1.0
    return {
        "task": prediction.task.name,
        "kind": "good" if enough else "open", "shape": "●" if enough else "▲",
        "sentence": (
            f"Can prove limits from {text.quantity(prediction.provable, unit)} upward; "
            f"{text.quantity(prediction.task.limit, unit)} is asked."
        ),
        "lines": [
            f"Standard uncertainty of a station up to {text.quantity(largest_u, unit, fine=True)}.",
            f"A perfect surface would read {text.quantity(prediction.empty_value, unit)} from errors alone.",
        ],
        "unit": text.screen_unit(unit),
        "budget": [
            {"name": name, "value": f"{from_si(u, unit, 'length'):.{text.figures(unit)}f}",
             "share": round(100.0 * u / largest, 1)}
            for name, u in parts
        ],
    }  # fmt: skip
