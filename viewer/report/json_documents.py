"""JSON documents of the commands. Numbers stand beside their unit; lengths in the units that the layout shows."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from scenes.checks.check import CheckResult
from scenes.checks.plan import Plan
from scenes.corrections.bed_feet import feet_of
from scenes.corrections.proposal import ShimProposal
from scenes.model.finding import Finding
from scenes.model.layout import Layout
from scenes.readings.points import PointsTable
from scenes.reductions.flatness_task import FlatnessResult
from scenes.reductions.form import FormResult
from scenes.reductions.survey import SurveyResult
from scenes.reductions.verdict import Word
from scenes.tracing.sight import Sight
from scenes.units import from_si

__all__ = ["check_document", "form_document", "reduce_document"]


def _in(value: float, unit: str, kind: str = "length") -> float | None:
    """SI value in ``unit``, rounded to what float64 carries; None where there is none."""
    return float(f"{from_si(float(value), unit, kind):.12g}") if math.isfinite(value) else None


def _pair(value: float, unit: str, kind: str = "length") -> dict[str, Any]:
    return {"value": _in(value, unit, kind), "unit": unit}


def _finding(finding: Finding, file: str) -> dict[str, Any]:
    return {
        "severity": str(finding.severity), "code": finding.code, "kind": finding.kind, "name": finding.name,
        "setup": finding.setup or None, "file": file, "line": finding.line or None,
        "message": finding.message, "advice": finding.advice,
    }  # fmt: skip


def check_document(result: CheckResult) -> dict[str, Any]:
    """Document of ``datumray check``: findings, every planned reading, and what the plan promises."""
    layout = result.layout
    unit = layout.units.deviation
    return {
        "layout": layout.file,
        "title": layout.title,
        "passed": not result.failed,
        "findings": [_finding(finding, layout.file) for finding in result.findings],
        "readings": [] if result.plan is None else _planned(result.plan),
        "predictions": [
            {
                "task": prediction.task.name,
                "limit": _in(prediction.task.limit, unit),
                "largest_station_standard_uncertainty": _in(float(prediction.station_u.max()), unit),
                "value_of_a_perfect_surface": _in(prediction.empty_value, unit),
                "smallest_provable_limit": _in(prediction.provable, unit),
                "unit": unit,
                "budget": [{"source": name, "standard_uncertainty": _in(u, unit)} for name, u in prediction.budget],
            }
            for prediction in result.predictions
        ],
    }


def _planned(plan: Plan) -> list[dict[str, Any]]:
    rows, layout = plan.geometry.rows, plan.layout
    unit = layout.units.length
    words = {Sight.CLEAR: "clear", Sight.CLIPPED: "clipped", Sight.BLOCKED: "blocked"}
    return [
        {
            "setup": rows.setups[rows.setup[i]],
            "station": rows.stations[rows.station[i]],
            "range": _in(float(plan.spots.path[i]), unit),
            "spot_h": _in(float(plan.spots.h[i]), unit),
            "spot_v": _in(float(plan.spots.v[i]), unit),
            "beam_radius": _in(float(plan.spots.radius[i]), unit),
            "unit": unit,
            "sight": words[Sight(int(plan.sight.sight[i]))],
            "stopped_by": plan.obstacles.names[plan.sight.by[i]] if plan.sight.by[i] >= 0 else None,
        }
        for i in range(len(rows))
    ]


def reduce_document(
    result: SurveyResult, proposals: dict[tuple[str, str], ShimProposal], remarks: tuple[str, ...] = ()
) -> dict[str, Any]:
    """Document of ``datumray reduce``: results, stations, shims and findings."""
    layout = result.layout
    return {
        "layout": layout.file,
        "title": layout.title,
        "results": [_result(layout, each) for each in result.results],
        "stations": [station for each in result.results for station in _stations(layout, each)],
        "shims": [
            _shims(layout, task, visit, result, proposal) for (task, visit), proposal in proposals.items()
        ],
        "findings": [
            {"task": each.estimate.task.name, "visit": each.estimate.visit, **_finding(finding, layout.file)}
            for each in result.results
            for finding in each.estimate.findings
        ],
        "failures": [
            {"task": failure.task, "visit": failure.visit, "message": failure.message} for failure in result.failures
        ],
        "remarks": [*result.readings.remarks, *remarks],
    }  # fmt: skip


def _result(layout: Layout, each: FlatnessResult) -> dict[str, Any]:
    unit = layout.units.deviation
    estimate, verdict = each.estimate, each.verdict
    stations = estimate.stations
    document: dict[str, Any] = {
        "task": estimate.task.name,
        "visit": estimate.visit,
        "quantity": each.form.quantity,
        "surface": estimate.task.surface,
        "reference": str(each.form.reference),
        "points": len(stations),
        "value": _in(each.form.value, unit),
        "unit": unit,
        "standard_uncertainty": _in(each.standard_uncertainty, unit),
        "expanded_uncertainty": _in(each.expanded_uncertainty, unit),
        "coverage_factor": each.coverage_factor,
        "interval_95": [_in(end, unit) for end in each.interval],
        "noise_bias": _in(each.noise_bias, unit),
        "uncertainty_through_contacts": _in(each.linear_u, unit),
        "trials": each.trials,
        "limit": _in(verdict.limit, unit),
        "rule": str(verdict.rule),
        "guard_band": _in(verdict.guard, unit),
        "verdict": str(verdict.word),
        "reason": verdict.reason or None,
        "probability_of_conformity": float(f"{verdict.probability:.6g}"),
        "contacts": {
            "high": [stations[i] for i in each.form.high],
            "low": [stations[i] for i in each.form.low],
            "datum": [stations[i] for i in each.form.datum],
            "criterion": each.form.criterion or None,
        },
        "budget": [{"source": name, "standard_uncertainty": _in(u, unit)} for name, u in each.budget],
        "control": {
            "redundancy": estimate.consistency.redundancy,
            "chi_square": float(f"{estimate.consistency.chi_square:.6g}"),
            "largest_normalised_residual": float(f"{estimate.consistency.largest:.6g}"),
        },
    }
    cone = estimate.adjustment.cone
    if len(cone):
        document["cones"] = [
            {"base": base, **_pair(float(angle), layout.units.angle, "angle"),
             "standard_uncertainty": _in(float(u), layout.units.angle, "angle"),
             "from_shape": estimate.adjustment.cone_from_shape}
            for base, angle, u in zip(estimate.adjustment.cone_bases, cone, estimate.cone_u, strict=True)
        ]  # fmt: skip
    return document


def _stations(layout: Layout, each: FlatnessResult) -> list[dict[str, Any]]:
    unit, length = layout.units.deviation, layout.units.length
    estimate = each.estimate
    return [
        {
            "task": estimate.task.name,
            "station": name,
            "visit": estimate.visit,
            "x": _in(estimate.points[i, 0], length),
            "y": _in(estimate.points[i, 1], length),
            "place_unit": length,
            "reading": _in(estimate.reading_v[i], unit),
            "readings": int(estimate.count[i]),
            "deviation": _in(each.form.deviations[i], unit),
            "unit": unit,
            "standard_uncertainty": _in(each.station_u[i], unit),
            "leverage": float(f"{each.leverage[i]:.6g}"),
        }
        for i, name in enumerate(estimate.stations)
    ]


def _shims(layout: Layout, task: str, visit: str, survey: SurveyResult, proposal: ShimProposal) -> dict[str, Any]:
    feet = feet_of(layout, layout.tasks[task].surface)
    assert feet is not None  # a proposal is made for the feet of its surface
    judged = survey.of(task, visit)
    unit, length = layout.units.deviation, layout.units.length
    u = proposal.predicted_uncertainty
    loads = proposal.loads_after
    return {
        "task": task,
        "visit": visit,
        "needed": judged is None or judged.verdict.word is not Word.CONFORMS,
        "unit": unit,
        "as_found": _in(proposal.as_found, unit),
        "predicted": _in(proposal.predicted, unit),
        "predicted_standard_uncertainty": None if u is None else _in(u, unit),
        "best_possible": _in(proposal.bound, unit),
        "mean_lift": _in(proposal.mean_lift, unit),
        "tilt": {
            "about_x": _in(float(proposal.tilt[0]), "mm/m", "angle"),
            "about_y": _in(float(proposal.tilt[1]), "mm/m", "angle"),
            "unit": "mm/m",
        },
        "feet": [
            {
                "foot": name,
                "x": _in(float(feet.at[i, 0]), length),
                "y": _in(float(feet.at[i, 1]), length),
                "place_unit": length,
                "lift": _in(float(proposal.lifts[i]), unit),
                "unit": unit,
                "shims": None if proposal.stacks is None else [_in(piece, unit) for piece in proposal.stacks[i]],
                "load_after": None if loads is None else {"value": float(f"{loads[i] / 1e3:.6g}"), "unit": "kN"},
            }
            for i, name in enumerate(feet.names)
        ],
        "warnings": list(proposal.warnings),
    }


def form_document(result: FormResult, table: PointsTable, unit: str) -> dict[str, Any]:
    """Document of ``datumray form``: the value and the points that hold it; ``index`` counts from 0."""

    def contact(index: int, side: str) -> dict[str, Any]:
        return {"point": table.name[index], "index": int(index), "row": int(table.row[index]), "side": side}

    contacts = [contact(i, "high") for i in result.high] + [contact(i, "low") for i in result.low]
    contacts += [contact(i, "datum") for i in result.datum]
    return {
        "file": table.file,
        "quantity": result.quantity,
        "reference": str(result.reference),
        "points": len(table),
        "value": _in(result.value, unit),
        "unit": unit,
        "criterion": result.criterion or None,
        "contacts": contacts,
        "deviations": [_in(float(value), unit) for value in np.asarray(result.deviations)],
        "remarks": list(table.remarks),
    }
