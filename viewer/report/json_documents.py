"""JSON documents of the commands. Numbers stand beside their unit; lengths in the units that the layout shows."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.checks.certainty import Prediction
from scenes.checks.check import CheckResult
from scenes.checks.plan import Plan
from scenes.corrections.bed_feet import feet_of
from scenes.corrections.proposal import ShimProposal
from scenes.model.layout import Layout
from scenes.readings.points import PointsTable
from scenes.reductions.form import FormResult
from scenes.reductions.survey import SurveyResult
from scenes.reductions.verdict import Word
from scenes.tracing.sight import Sight
from viewer.report.json_values import finding_value, in_unit, over_value, scaled
from viewer.report.measured_document import measured_results, measured_stations

__all__ = ["check_document", "form_document", "reduce_document"]


def check_document(result: CheckResult) -> dict[str, Any]:
    """Document of ``datumray check``: findings, every planned reading, and what the plan promises."""
    layout = result.layout
    return {
        "layout": layout.file,
        "title": layout.title,
        "passed": not result.failed,
        "findings": [finding_value(finding, layout.file) for finding in result.findings],
        "readings": [] if result.plan is None else _planned(result.plan),
        "predictions": [_promise(prediction) for prediction in result.predictions],
    }


def _promise(prediction: Prediction) -> dict[str, Any]:
    """What the plan promises for one task, of its tightest component."""
    scale, stations = prediction.scale, prediction.station_scale
    largest = float(prediction.station_u.max()) if len(prediction.station_u) else None
    return {
        "task": prediction.task.name,
        "quantity": prediction.task.quantity,
        "component": prediction.component or None,
        "limit": scaled(prediction.limit, scale),
        "largest_station_standard_uncertainty": scaled(largest, stations),
        "station_unit": stations.unit,
        "value_of_a_perfect_surface": scaled(prediction.empty_value, scale),
        "smallest_provable_limit": scaled(prediction.provable, scale),
        "unit": scale.unit,
        "over": over_value(scale),
        "budget": [{"source": name, "standard_uncertainty": scaled(u, scale)} for name, u in prediction.budget],
    }


def _planned(plan: Plan) -> list[dict[str, Any]]:
    rows, layout = plan.geometry.rows, plan.layout
    unit = layout.units.length
    words = {Sight.CLEAR: "clear", Sight.CLIPPED: "clipped", Sight.BLOCKED: "blocked"}
    return [
        {
            "setup": rows.setups[rows.setup[i]],
            "station": rows.stations[rows.station[i]],
            "range": in_unit(float(plan.spots.path[i]), unit),
            "spot_h": in_unit(float(plan.spots.h[i]), unit),
            "spot_v": in_unit(float(plan.spots.v[i]), unit),
            "beam_radius": in_unit(float(plan.spots.radius[i]), unit),
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
        "results": [
            entry for each in result.measured for entry in measured_results(layout, each)
        ],
        "stations": [
            station for each in result.measured for station in measured_stations(layout, each)
        ],
        "shims": [
            _shims(layout, task, visit, result, proposal) for (task, visit), proposal in proposals.items()
        ],
        "findings": [
            {"task": each.evidence.task.name, "visit": each.evidence.visit, **finding_value(finding, layout.file)}
            for each in result.measured
            for finding in each.findings
        ],
        "failures": [
            {"task": failure.task, "visit": failure.visit, "message": failure.message} for failure in result.failures
        ],
        "remarks": [
            *result.readings.remarks,
            *remarks,
            *(f"{each.evidence.task.name}, {each.evidence.visit}: {remark}"
              for each in result.measured for remark in each.remarks),
        ],
    }  # fmt: skip


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
        "needed": judged is None or judged.word is not Word.CONFORMS,
        "unit": unit,
        "as_found": in_unit(proposal.as_found, unit),
        "predicted": in_unit(proposal.predicted, unit),
        "predicted_standard_uncertainty": None if u is None else in_unit(u, unit),
        "best_possible": in_unit(proposal.bound, unit),
        "mean_lift": in_unit(proposal.mean_lift, unit),
        "tilt": {
            "about_x": in_unit(float(proposal.tilt[0]), "mm/m", "angle"),
            "about_y": in_unit(float(proposal.tilt[1]), "mm/m", "angle"),
            "unit": "mm/m",
        },
        "feet": [
            {
                "foot": name,
                "x": in_unit(float(feet.at[i, 0]), length),
                "y": in_unit(float(feet.at[i, 1]), length),
                "place_unit": length,
                "lift": in_unit(float(proposal.lifts[i]), unit),
                "unit": unit,
                "shims": None if proposal.stacks is None else [in_unit(piece, unit) for piece in proposal.stacks[i]],
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
        "value": in_unit(result.value, unit),
        "unit": unit,
        "criterion": result.criterion or None,
        "contacts": contacts,
        "deviations": [in_unit(float(value), unit) for value in np.asarray(result.deviations)],
        "remarks": list(table.remarks),
    }
