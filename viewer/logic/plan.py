"""The plan tab in plain data: findings, planned readings and what they can prove; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.checks.check import CheckResult
from scenes.checks.plan import Plan
from scenes.model.finding import Severity
from scenes.tracing.sight import Sight
from scenes.units import PLACE, SIZE, SPOT
from scenes.vectors import Floats, Indices
from viewer import text
from viewer.logic.findings import finding_rows, severity_choices
from viewer.logic.station import SIGHTS, how_read

__all__ = ["READINGS_SHOWN", "plan_document"]

Document = dict[str, Any]

READINGS_SHOWN = 400


def plan_document(check: CheckResult) -> Document:
    """Everything that the panel shows without a chosen station or finding."""
    rows, note = _readings(check.plan, check.layout.units.length) if check.plan is not None else ([], "")
    findings, left = finding_rows(check)
    return {
        "head": _head(check),
        "findings": findings,
        "findings_note": left,
        "severities": severity_choices(check),
        "nothing": text.NO_FINDINGS,
        "traced": check.plan is not None,
        "no_plan": text.NO_PLAN,
        "rows": rows,
        "note": note,
        "length_unit": check.layout.units.length,
        "promises": [_promise(check, number) for number in range(len(check.predictions))],
        "sights": [{"kind": kind, "shape": shape, "word": word} for kind, shape, word in SIGHTS.values()],
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


def _first_readings(plan: Plan) -> Indices:
    """Readings ``(k,)`` in their order that are not taken again."""
    rows = plan.geometry.rows
    parts = np.stack([rows.setup, rows.station, rows.side, rows.stop, rows.turn, rows.clock], axis=1)
    _, first = np.unique(parts, axis=0, return_index=True)
    result: Indices = np.sort(first)
    return result


def _margins(plan: Plan) -> Floats:
    """Least way ``(m,)`` of each spot to the end of its room, in the directions that tell something, metres."""
    geometry = plan.geometry
    off = np.stack([np.abs(plan.spots.h), np.abs(plan.spots.v)], axis=1)
    room = 0.5 * geometry.window - plan.spots.radius[:, None] - off
    tells = np.stack([geometry.reads["h"], geometry.reads["v"]], axis=1)
    blind = np.all(~tells, axis=1, keepdims=True)  # all sides count then
    result: Floats = np.min(np.where(tells | blind, room, np.inf), axis=1)
    return result


def _readings(plan: Plan, unit: str) -> tuple[list[Document], str]:
    """One row for each planned reading that is not taken again."""
    order, margin = _first_readings(plan), _margins(plan)
    made = [_reading(plan, int(i), float(margin[i]), unit) for i in order[:READINGS_SHOWN]]
    note = f"{len(made)} of {len(order)} readings are listed." if len(made) < len(order) else ""
    return made, note


def _reading(plan: Plan, i: int, margin: float, unit: str) -> Document:
    rows, sight = plan.geometry.rows, Sight(int(plan.sight.sight[i]))
    kind, shape, word = SIGHTS[sight]
    by = "" if sight is Sight.CLEAR else f" by {plan.obstacles.names[plan.sight.by[i]]}"
    several = len(rows.setups) > 1
    where = ", ".join(part for part in (rows.setups[rows.setup[i]] if several else "", how_read(plan, i)) if part)

    def told(value: float, to: float) -> str:
        return text.length_number(value, unit, to)

    return {
        "row": i, "station": rows.stations[rows.station[i]], "setup": rows.setups[rows.setup[i]], "where": where,
        "range": told(float(plan.spots.path[i]), PLACE),
        "h": told(float(plan.spots.h[i]), SPOT), "v": told(float(plan.spots.v[i]), SPOT),
        "margin": told(margin, SIZE), "radius": told(float(plan.spots.radius[i]), SPOT),
        "kind": kind, "shape": shape, "sight": word + by,
    }  # fmt: skip


def _promise(check: CheckResult, number: int) -> Document:
    """What the plan can prove for one task."""
    prediction = check.predictions[number]
    enough = prediction.provable <= prediction.limit
    scale, of_stations = prediction.scale, prediction.station_scale
    name = prediction.task.name + (f", {prediction.component}" if prediction.component else "")
    if np.isfinite(prediction.limit):
        asked = f"; {text.told(scale, prediction.limit)} is asked."
    else:
        asked = "; no limit is asked."
    lines = [f"Standard uncertainty of a station up to {text.told(of_stations, float(prediction.station_u.max()))}."]
    if prediction.is_zone:
        thing = "surface" if prediction.task.quantity == "flatness" else "machine"
        lines.append(f"A perfect {thing} would read {text.told(scale, prediction.empty_value)} from errors alone.")
    return {
        "task": name,
        "kind": "good" if enough else "open", "shape": "●" if enough else "▲",
        "sentence": f"Can prove limits from {text.told(scale, prediction.provable)} upward{asked}",
        "lines": lines,
    }  # fmt: skip
