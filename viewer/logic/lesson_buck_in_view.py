"""The lesson of bucking in, in plain data; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.aiming.aim import aim_from_readings
from scenes.aiming.closing import rounds_needed
from scenes.aiming.following import Move
from scenes.aiming.near_far import End
from scenes.errors import GeometryError
from scenes.units import from_si
from viewer import text
from viewer.logic.charts import Curve, Marks, decade_chart
from viewer.logic.lesson_buck_in import CLOSED, FAR_AT, BuckInState

__all__ = ["buck_in_document"]

Document = dict[str, Any]

LOWEST, HIGHEST = 1.0e-7, 0.1
"""Ends of the chart, metres."""

LEAST_STEPS = 8


def buck_in_document(state: BuckInState) -> Document:
    """Everything that the panel shows after the steps taken so far."""
    unit = state.lesson.layout.units.deviation
    return {
        "numbers": [*(_reading(state, end, unit) for end in End), _rounds(state), _share(state)],
        "note": _note(state, unit), "bars": [], "scale": "", "lines": [_chart(state, unit)],
    }  # fmt: skip


def _reading(state: BuckInState, end: End, unit: str) -> Document:
    value = float(state.off[-1, end])
    at = state.lesson.near if end is End.NEAR else FAR_AT
    word = end.name.lower()
    return {
        "key": f"buck-{word}", "value": text.quantity(value, unit, fine=True, sign=abs(value) > 5e-8),
        "words": f"at the {word} target", "more": f"{at:.1f} m from the emitter",
    }  # fmt: skip


def _rounds(state: BuckInState) -> Document:
    last = state.steps[-1]
    done = {Move.START: "nothing touched yet", Move.SHIFT: "last: shifted", Move.TILT: "last: tilted"}[last.move]
    watched = "" if last.end is None else f", watching {last.end.name.lower()}"
    return {"key": "buck-rounds", "value": str(last.round), "words": "rounds", "more": done + watched}


def _share(state: BuckInState) -> Document:
    if state.way == "past":
        return {"key": "buck-share", "value": f"{100.0 * state.past:.0f} %", "words": "to tilt past nought",
                "more": "near ÷ (far − near)"}  # fmt: skip
    ratio = "near ÷ far" if state.way == "closes" else "far ÷ near"
    return {"key": "buck-share", "value": f"× {abs(state.share):.3g}", "words": "left by each round", "more": ratio}


def _next(state: BuckInState) -> str:
    first, other = state.shift_at.name.lower(), state.shift_at.other.name.lower()
    tilts = len(state.steps) % 2 == 0
    if state.way == "past":
        return "shift until near reads nought" if tilts else "tilt until far reads what the offset alone leaves there"
    return f"tilt until {other} reads nought" if tilts else f"shift until {first} reads nought"


def _note(state: BuckInState, unit: str) -> str:
    worst = text.quantity(float(np.abs(state.off[-1]).max()), unit, fine=True)
    rounds = state.steps[-1].round
    if state.closed:
        one = "round" if rounds == 1 else "rounds"
        within = text.quantity(CLOSED, unit)
        return f"Both targets read nought within {within}, after {rounds} {one}: the beam lies on the line."
    if state.lost is not None:
        return (
            f"The spot has left the {state.lost.name.lower()} detector, {worst} off: each round made it "
            f"{abs(state.share):.3g} times worse. Set all back, and shift at the near target."
        )
    return f"The larger reading is {worst}. Next: {_next(state)}.{_outlook(state)}"


def _outlook(state: BuckInState) -> str:
    """How many rounds it will take from here, where rounds close."""
    if state.way == "past" or state.lost is not None:
        return ""
    try:
        aim = aim_from_readings(state.steps[0].readings, state.lesson.traced.line)
        count = int(rounds_needed(aim, CLOSED, state.shift_at))
    except GeometryError:
        return " Rounds this way make it worse."
    return f" {count} rounds in all are foretold."


def _chart(state: BuckInState, unit: str) -> Document:
    """The larger of both readings after each step, and what the distances foretell."""
    per_metre = from_si(1.0, unit, "length")
    x = np.arange(len(state.steps), dtype=np.float64)
    most = max(LEAST_STEPS, len(x) - 1)
    low, high = per_metre * LOWEST, per_metre * HIGHEST
    low, high = 10.0 ** np.floor(np.log10(low)), 10.0 ** np.ceil(np.log10(high))
    worst = per_metre * np.abs(state.off).max(axis=1)
    curves = [Curve("read", x, worst), Curve("foretold by the distances", x, per_metre * state.foretold, "two")]
    step = 2 * max(1, most // 16)
    inner = [(float(n), f"{n // 2}") for n in range(step, most - step // 2, step)]
    ticks = [(0.0, "start"), *inner, (float(most), f"{most // 2} rounds")]
    return decade_chart(
        f"Larger reading [{text.screen_unit(unit)}]", curves, ticks, float(low), float(high), [Marks(x, worst)]
    )
