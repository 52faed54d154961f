"""JSON of what changed between two visits."""

from __future__ import annotations

from math import isfinite
from typing import Any

from scenes.model.layout import Layout
from scenes.reductions.quantities.shown import scale_of
from scenes.visits.changed import Change, ChangedDeviations, ChangedValue
from viewer.report.json_values import in_unit, over_value, rounded, scaled

__all__ = ["change_value"]


def change_value(layout: Layout, each: Change) -> dict[str, Any]:
    """Changes of one task."""
    return {
        "task": each.task,
        "from": each.one,
        "to": each.two,
        "from_forecast": each.expected,
        "anew": list(each.anew),
        "says": each.sentence,
        "values": [_value(layout, each, value) for value in each.values],
        "stations": [entry for part in each.deviations for entry in _stations(layout, part)],
        "tests": [_test(part) for part in each.deviations],
        "remarks": list(each.remarks),
    }


def _value(layout: Layout, each: Change, value: ChangedValue) -> dict[str, Any]:
    limit = next((c.limit for c in each.after.components if c.name == value.name), None)
    scale = scale_of(value.kind, limit, layout.units)
    return {
        "component": value.name or None,
        "before": scaled(value.before, scale),
        "after": scaled(value.after, scale),
        "change": scaled(value.change, scale),
        "unit": scale.unit,
        "over": over_value(scale),
        "standard_uncertainty": scaled(value.standard_uncertainty, scale),
        "expanded_uncertainty": scaled(value.expanded_uncertainty, scale),
        "coverage_factor": rounded(value.coverage_factor, 6),
        "degrees_of_freedom": rounded(value.dof, 6) if isfinite(value.dof) else None,
        "standard_uncertainty_if_nothing_were_shared": scaled(value.apart, scale),
        "proven": value.proven,
        "verdicts": [None if word is None else str(word) for word in value.words],
        "sign": value.plus or None,
        "budget": [{"source": name, "standard_uncertainty": scaled(u, scale)} for name, u in value.budget],
        "shared": [
            {"source": part.name, "before": scaled(part.one, scale), "after": scaled(part.two, scale),
             "left": scaled(part.left, scale)}
            for part in value.shared
        ],
    }  # fmt: skip


def _stations(layout: Layout, part: ChangedDeviations) -> list[dict[str, Any]]:
    scale, length = scale_of(part.kind, None, layout.units), layout.units.length
    return [
        {
            "of": part.of or None,
            "station": name,
            "component": part.components[i],
            "place": [in_unit(float(x), length) for x in part.places[i]],
            "place_unit": length,
            "direction": [rounded(float(x)) for x in part.directions[i]],
            "before": scaled(float(part.before[i]), scale),
            "after": scaled(float(part.after[i]), scale),
            "change": scaled(float(part.change[i]), scale),
            "unit": scale.unit,
            "standard_uncertainty": scaled(float(part.u[i]), scale),
            "standard_uncertainty_if_nothing_were_shared": scaled(float(part.apart[i]), scale),
            "beyond_expanded_uncertainty": bool(part.moved[i]),
        }
        for i, name in enumerate(part.stations)
    ]


def _test(part: ChangedDeviations) -> dict[str, Any]:
    return {
        "of": part.of or None,
        "hypothesis": "nothing moved",
        "datum": part.datum,
        "chi_square": rounded(part.test.chi_square, 6),
        "rank": part.test.rank,
        "probability": rounded(part.test.probability, 6),
        "rejected": part.test.rejected,
        "stations_left_out": list(part.dropped),
    }
