"""JSON of quantities measured through the network: one entry per component, one per station and direction."""

from __future__ import annotations

from math import isfinite
from typing import Any

from scenes.model.layout import Layout
from scenes.reductions.network import Fitted
from scenes.reductions.quantities.measured import Component, Deviations, Measured
from scenes.reductions.quantities.shown import scale_of
from viewer.report.json_values import in_unit, over_value, rounded, scaled, unit_of_nuisance

__all__ = ["component_value", "measured_results", "measured_stations"]


def measured_results(layout: Layout, each: Measured) -> list[dict[str, Any]]:
    """Entries of the list of results: the components of one task on one visit, those that stay open last."""
    evidence, task = each.evidence, each.evidence.task
    head = {
        "task": task.name,
        "visit": evidence.visit,
        "quantity": task.quantity,
        "surface": task.surface,
        "of": list(task.of),
        "to": task.to or None,
        "reference": each.definition.reference,
        "method": each.definition.method,
        "points": each.points,
    }
    control = {
        "redundancy": each.consistency.redundancy,
        "chi_square": rounded(each.consistency.chi_square, 6),
        "largest_normalised_residual": rounded(each.consistency.largest, 6),
    }
    more: dict[str, Any] = {"control": control}
    fitted = [fitted_value(layout, found) for found in evidence.network.fitted()]
    if fitted:
        more["fitted"] = fitted
    told = [{**head, **component_value(layout, component), **more} for component in each.components]
    open_ = [
        {**head, "component": part.component or None, "value": None, "verdict": "not proven", "reason": part.reason}
        for part in each.unreached
    ]
    return told + open_


def fitted_value(layout: Layout, found: Fitted) -> dict[str, Any]:
    """A device error that was solved for: beyond what the layout states of it."""
    unit, kind = unit_of_nuisance(layout, found)
    return {
        "what": found.word, "of": list(found.key), "field": found.field,
        "value": in_unit(found.value, unit, kind), "unit": unit,
        "standard_uncertainty": in_unit(found.u, unit, kind),
        "stated_standard_uncertainty": in_unit(found.stated_u, unit, kind) if found.stated_u else None,
        "from_shape": found.from_shape,
    }  # fmt: skip


def component_value(layout: Layout, c: Component) -> dict[str, Any]:
    """A component with its uncertainty, interval, contacts, budget and verdict."""
    scale, verdict = scale_of(c.kind, c.limit, layout.units), c.verdict
    return {
        "component": c.name or None,
        "value": scaled(c.value, scale),
        "unit": scale.unit,
        "over": over_value(scale),
        "sign": c.plus or None,
        "standard_uncertainty": scaled(c.standard_uncertainty, scale),
        "expanded_uncertainty": scaled(c.expanded_uncertainty, scale),
        "coverage_factor": rounded(c.coverage_factor, 6),
        "degrees_of_freedom": rounded(c.dof, 6) if isfinite(c.dof) else None,
        "interval_95": [scaled(end, scale) for end in c.interval],
        "noise_bias": scaled(c.noise_bias, scale),
        "uncertainty_by_propagation": scaled(c.linear_u, scale),
        "limit": None if verdict is None else scaled(verdict.limit, scale),
        "lower_limit": scaled(c.lower, scale),
        "rule": None if verdict is None else str(verdict.rule),
        "guard_band": None if verdict is None else scaled(verdict.guard, scale),
        "verdict": None if verdict is None else str(verdict.word),
        "reason": None if verdict is None else verdict.reason or None,
        "probability_of_conformity": None if verdict is None else rounded(verdict.probability, 6),
        "contacts": {"high": list(c.high), "low": list(c.low), "datum": list(c.datum)},
        "budget": [{"source": name, "standard_uncertainty": scaled(u, scale)} for name, u in c.budget],
    }


def measured_stations(layout: Layout, each: Measured) -> list[dict[str, Any]]:
    """Entries of the list of stations: deviations from the reference."""
    return [entry for deviations in each.deviations for entry in _stations(layout, each, deviations)]


def _stations(layout: Layout, each: Measured, d: Deviations) -> list[dict[str, Any]]:
    scale, length = scale_of(d.kind, None, layout.units), layout.units.length
    return [
        {
            "task": each.evidence.task.name,
            "station": name,
            "visit": each.evidence.visit,
            "of": d.of or None,
            "component": d.components[i],
            "place": [in_unit(float(part), length) for part in d.places[i]],
            "place_unit": length,
            "direction": [rounded(float(part)) for part in d.directions[i]],
            "deviation": scaled(float(d.values[i]), scale),
            "unit": scale.unit,
            "standard_uncertainty": scaled(float(d.u[i]), scale),
            "leverage": None if d.leverage is None else rounded(float(d.leverage[i]), 6),
        }
        for i, name in enumerate(d.stations)
    ]
