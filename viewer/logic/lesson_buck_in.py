"""Lesson of bucking in: a stage is shifted and tilted step by step until near and far target read nought."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.aiming.closing import overshoot_share, round_share
from scenes.aiming.following import FOLLOWED, Move, Read, Step, read_step
from scenes.aiming.near_far import End
from scenes.aiming.procedures import perform_overshoot, perform_rounds
from scenes.aiming.setting import AS_FOUND, StageSetting
from scenes.aiming.traced import TracedLine, state_of_stage, traced_line, traced_stage
from scenes.model.layout import Layout, ShownUnits
from scenes.tracing.spots import spots
from scenes.vectors import Floats
from viewer.logic.lesson_scenes import line_scene

__all__ = ["CLOSED", "FAR_AT", "BuckInLesson", "BuckInState", "begun", "open_buck_in_lesson", "stepped"]

FAR_AT = 8.0
"""Distance [m] of the far target."""

CLOSED = 1.0e-6
"""Both targets read nought when they are as near as this [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class BuckInLesson:
    """A beam along a rail with a near and a far target; the stage turns where the beam leaves the emitter."""

    layout: Layout
    traced: TracedLine
    near: float


@dataclass(frozen=True, slots=True, eq=False)
class BuckInState:
    """How far the crew has come.

    Attributes
    ----------
    lesson : BuckInLesson
    way : str
        ``closes``: shift at near and tilt at far; ``runs``: the other way round; ``past``: tilt past nought, then
        shift.
    start : StageSetting
        The stage as found, from where it should stand.
    steps : tuple of Step
        The first is the start; settings count from it.
    read : Read
    """

    lesson: BuckInLesson
    way: str
    start: StageSetting
    steps: tuple[Step, ...]
    read: Read

    @property
    def off(self) -> Floats:
        """What near and far read up after each step ``(n, 2)``, metres."""
        return np.stack([step.readings[:, 1] for step in self.steps])

    @property
    def closed(self) -> bool:
        """Both targets read nought."""
        return bool(np.abs(self.off[-1]).max() <= CLOSED)

    @property
    def lost(self) -> End | None:
        """Target whose detector the spot has left."""
        outside = np.abs(self.off[-1]) > 0.5 * self.lesson.traced.window[:, 1]
        return End(int(np.argmax(outside))) if outside.any() else None

    @property
    def settings(self) -> tuple[StageSetting, ...]:
        """The stage after each step, from where it should stand."""
        return tuple(self.start + step.setting for step in self.steps)

    @property
    def shift_at(self) -> End:
        """Target that is watched while shifting."""
        return End.FAR if self.way == "runs" else End.NEAR

    @property
    def share(self) -> float:
        """Share of the error that a round leaves, from the distances."""
        return 0.0 if self.way == "past" else round_share(self.lesson.traced.line, self.shift_at)

    @property
    def past(self) -> float:
        """How far past nought to tilt, as a share of what far reads once near reads nought."""
        return overshoot_share(self.lesson.traced.line, End.NEAR)

    @property
    def foretold(self) -> Floats:
        """Larger reading ``(n,)`` after each step, from the start and the share of a round alone, metres."""
        first = np.abs(self.off[0])
        apart = abs(float(self.off[0, 1] - self.off[0, 0]))
        number = np.arange(1, len(self.steps))
        if self.way == "past":
            rest = np.where(number == 1, abs(self.offset_at_pivot), 0.0)
        else:
            # what the other target is off by once the first reads nought; each round leaves the same share of it
            rest = apart * abs(self.share) ** (number // 2)
        return np.append(first.max(), rest)

    @property
    def offset_at_pivot(self) -> float:
        """Of the beam as found, metres."""
        return float(self.start.shift[1])


def open_buck_in_lesson(units: ShownUnits, near: float) -> BuckInLesson:
    """The lesson with its near target ``near`` [m] from the emitter."""
    layout = line_scene(units, FAR_AT, near, 2)
    first, last = layout.stations
    return BuckInLesson(layout, traced_line(layout, "line", first, last), near)


def begun(lesson: BuckInLesson, way: str, angle: float, offset: float) -> BuckInState:
    """Nothing has been touched yet; the beam rises by ``angle`` [rad] and starts ``offset`` [m] too high."""
    start = StageSetting(np.array([0.0, offset]), np.array([0.0, angle]))
    seen = spots(lesson.traced.geometry, state_of_stage(start))
    read = traced_stage(lesson.traced, np.stack([seen.h, seen.v], axis=-1)[:2])
    return BuckInState(lesson, way, start, (read_step(read, AS_FOUND, 0, Move.START),), read)


def stepped(state: BuckInState) -> BuckInState:
    """One step further; nothing is left to do where both read nought, or where the spot has left a detector."""
    if state.closed or state.lost is not None:
        return state
    done, last = len(state.steps) - 1, state.steps[-1]
    line, tilts = state.lesson.traced.line, done % 2 == 1
    if state.way == "past" and not tilts:
        made = perform_overshoot(state.read, line, FOLLOWED, most_rounds=1, start=last.setting)
        step = made.steps[1]
    else:
        # a round begins with its shift; where that is done already it moves nothing
        made = perform_rounds(
            state.read, line, FOLLOWED, most_rounds=1, shift_at=state.shift_at, start=last.setting
        )  # fmt: skip
        step = made.steps[min(2 if tilts and state.way != "past" else 1, len(made.steps) - 1)]
    numbered = Step(done // 2 + 1, step.move, step.end, step.aimed, step.setting, step.readings)
    return BuckInState(state.lesson, state.way, state.start, (*state.steps, numbered), state.read)
