"""The tab of moves in plain data: sliders, what the chosen moves should leave, loads, shims, warnings, steps."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.corrections.chosen_moves import ChosenMoves
from scenes.corrections.moves import Forecast, Moves, Outcome
from scenes.model.layout import Layout
from scenes.model.survey import Task
from scenes.reductions.quantities.shown import scale_of
from scenes.reductions.verdict import Word
from scenes.units import from_si
from scenes.vectors import Floats
from viewer import text
from viewer.logic.moves_sliders import MoveSlider

__all__ = [
    "forecast_rows",
    "head_document",
    "mover_rows",
    "mover_words",
    "moves_document",
    "station_words",
    "step_rows",
]

Document = dict[str, Any]

SHAPES = {Word.CONFORMS: "○", Word.NOT_PROVEN: "△", Word.DOES_NOT_CONFORM: "□"}
"""Outlines of the shapes of verdicts: a forecast is no verdict."""

WORDS = {
    Word.CONFORMS: "Should conform", Word.NOT_PROVEN: "Would not be proven",
    Word.DOES_NOT_CONFORM: "Would not conform",
}  # fmt: skip
ONLY = "Predicted, not measured. Only new readings can prove it."
LIFTED = "A foot lifts off: the numbers rest on a model that no longer holds."
ORDER = (Word.DOES_NOT_CONFORM, Word.NOT_PROVEN, Word.CONFORMS)
KILONEWTON = 1e3


def moves_document(layout: Layout, moves: Moves, sliders: tuple[MoveSlider, ...], free: bool) -> Document:
    """What stays the same while sliders move."""
    movers, bearings = moves.movers, moves.movers.kind == "bearings"
    share = movers.influence_known_to
    return {
        "task": moves.task, "visit": moves.visit, "bearings": bearings, "goal": moves.goal,
        "unit": text.screen_unit(layout.units.deviation),
        "length_unit": text.screen_unit(layout.units.length),
        "what": "Bearing" if bearings else "Foot",
        "stocked": any(movers.stock), "free": free,
        "loads": moves.loads_before is not None and movers.load_change is not None,
        "names": [movers.label(j) for j in range(len(movers))],
        "counts": [{"value": 0, "title": "any number"},
                   *({"value": k, "title": f"at most {k}"} for k in range(1, _countable(moves)))],
        "sliders": [_slider(layout, moves, j, each) for j, each in enumerate(sliders)],
        "about": _about(layout, moves, share),
        "notes": [text.plain_message(each) for each in moves.warnings],
        "first": [text.plain_message(each) for each in moves.first],
        "safety": list(moves.safety),
        "criterion": "",
    }  # fmt: skip


def _countable(moves: Moves) -> int:
    """Feet, or parts on bearings, among which fewer can be chosen."""
    movers = moves.movers
    free = np.flatnonzero(movers.highest > movers.lowest)
    return len(set(movers.parts)) if movers.kind == "bearings" else len(free)


def _about(layout: Layout, moves: Moves, share: float) -> str:
    """What the optimum aims at, and what no shims can better."""
    unit = layout.units.deviation
    known = f", known to {100.0 * share:g} % of what bends" if share else ""
    model = "" if moves.movers.kind == "bearings" else f" Influence of the feet: {moves.movers.kind}{known}."
    best = f" With any thickness: {text.quantity(moves.bound, unit)}." if any(moves.movers.stock) else ""
    return f"Optimum: {moves.goal} about {moves.reference}, {text.quantity(moves.reached, unit)}.{best}{model}"


def _slider(layout: Layout, moves: Moves, j: int, slider: MoveSlider) -> Document:
    unit, movers = layout.units.deviation, moves.movers
    low, high = slider.ends
    name = movers.label(j)
    return {
        "key": f"{movers.parts[j]} {movers.names[j]} {movers.ways[j]}", "name": name,
        "low": low, "high": high, "step": slider.step, "still": slider.still,
        "lowest": text.number(slider.lowest, unit, fine=False),
        "highest": text.number(slider.highest, unit, fine=False),
        "test": f"move-{j}", "optimum": text.number(float(moves.lifts[j]), unit, fine=False, sign=True),
    }  # fmt: skip


def mover_rows(
    layout: Layout, moves: Moves, lifts: Floats, loads: Floats | None,
    stacks: tuple[tuple[float, ...] | None, ...] | None,
) -> list[Document]:  # fmt: skip
    """What is told beside every slider."""
    return [_mover_row(layout, moves, j, lifts, loads, stacks) for j in range(len(lifts))]


def _mover_row(
    layout: Layout, moves: Moves, j: int, lifts: Floats, loads: Floats | None,
    stacks: tuple[tuple[float, ...] | None, ...] | None,
) -> Document:  # fmt: skip
    unit, lift = layout.units.deviation, float(lifts[j])
    before = moves.loads_before
    told = "" if loads is None or before is None else (
        f"{before[j] / KILONEWTON:.0f} → {text.signed(f'{loads[j] / KILONEWTON:.0f}')} kN"
    )  # fmt: skip
    return {
        "number": round(from_si(lift, unit, "length"), text.figures(unit)),
        "lift": text.number(lift, unit, fine=False, sign=lift != 0.0),
        "shims": _shims(layout, lift, None if stacks is None else stacks[j], stacks is not None),
        "load": told, "off": loads is not None and bool(loads[j] <= 0.0), "moved": lift != 0.0,
        "gap": "" if moves.gaps[j] == 0.0 else f"soft: gap {text.quantity(float(moves.gaps[j]), unit)}",
    }  # fmt: skip


def mover_words(layout: Layout, moves: Moves, lifts: Floats) -> list[str]:
    """What stands at the arrows in the picture: names of feet, and the moves of those that are moved."""
    unit = layout.units.deviation
    named = moves.movers.kind != "bearings"  # two at each end of a roll would lie over one another
    told = [text.number(float(lift), unit, fine=False, sign=True) if lift else "" for lift in lifts]
    names = [moves.movers.label(j) if named or lift else "" for j, lift in enumerate(lifts)]
    return [f"{name} {number}".strip() for name, number in zip(names, told, strict=True)]


def _shims(layout: Layout, lift: float, stack: tuple[float, ...] | None, stocked: bool) -> str:
    """Shims in or out; what to say where none make this move."""
    length = layout.units.length
    if not stocked or lift == 0.0:
        return ""
    if stack is None:
        return "no such stack in stock"
    pieces = " + ".join(f"{abs(from_si(piece, length, 'length')):.3g}" for piece in stack)
    return f"{pieces} {text.screen_unit(length)} {'in' if lift > 0.0 else 'out'}" if pieces else ""


def head_document(
    layout: Layout, task: Task, moves: Moves, outcome: Outcome, told: ChosenMoves | None, number: int
) -> Document:  # fmt: skip
    """The component of that number before and after, with the forecast once it is worked out."""
    word = None if told is None else overall(told)
    if told is not None:
        number = _telling(told, word, number)
    forecast = moves.components[number] if told is None else told.components[number]
    scale = scale_of(forecast.kind, forecast.limit, layout.units)
    kind = "forecast" if word is None else text.VERDICT_KINDS[word]
    shape, said = ("◇", "…" if told is None else "No limit") if word is None else (SHAPES[word], WORDS[word])
    if told is not None and outcome.unloaded:
        kind, shape, said = "open", "△", "No forecast"
    unknown = told is None or not np.isfinite(forecast.u_after)
    expanded = "" if unknown else text.told(scale, task.coverage_factor * forecast.u_after)
    return {
        "kind": kind, "shape": shape, "word": said, "pending": told is None,
        "name": forecast.name or task.name,
        "before": text.told(scale, forecast.before), "after": text.told(scale, outcome.values[number]),
        "expanded": f"± {expanded}" if expanded else "",
        "about": ", ".join([
            forecast.name or task.name,
            *([] if forecast.verdict is None else [f"limit {text.told(scale, _limit(forecast))} by {task.rule}"]),
            *([] if told is None or forecast.probability is None else
              [f"kept with a probability of {text.probability(forecast.probability)}"]),
        ]) + f". U with k = {task.coverage_factor:g}.",
        "sentence": LIFTED if outcome.unloaded else ONLY,
    }  # fmt: skip


def overall(told: ChosenMoves) -> Word | None:
    """The worst forecast of all components; None where none has a limit."""
    words = {each.verdict.word for each in told.components if each.verdict is not None}
    return next((word for word in ORDER if word in words), None)


def _telling(told: ChosenMoves, word: Word | None, number: int) -> int:
    """Number of the component that the word is about: that one, where it has this word, else the farthest of these."""
    alike = [k for k, each in enumerate(told.components) if each.verdict is not None and each.verdict.word is word]
    if not alike or number in alike:
        return number
    return max(alike, key=lambda k: abs(told.components[k].after) / max(_limit(told.components[k]), 1e-12))


def _limit(forecast: Forecast) -> float:
    return float("nan") if forecast.verdict is None else forecast.verdict.limit


def forecast_rows(
    layout: Layout, task: Task, moves: Moves, outcome: Outcome, told: ChosenMoves | None
) -> list[Document]:  # fmt: skip
    """Every component before and after."""
    rows = []
    for number, found in enumerate(moves.components):
        forecast = found if told is None else told.components[number]
        scale = scale_of(forecast.kind, forecast.limit, layout.units)
        unknown = told is None or not np.isfinite(forecast.u_after)
        word = None if told is None or forecast.verdict is None else forecast.verdict.word
        rows.append({
            "name": forecast.name or task.name, "unit": text.screen_unit(scale.unit),
            "before": text.told(scale, forecast.before, whole=False).rpartition(" ")[0],
            "after": text.told(scale, outcome.values[number], whole=False),
            "u": "…" if unknown else text.told(scale, task.coverage_factor * forecast.u_after, whole=False),
            "limit": "" if forecast.verdict is None else text.told(scale, _limit(forecast), whole=False),
            "shape": "" if word is None else SHAPES[word], "word": "" if word is None else WORDS[word],
            "kind": "forecast" if word is None else text.VERDICT_KINDS[word],
        })  # fmt: skip
    return rows


def step_rows(layout: Layout, told: ChosenMoves) -> list[Document]:
    """Steps in their order with what holds after each."""
    unit, rows = layout.units.deviation, []
    for step in told.steps:
        after = [] if step.bend <= 0.0 else [f"range of deviations {text.quantity(step.bend, unit)}"]
        if step.loads is not None:
            after.append(f"least load {text.signed(f'{step.loads.min() / KILONEWTON:.0f}')} kN")
        rows.append({"number": step.number, "words": step.words[:1].upper() + step.words[1:],
                     "after": "Then: " + ", ".join(after) if after else ""})  # fmt: skip
    return rows


def station_words(layout: Layout, task: Task, moves: Moves, told: ChosenMoves, station: str) -> list[Document]:
    """The chosen station before and after, in each direction."""
    rows = []
    for each, shape in zip(told.stations, moves.shapes, strict=True):
        scale = scale_of(shape.profile.kind, None, layout.units)
        for k in [k for k, name in enumerate(each.stations) if name == station]:
            before, after = float(each.before[k]), float(each.as_left[k])
            rows.append({
                "of": " ".join(part for part in (each.of, each.components[k]) if part),
                "before": text.told(scale, before, sign=True), "after": text.told(scale, after, sign=True),
                "u": f"± {text.told(scale, task.coverage_factor * float(each.u_as_left[k]))}",
            })  # fmt: skip
    return rows
