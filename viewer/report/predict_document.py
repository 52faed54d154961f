"""JSON of ``datumray predict``: what the plan promises for every task, component and station."""

from __future__ import annotations

from typing import Any

from scenes.model.layout import Layout
from scenes.reductions.predicted import Predicted, PredictedComponent, StationUncertainty
from scenes.reductions.quantities.shown import scale_of
from viewer.report.json_values import in_unit, over_value, rounded, scaled

__all__ = ["predict_document"]


def predict_document(
    layout: Layout, predictions: list[Predicted], failures: list[tuple[str, str]], trials: int, seed: int
) -> dict[str, Any]:
    """Document of ``datumray predict``.

    Parameters
    ----------
    failures : list of (task, reason)
        Tasks that the planned readings do not determine.
    """
    return {
        "layout": layout.file,
        "title": layout.title,
        "trials": trials,
        "seed": seed,
        "provable": not failures and all(each.can_be_proven is not False for each in predictions),
        "predictions": [
            {**_head(each), **_component(layout, component)} for each in predictions for component in each.components
        ],
        "stations": [
            entry for each in predictions for part in each.stations for entry in _stations(layout, each, part)
        ],
        "open": [
            {"task": each.task.name, "component": part.component or None, "reason": part.reason}
            for each in predictions
            for part in each.unreached
        ] + [{"task": task, "component": None, "reason": reason} for task, reason in failures],
        "remarks": [f"{each.task.name}: {remark}" for each in predictions for remark in each.remarks],
    }  # fmt: skip


def _head(each: Predicted) -> dict[str, Any]:
    return {
        "task": each.task.name,
        "quantity": each.task.quantity,
        "surface": each.task.surface,
        "of": list(each.task.of),
        "to": each.task.to or None,
        "reference": each.reference,
        "method": each.method,
        "stations_not_read": list(each.missing),
        "held": each.held or None,
    }


def _component(layout: Layout, c: PredictedComponent) -> dict[str, Any]:
    scale = scale_of(c.kind, c.limit, layout.units)
    return {
        "component": c.name or None,
        "unit": scale.unit,
        "over": over_value(scale),
        "sign": c.plus or None,
        "standard_uncertainty": scaled(c.standard_uncertainty, scale),
        "limit": scaled(c.upper, scale),
        "lower_limit": scaled(c.lower, scale),
        "provable": c.can_be_proven,
        "least_provable_limit": scaled(c.provable, scale),
        "largest_conforming_value": scaled(c.largest, scale),
        "smallest_conforming_value": scaled(c.smallest, scale),
        "perfect_machine": {
            "propagation": {"mean": scaled(c.empty_value, scale), "standard_deviation": scaled(c.empty_scatter, scale)},
            "monte_carlo": {
                "mean": scaled(c.trial_mean, scale),
                "standard_deviation": scaled(c.trial_u, scale),
                "interval_95": [scaled(end, scale) for end in c.trial_interval],
            },
        },
        "dominant_source": c.budget[0][0] if c.budget else None,
        "budget": [{"source": name, "standard_uncertainty": scaled(u, scale)} for name, u in c.budget],
    }


def _stations(layout: Layout, each: Predicted, part: StationUncertainty) -> list[dict[str, Any]]:
    scale, length = scale_of(part.kind, None, layout.units), layout.units.length
    return [
        {
            "task": each.task.name,
            "station": name,
            "of": part.of or None,
            "component": part.components[i],
            "place": [in_unit(float(value), length) for value in part.places[i]],
            "place_unit": length,
            "direction": [rounded(float(value)) for value in part.directions[i]],
            "unit": scale.unit,
            "standard_uncertainty": scaled(float(part.u[i]), scale),
            "standard_uncertainty_monte_carlo": scaled(float(part.trial_u[i]), scale),
        }
        for i, name in enumerate(part.stations)
    ]
