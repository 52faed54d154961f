"""JSON of the comparison: a task against every reference, and its values under every rule."""

from __future__ import annotations

from typing import Any

from scenes.model.layout import Layout
from scenes.reductions.quantities.compared import Compared, Ruled
from scenes.reductions.quantities.measured import Measured
from scenes.reductions.quantities.shown import scale_of
from scenes.reductions.verdict import RULES
from viewer.report.json_values import rounded, scaled
from viewer.report.measured_document import component_value

__all__ = ["compared_value"]


def compared_value(
    layout: Layout, each: Measured, others: tuple[Compared, ...], ruled: tuple[Ruled, ...]
) -> dict[str, Any]:
    """Entry of the list ``compared``: one task on one visit."""
    return {
        "task": each.evidence.task.name,
        "visit": each.evidence.visit,
        "references": [_reference(layout, other) for other in others],
        "rules": [_rule(layout, each, rule) for rule in ruled],
    }


def _reference(layout: Layout, other: Compared) -> dict[str, Any]:
    return {
        "reference": str(other.reference),
        "words": other.words,
        "chosen": other.chosen,
        "verdict": None if other.word is None else str(other.word),
        "reason": other.reason or None,
        "components": [component_value(layout, component) for component in other.components],
        "open": [{"component": part.component or None, "reason": part.reason} for part in other.unreached],
    }


def _rule(layout: Layout, each: Measured, rule: Ruled) -> dict[str, Any]:
    told = []
    for component, verdict in zip(each.components, rule.verdicts, strict=True):
        scale = scale_of(component.kind, component.limit, layout.units)
        told.append({
            "component": component.name or None,
            "verdict": None if verdict is None else str(verdict.word),
            "band": None if verdict is None else scaled(verdict.guard, scale),
            "unit": scale.unit,
            "probability_of_conformity": None if verdict is None else rounded(verdict.probability, 6),
        })  # fmt: skip
    return {"rule": str(rule.rule), "chosen": rule.chosen, "says": RULES[rule.rule], "components": told}
