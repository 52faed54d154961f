"""JSON of a diagnosis."""

from __future__ import annotations

from typing import Any

from scenes.diagnosis.diagnosis import LEVEL, Closure, Diagnosis, Suspect, Suspicion
from scenes.model.layout import Layout
from scenes.reductions.quantities.shown import scale_of
from viewer.report.diagnosis_words import unit_of
from viewer.report.json_values import in_unit, rounded, scaled

__all__ = ["diagnosis_value"]


def diagnosis_value(layout: Layout, each: Diagnosis) -> dict[str, Any]:
    """A diagnosis: suspects from what readings control, suspicions from shapes, closures, advice."""
    return {
        "visit": each.visit,
        "setups": list(each.setups),
        "redundancy": each.redundancy,
        "chi_square": rounded(each.chi_square, 6),
        "probability_of_chi_square": rounded(each.probability, 6),
        "tried": each.tried,
        "level": LEVEL,
        "corrected": False,
        "suspects": [_suspect(layout, suspect) for suspect in each.suspects],
        "written_twice": [
            {"stations": list(twin.stations), "rows": list(twin.rows), "setup": twin.setup, "chance": twin.chance}
            for twin in each.twins
        ],
        "suspicions": [_suspicion(layout, suspicion) for suspicion in each.suspicions],
        "cannot_be_told": [{"kind": part.kind, "places": list(part.places)} for part in each.untold],
        "closures": [_closure(layout, closure) for closure in each.closures],
        "by_setup": [
            {"setup": part.setup, "chi_square": rounded(part.chi_square, 6), "redundancy": rounded(part.redundancy, 6)}
            for part in each.by_setup
        ],
        "read_again": [
            {"station": part.station, "setup": part.setup, "reason": part.reason} for part in each.advice
        ],
    }  # fmt: skip


def _sizes(layout: Layout, values: tuple[float, ...], kind: str) -> list[float | None]:
    unit = unit_of(layout, kind)
    return [in_unit(value, unit, kind) for value in values] if unit else []


def _suspect(layout: Layout, each: Suspect) -> dict[str, Any]:
    return {
        "kind": each.kind, "where": each.where or None, "about": each.about, "confirm": each.confirm,
        "sizes": _sizes(layout, each.sizes, each.unit),
        "standard_uncertainties": _sizes(layout, each.u, each.unit),
        "stated_standard_uncertainty": (_sizes(layout, (each.stated_u,), each.unit) or [None])[0],
        "unit": unit_of(layout, each.unit) or None,
        "parameters": each.parameters, "chi_square_falls_by": rounded(each.drop, 6),
        "probability": rounded(each.probability, 6), "seen": rounded(each.seen, 6),
        "as_good": list(each.others),
        "changes_if_taken_out": [_change(layout, *change) for change in each.changes],
    }  # fmt: skip


def _change(layout: Layout, task: str, component: str, change: float) -> dict[str, Any]:
    quantity = layout.tasks[task]
    limit = quantity.limits.get(component, quantity.limits.get(""))
    kind = "angle" if limit is not None and (limit.angle or limit.over > 0.0) else "length"
    scale = scale_of(kind, limit, layout.units)
    return {"task": task, "component": component or None, "change": scaled(change, scale), "unit": scale.unit}


def _suspicion(layout: Layout, each: Suspicion) -> dict[str, Any]:
    return {
        "task": each.task, "component": each.component or None, "kind": each.kind, "where": each.where or None,
        "about": each.about, "confirm": each.confirm, "sizes": _sizes(layout, each.sizes, each.unit),
        "unit": unit_of(layout, each.unit) or None, "share_explained": rounded(each.share, 6),
        "parameters": each.parameters, "probability": rounded(each.probability, 6),
    }  # fmt: skip


def _closure(layout: Layout, each: Closure) -> dict[str, Any]:
    kind = "angle" if each.angle else "length"
    unit = unit_of(layout, kind)
    return {
        "station": each.station, "channel": each.channel, "what": each.what, "setups": list(each.between),
        "difference": in_unit(each.difference, unit, kind), "expected": in_unit(each.expected, unit, kind),
        "unit": unit, "normalised": rounded(each.normalised, 6),
    }  # fmt: skip
