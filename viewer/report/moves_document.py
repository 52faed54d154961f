"""JSON of moves: one entry per task, with steps, stacks, and the predicted as-left."""

from __future__ import annotations

from typing import Any

from scenes.corrections.moves import Forecast, Moves, StationMoves
from scenes.model.layout import Layout
from scenes.reductions.quantities.shown import scale_of
from viewer.report.json_values import in_unit, rounded, scaled

__all__ = ["moves_document", "moves_value"]


def moves_document(layout: Layout, found: list[Moves], remarks: list[str]) -> dict[str, Any]:
    """All moves of a survey; lengths in the units of the layout, loads in newton."""
    return {
        "title": layout.title,
        "units": {"deviation": layout.units.deviation, "length": layout.units.length},
        "remarks": list(remarks),
        "safety": list(found[0].safety) if found else [],
        "moves": [moves_value(layout, each) for each in found],
    }


def moves_value(layout: Layout, moves: Moves) -> dict[str, Any]:
    """The moves of one task."""
    unit = layout.units.deviation
    movers = moves.movers
    return {
        "task": moves.task,
        "visit": moves.visit,
        "goal": moves.goal,
        "reference": moves.reference,
        "influence": movers.kind,
        "influence_known_to": rounded(movers.influence_known_to),
        "reached": in_unit(moves.reached, unit),
        "bound": in_unit(moves.bound, unit),
        "movers": [_mover(layout, moves, j) for j in range(len(movers))],
        "criterion": moves.criterion,
        "steps": [
            {
                "number": step.number, "mover": movers.label(step.mover), "move": in_unit(step.amount, unit),
                "words": step.words, "range_of_deviations": in_unit(step.bend, unit),
                "loads": None if step.loads is None else [rounded(float(load)) for load in step.loads],
            }
            for step in moves.steps
        ],
        "components": [_component(layout, c) for c in moves.components],
        "stations": [row for each in moves.stations for row in _stations(layout, each)],
        "first": list(moves.first),
        "warnings": list(moves.warnings),
    }  # fmt: skip


def _mover(layout: Layout, moves: Moves, j: int) -> dict[str, Any]:
    unit, movers = layout.units.deviation, moves.movers
    before, after = moves.loads_before, moves.loads_after
    return {
        "name": movers.names[j], "part": movers.parts[j], "way": movers.ways[j],
        "direction": [rounded(float(value)) for value in movers.directions[j]],
        "move": in_unit(float(moves.lifts[j]), unit), "known_to": in_unit(float(movers.known_to[j]), unit),
        "lowest": in_unit(float(movers.lowest[j]), unit), "highest": in_unit(float(movers.highest[j]), unit),
        "gap": in_unit(float(moves.gaps[j]), unit),
        "shims": None if moves.stacks is None else [in_unit(s, layout.units.length) for s in moves.stacks[j]],
        "load_before": None if before is None else rounded(float(before[j])),
        "load_after": None if after is None else rounded(float(after[j])),
    }  # fmt: skip


def _component(layout: Layout, c: Forecast) -> dict[str, Any]:
    scale = scale_of(c.kind, c.limit, layout.units)
    return {
        "component": c.name or None, "unit": scale.unit, "as_found": scaled(c.before, scale),
        "as_left": scaled(c.after, scale), "standard_uncertainty_as_found": scaled(c.u_before, scale),
        "standard_uncertainty_as_left": scaled(c.u_after, scale),
        "interval_as_left": [scaled(c.interval[0], scale), scaled(c.interval[1], scale)],
        "limit": None if c.verdict is None else scaled(c.verdict.limit, scale),
        "probability_of_conformity": rounded(c.probability),
        "verdict": None if c.verdict is None else str(c.verdict.word),
    }  # fmt: skip


def _stations(layout: Layout, each: StationMoves) -> list[dict[str, Any]]:
    unit = layout.units.deviation
    return [
        {
            "of": each.of or None, "station": name, "direction": each.components[k],
            "as_found": in_unit(float(each.before[k]), unit), "as_left": in_unit(float(each.as_left[k]), unit),
            "standard_uncertainty_as_found": in_unit(float(each.u_before[k]), unit),
            "standard_uncertainty_as_left": in_unit(float(each.u_as_left[k]), unit),
        }
        for k, name in enumerate(each.stations)
    ]  # fmt: skip
