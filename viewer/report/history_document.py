"""JSON of the history of many machines."""

from __future__ import annotations

from typing import Any

from scenes.visits.rows import ChangeRow, MachineRows, ResultRow, TrendRow
from viewer.report.history_selection import latest_results
from viewer.report.json_values import rounded

__all__ = ["history_document"]


def history_document(machines: dict[str, MachineRows], computed: int, remarks: tuple[str, ...]) -> dict[str, Any]:
    """All rows that are told, numbers in the units of the layouts."""
    return {
        "computed_visits": computed,
        "remarks": list(remarks),
        "machines": [_machine(name, rows) for name, rows in machines.items()],
    }


def _machine(name: str, rows: MachineRows) -> dict[str, Any]:
    latest = latest_results(rows)
    return {
        "machine": name,
        "visits": [
            {"visit": row.visit, "date": row.date, "adjusted": bool(row.adjusted), "note": row.note or None,
             "layout_hash": row.layout_hash, "readings_hash": row.readings_hash}
            for row in rows.visits
        ],
        "results": [_result(row, row in latest) for row in rows.results],
        "changes": [_change(row) for row in rows.changes],
        "trends": [_trend(row) for row in rows.trends],
        "problems": [
            {"visit": row.visit or None, "task": row.task or None, "message": row.message} for row in rows.problems
        ],
    }  # fmt: skip


def _in(value: float | None, factor: float) -> float | None:
    return None if value is None else rounded(value * factor)


def _result(row: ResultRow, latest: bool) -> dict[str, Any]:
    return {
        "task": row.task, "visit": row.visit, "latest": latest, "component": row.component or None,
        "quantity": row.quantity, "reference": row.reference, "value": _in(row.value, row.factor),
        "unit": row.unit or None, "standard_uncertainty": _in(row.standard_uncertainty, row.factor),
        "expanded_uncertainty": _in(row.expanded_uncertainty, row.factor),
        "limit": _in(row.upper_limit, row.factor), "lower_limit": _in(row.lower_limit, row.factor),
        "verdict": row.verdict, "probability_of_conformity": rounded(row.probability, 6),
    }  # fmt: skip


def _change(row: ChangeRow) -> dict[str, Any]:
    return {
        "task": row.task, "component": row.component or None, "from": row.before, "to": row.after,
        "change": _in(row.change, row.factor), "unit": row.unit,
        "standard_uncertainty": _in(row.standard_uncertainty, row.factor),
        "expanded_uncertainty": _in(row.expanded_uncertainty, row.factor),
        "proven": bool(row.proven), "worse": bool(row.worse), "says": row.sentence,
    }  # fmt: skip


def _trend(row: TrendRow) -> dict[str, Any]:
    return {
        "task": row.task, "of": row.of or None, "station": row.station or None, "component": row.component or None,
        "first": row.first, "last": row.last, "visits": row.visits, "per_year": _in(row.slope, row.factor),
        "unit": row.unit, "standard_uncertainty": _in(row.standard_uncertainty, row.factor),
        "expanded_uncertainty": _in(row.expanded_uncertainty, row.factor), "scatter": rounded(row.scatter, 6),
        "proven": bool(row.proven), "outlook": row.outlook, "limit": _in(row.limit_value, row.factor),
        "reached": row.reached, "earliest": row.earliest, "latest": row.latest,
    }  # fmt: skip
