"""Chosen moves told in full: forecast of every component and station, steps in their order, warnings."""

from __future__ import annotations

import numpy as np

from ..model.survey import Task
from ..reductions.quantities.measured import Measured
from ..reductions.verdict import Word
from ..vectors import Floats
from .forecast import foreseen, uncertainty_as_left
from .lift_problem import LEAST_LOAD
from .movers import Movers
from .moves import Forecast, Moves, StationMoves, Step
from .order import best_order
from .response import Answer, Shape
from .soft_feet import SoftFeet

__all__ = ["PART_BY_PART", "doubts", "forecasts", "stations_moved", "steps_of", "told_moves"]

PART_BY_PART = "part by part, that with the largest move first; the larger move of a part first"


def told_moves(
    measured: Measured, movers: Movers, answers: tuple[Answer, ...], shapes: tuple[Shape, ...], aim: Shape | None,
    lifts: Floats, stacks: tuple[tuple[float, ...], ...] | None, goal: str, reference: str, soft: SoftFeet | None,
    reached: float, bound: float, rng: np.random.Generator, *, loads: Floats | None = None,
    tilt: Floats | None = None, warnings: tuple[str, ...] = (),
) -> Moves:  # fmt: skip
    """The moves ``lifts`` (m,) [m] of a measured task with all that people want to know about them.

    Parameters
    ----------
    aim : Shape, optional
        Deviations by which the order of the steps is weighed.
    loads : (m,) float, optional
        As found, newton.
    """
    task = measured.evidence.task
    components = forecasts(answers, movers, lifts, task, rng)
    fills = np.zeros(len(movers)) if soft is None else soft.fill
    steps, criterion = steps_of(movers, lifts, stacks, aim, loads, fills)
    after = None
    if loads is not None and movers.load_change is not None:
        after = loads + movers.load_change @ lifts
    unread = _unread(measured)
    return Moves(
        task=task.name, visit=measured.evidence.visit, movers=movers, lifts=lifts, stacks=stacks,
        gaps=np.zeros(len(movers)) if soft is None else soft.gaps, fills=fills, goal=goal, reference=reference,
        reached=reached, bound=bound, components=components,
        stations=stations_moved(answers, shapes, movers, lifts),
        steps=steps, criterion=criterion, tilt=tilt, loads_before=loads, loads_after=after,
        first=() if soft is None else soft.first, warnings=(*unread, *warnings, *doubts(components, answers)),
        answers=answers, shapes=shapes, aim=aim, unread=unread,
    )  # fmt: skip


def forecasts(
    answers: tuple[Answer, ...], movers: Movers, lifts: Floats, task: Task, rng: np.random.Generator
) -> tuple[Forecast, ...]:
    """Every component of a task as found and as lifts ``(m,)`` [m] should leave it."""
    return tuple(_forecast(answer, movers, lifts, task, rng) for answer in answers)


def _unread(measured: Measured) -> tuple[str, ...]:
    """What moves do not rest on: stations of the task that were not read."""
    return tuple(
        f"{each.message}; moves of what was not read rest on nothing, so read those first."
        for each in measured.findings if each.code == "station-not-read"
    )  # fmt: skip


def stations_moved(
    answers: tuple[Answer, ...], shapes: tuple[Shape, ...], movers: Movers, lifts: Floats
) -> tuple[StationMoves, ...]:
    """Deviations of the stations as found and as lifts ``(m,)`` [m] should leave them."""
    return tuple(_stations(answers, shape, movers, lifts) for shape in shapes)


def _forecast(answer: Answer, movers: Movers, lifts: Floats, task: Task, rng: np.random.Generator) -> Forecast:
    c = answer.component
    after, u, interval, probability, verdict = foreseen(answer, movers, lifts, task.rule, rng)
    return Forecast(c.name, c.kind, c.value, after, c.standard_uncertainty, u, interval, c.limit, probability, verdict)


def _stations(answers: tuple[Answer, ...], shape: Shape, movers: Movers, lifts: Floats) -> StationMoves:
    before, u_before = uncertainty_as_left(answers, shape, movers, np.zeros(len(movers)))
    as_left, u_as_left = uncertainty_as_left(answers, shape, movers, lifts)
    p = shape.profile
    return StationMoves(
        shape.of, p.stations, p.components, p.places, p.directions, before, as_left, u_before, u_as_left
    )


