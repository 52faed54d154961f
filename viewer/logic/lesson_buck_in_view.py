"""The lesson of bucking in, in plain data; no widgets, no picture."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.aiming.aim import Aim, aim_from_readings
from scenes.aiming.closing import overshoot_reading, rounds_needed
from scenes.aiming.following import Move
from scenes.aiming.near_far import End
from scenes.aiming.traced import state_of_stage
from scenes.checks.detector_view import DetectorView, detector_view
from scenes.errors import GeometryError
from scenes.tracing.spots import spots
from scenes.units import from_si
from viewer import text
from viewer.logic.charts import Curve, Marks, decade_chart
from viewer.logic.detector_face import face_document
from viewer.logic.lesson_buck_in import CLOSED, FAR_AT, BuckInState

__all__ = ["buck_in_document"]

Document = dict[str, Any]

LOWEST, HIGHEST = 1.0e-7, 0.1
"""Ends of the chart, metres."""

LEAST_ROUNDS = 4
"""The chart has room for at least so many."""

MOST_TICKS = 8

LAST_TICK = 0.22
"""Share of the axis that its last words take."""

NOTHING = 1.0e-4
"""A share below this is not told as a number."""

EARLIER = 6
"""Earlier spots that are shown on a detector."""


def buck_in_document(state: BuckInState) -> Document:
    """Everything that the panel shows after the steps taken so far."""
    unit = state.lesson.layout.units.deviation
    return {
        "numbers": [*(_reading(state, end, unit) for end in End), _rounds(state), _share(state)],
        "note": _note(state, unit), "bars": [], "scale": "", "lines": [_chart(state, unit)],
        "faces": _faces(state, unit),
    }  # fmt: skip


def _signed(value: float, unit: str) -> str:
    return text.quantity(value, unit, fine=True, sign=abs(value) > 5e-8)


def _place(state: BuckInState, end: End) -> float:
    return state.lesson.near if end is End.NEAR else FAR_AT


def _reading(state: BuckInState, end: End, unit: str) -> Document:
    word = end.name.lower()
    return {
        "key": f"buck-{word}", "value": _signed(float(state.off[-1, end]), unit),
        "words": f"at the {word} target", "more": f"{_place(state, end):.1f} m from emitter",
    }  # fmt: skip


def _rounds(state: BuckInState) -> Document:
    last = state.steps[-1]
    did = "shifted" if last.move is Move.SHIFT else "tilted"
    done = "nothing touched yet" if last.end is None else f"last: {did} at {last.end.name.lower()}"
    value = f"{state.places[-1]:g}".replace(".5", "½").replace("0½", "½")
    words = "round" if value == "1" else "rounds"
    return {"key": "buck-rounds", "value": value, "words": words, "more": done}


def _share(state: BuckInState) -> Document:
    """What each round has left, beside what the distances foretell."""
    measured = state.measured_share
    value = "–" if measured is None else "≈ 0" if measured < NOTHING else f"× {measured:.3g}"
    if state.hand != 1.0:
        more = f"foretold × {state.share_of_hand:.3g}"
    else:
        ratio = {"closes": "near ÷ far = ", "runs": "far ÷ near = ", "past": "foretold × "}[state.way]
        more = f"{ratio}{state.share:.3g}"
    return {"key": "buck-share", "value": value, "words": "measured per round", "more": more}


# --- in words


def _aim(state: BuckInState, step: int) -> Aim:
    return aim_from_readings(state.steps[step].readings, state.lesson.traced.line)


def _note(state: BuckInState, unit: str) -> str:
    rounds = state.steps[-1].round
    if state.closed:
        one = "round" if rounds == 1 else "rounds"
        within = text.quantity(CLOSED, unit)
        return f"Both targets read nought within {within}, after {rounds} {one}: the beam lies on the line."
    if state.lost is not None:
        return f"The spot has left the {state.lost.name.lower()} detector. {_why_away(state)}"
    return f"Next: {_next(state, unit)}. {_outlook(state)}"


def _next(state: BuckInState, unit: str) -> str:
    first, other = state.shift_at.name.lower(), state.shift_at.other.name.lower()
    if state.half is Move.TILT:
        return "shift until near reads nought"
    if state.half is Move.SHIFT:
        return f"tilt until {other} reads nought"
    if state.way != "past":
        return f"shift until {first} reads nought"
    past = float(overshoot_reading(_aim(state, -1), End.FAR)[1])
    return f"tilt past nought until far reads {_signed(past, unit)}, the offset of the beam at the emitter"


def _outlook(state: BuckInState) -> str:
    """How the rounds will go."""
    if state.way == "past":
        if state.hand != 1.0:
            return f"This hand leaves {100.0 * state.share_of_hand:.0f} % in each round."
        return f"By rule: once near reads nought, tilt past by {100.0 * state.past:.0f} % of what far reads."
    try:
        count = int(rounds_needed(_aim(state, 0), CLOSED, state.shift_at))
    except GeometryError:
        far, near = state.lesson.traced.line.far, state.lesson.traced.line.near
        return f"A tilt that takes out 1 mm at near puts in {far / near:.3g} mm at far: rounds this way make it worse."
    exact = "" if state.hand == 1.0 else " for an exact hand"
    return f"{count} rounds in all are foretold{exact}."


def _why_away(state: BuckInState) -> str:
    """Why rounds do not close, in the words of those who aim by it."""
    try:
        rounds_needed(_aim(state, 0), CLOSED, state.shift_at)
    except GeometryError as error:
        said = str(error)
        return f"{said[:1].upper()}{said[1:]}."
    return "Nothing can be aimed by there: set all back and begin nearer to the line."


# --- drawn


def _chart(state: BuckInState, unit: str) -> Document:
    """Each reading when the other screw has been turned, and the larger one as start and share foretell it."""
    per_metre = from_si(1.0, unit, "length")
    curves, marks = [], []
    for end, kind, dot in ((End.NEAR, "one", "open"), (End.FAR, "three", "full")):
        shown = [n for n, step in enumerate(state.steps) if step.end is not end]
        x, y = state.places[shown], per_metre * np.abs(state.off[shown, end])
        curves.append(Curve(end.name.lower(), x, y, kind))
        marks.append(Marks(x, y, dot))
    x, y = state.foretold
    curves.append(Curve("foretold", x, per_metre * y, "four"))
    low, high = 10.0 ** np.floor(np.log10(per_metre * LOWEST)), 10.0 ** np.ceil(np.log10(per_metre * HIGHEST))
    return decade_chart(f"Readings [{text.screen_unit(unit)}]", curves, _ticks(state), low, high, marks)


def _ticks(state: BuckInState) -> list[tuple[float, str]]:
    most = max(LEAST_ROUNDS, int(np.ceil(state.places[-1])))
    every = -(-most // MOST_TICKS)
    inner = [(float(n), str(n)) for n in range(every, most, every) if most - n > LAST_TICK * most]
    return [(0.0, "start"), *inner, (float(most), f"{most} rounds")]


def _faces(state: BuckInState, unit: str) -> list[Document]:
    """Both detectors as seen from the emitter: where the spot is, and where it was before."""
    plan = state.lesson.plan
    seen = [spots(plan.geometry, state_of_stage(setting)) for setting in state.settings[-1 - EARLIER :]]
    made = []
    for end in End:
        views: list[DetectorView] = [detector_view(plan, int(end), each) for each in seen]
        face = face_document(views[-1], views[:-1], state.lesson.layout.units.length)
        word = end.name.lower()
        made.append({
            "key": word, "name": f"{word.capitalize()}, {_place(state, end):.1f} m",
            "value": _signed(float(state.off[-1, end]), unit), "face": face,
        })  # fmt: skip
    return made