def steps_of(
    movers: Movers, lifts: Floats, stacks: tuple[tuple[float, ...], ...] | None, aim: Shape | None,
    loads: Floats | None, fill: Floats,
) -> tuple[tuple[Step, ...], str]:  # fmt: skip
    """Steps, and by what their order was chosen: gaps are filled first, then the order that `best_order` finds.

    Parameters
    ----------
    loads : (m,) float, optional
        As found, newton.
    fill : (m,) float
        The share of the lifts that fills gaps, metres.
    """
    m = len(movers)
    found = np.zeros(0) if aim is None else aim.found
    response = np.zeros((0, m)) if aim is None else aim.moves
    rest = np.where(np.abs(lifts - fill) < 1e-12, 0.0, lifts - fill)
    now = None if loads is None or movers.load_change is None else loads + movers.load_change @ fill
    least = None if now is None else np.minimum(np.maximum(now, 0.0), LEAST_LOAD * float(now.sum()) / m)
    if movers.kind == "bearings":
        order, criterion = _part_by_part(movers, rest), PART_BY_PART
    else:
        order, criterion = best_order(rest, response, found + response @ fill, now, movers.load_change, least)
    planned = [(int(j), float(fill[j]), True) for j in np.flatnonzero(fill)]
    planned += [(j, float(rest[j]), False) for j in order]
    steps, done = [], np.zeros(m)
    for number, (j, amount, gap) in enumerate(planned, 1):
        done[j] += amount
        state = None if loads is None or movers.load_change is None else loads + movers.load_change @ done
        bend = float(np.ptp(found + response @ done)) if len(found) else 0.0
        words = _words(movers, j, amount, gap, () if stacks is None or gap else stacks[j])
        steps.append(Step(number, j, amount, words, bend, state))
    return tuple(steps), criterion


def _part_by_part(movers: Movers, lifts: Floats) -> list[int]:
    """Movers to touch, part by part."""
    largest = {part: max(abs(float(lifts[j])) for j, mine in enumerate(movers.parts) if mine == part)
               for part in dict.fromkeys(movers.parts)}  # fmt: skip
    touched = [int(j) for j in np.flatnonzero(lifts)]
    return sorted(touched, key=lambda j: (-largest[movers.parts[j]], movers.parts[j], -abs(float(lifts[j]))))


def _words(movers: Movers, j: int, amount: float, gap: bool, stack: tuple[float, ...]) -> str:
    name, size = movers.label(j), f"{1e3 * abs(amount):.2f} mm"
    if gap:
        return f"fill the gap under {name}: loosen its bolt alone, put {size} under it, tighten"
    if movers.ways[j] == "side":
        return f"push {name} by {1e3 * amount:+.2f} mm along {_world(movers.directions[j])}, tighten"
    pieces = " + ".join(f"{1e3 * abs(piece):.3g}" for piece in stack)
    shims = f", shims {pieces} mm {'in' if amount > 0 else 'out'}" if pieces else ""
    lift = "jack up" if amount > 0 else "lower"
    return f"loosen {name}, {lift} by {size}{shims}, set down, tighten"


def _world(direction: Floats) -> str:
    """The axis of the world that a direction follows: ``-x``; its numbers where it follows none."""
    k = int(np.argmax(np.abs(direction)))
    if abs(direction[k]) > 0.99:
        return f"{'+' if direction[k] > 0 else '-'}{'xyz'[k]}"
    return "[" + ", ".join(f"{value:.2f}" for value in direction) + "]"


def doubts(components: tuple[Forecast, ...], answers: tuple[Answer, ...]) -> list[str]:
    """Components that do not conform and gain less than what their uncertainty can tell."""
    said = []
    for c, answer in zip(components, answers, strict=True):
        gain, verdict = abs(c.before) - abs(c.after), answer.component.verdict
        if (verdict is None or verdict.word is not Word.CONFORMS) and 0.0 < gain < 2.0 * c.u_before:
            name = f" of {c.name}" if c.name else ""
            said.append(f"The gain{name} is less than twice the standard uncertainty of what was found: read again "
                        "before moving anything.")  # fmt: skip
    return said
