"""Lesson of bucking in: a stage is shifted and tilted step by step until near and far target read nought."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scenes.aiming.aim import aim_from_readings
from scenes.aiming.closing import overshoot_reading, overshoot_share, round_share, tilt_distance
from scenes.aiming.following import Move, Read, Step, follow, read_step
from scenes.aiming.near_far import End, NearFar
from scenes.aiming.setting import AS_FOUND, StageSetting
from scenes.aiming.traced import TracedLine, state_of_stage, traced_line, traced_stage
from scenes.checks.plan import Plan, traced_plan
from scenes.model.layout import Layout, ShownUnits
from scenes.tracing.spots import spots
from scenes.vectors import Floats
from viewer.logic.lesson_scenes import line_scene

__all__ = [
    "CLOSED", "FAR_AT", "BuckInLesson", "BuckInState", "begun", "hand_share", "open_buck_in_lesson", "overshot",
    "rounded", "stepped",
]  # fmt: skip

FAR_AT = 8.0
"""Distance [m] of the far target."""

CLOSED = 1.0e-6
"""Both targets read nought when they are as near as this [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class BuckInLesson:
    """A beam along a rail with a near and a far target; the stage turns where the beam leaves the emitter."""

    plan: Plan
    traced: TracedLine
    near: float

    @property
    def layout(self) -> Layout:
        """The scene."""
        return self.plan.layout


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
    hand : float
        Share of the wanted movement of a spot that the hand at the screw makes; 1: exactly that.
    steps : tuple of Step
        The first is the start; settings count from it. A round has two.
    read : Read
    """

    lesson: BuckInLesson
    way: str
    start: StageSetting
    hand: float
    steps: tuple[Step, ...]
    read: Read

    @property
    def off(self) -> Floats:
        """What near and far read up after each step ``(n, 2)``, metres."""
        return np.stack([step.readings[:, 1] for step in self.steps])

    @property
    def worst(self) -> Floats:
        """Size of the larger reading after each step ``(n,)``, metres."""
        return np.asarray(np.abs(self.off).max(axis=1))

    @property
    def closed(self) -> bool:
        """Both targets read nought."""
        return bool(self.worst[-1] <= CLOSED)

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
    def half(self) -> Move | None:
        """First move of a round whose second one is still to come."""
        number, move = self.steps[-1].round, self.steps[-1].move
        alone = number > 0 and self.steps[-2].round != number
        return move if alone else None

    @property
    def places(self) -> Floats:
        """Rounds that are done after each step ``(n,)``, by halves."""
        number = np.array([step.round for step in self.steps])
        first = np.diff(number, prepend=-1) > 0
        return np.where(first & (number > 0), number - 0.5, number)

    @property
    def regular(self) -> int:
        """Steps that go the chosen way, before somebody has tilted past nought in between."""
        if self.way == "past":
            return len(self.steps) - 1
        pairs = zip(self.steps, self.steps[1:], strict=False)
        past = (n for n, (one, two) in enumerate(pairs) if two.round != one.round and two.move is Move.TILT)
        return next(past, len(self.steps) - 1)

    @property
    def share(self) -> float:
        """Share of the error that a round of an exact hand leaves, from the distances."""
        return 0.0 if self.way == "past" else round_share(self.lesson.traced.line, self.shift_at)

    @property
    def share_of_hand(self) -> float:
        """Share of the error that a round of this hand leaves."""
        return hand_share(self.share, self.hand)

    @property
    def measured_share(self) -> float | None:
        """Share of the larger reading that the rounds so far have left, their geometric mean; None: not known yet."""
        n, worst = self.regular, self.worst
        since = 0 if self.way == "past" else 2 - n % 2
        rounds = (n - since) // 2
        if rounds < 1:  # an exact hand leaves at near what it had at far, times the share: the first round tells it
            since, rounds = 1, int(n == 2 and self.way != "past")
        return float((worst[n] / worst[since]) ** (1.0 / rounds)) if rounds and worst[since] > 0.0 else None

    @property
    def past(self) -> float:
        """How far past nought to tilt, as a share of what far reads once near reads nought."""
        return overshoot_share(self.lesson.traced.line, End.NEAR)

    @property
    def foretold(self) -> tuple[Floats, Floats]:
        """Rounds ``(k,)`` and the larger reading then ``(k,)`` [m], from the start and the share of a round alone."""
        number, first = np.arange(1, self.regular + 1), float(self.worst[0])
        if self.way == "past":
            number = number[number % 2 == 0]
            left = first * self.share_of_hand ** (number // 2)
        else:
            # what the other target is off by after the first move; each round leaves the same share of it
            off = self.off[0]
            rest = abs(float(off[self.shift_at.other] - self.hand * off[self.shift_at]))
            left = rest * self.share_of_hand ** (number // 2)
        return np.append(0.0, self.places[number]), np.append(first, left)


def hand_share(share: float, hand: float) -> float:
    """Share that a round leaves if ``hand`` of each wanted movement is made, and ``share`` by an exact hand.

    Rounds solve two equations in turn; a hand that always makes a little more or less than wanted is the relaxation
    factor of that. The factor itself rules once it is large enough: ``|hand - 1|`` is left then.

    Source: D. Young, Iterative methods for solving partial difference equations of elliptic type, Trans. Amer. Math.
    Soc. 76 (1954) 92: (x + hand - 1)^2 = share hand^2 x.
    """
    roots = np.roots([1.0, 2.0 * (hand - 1.0) - share * hand**2, (hand - 1.0) ** 2])
    return float(np.abs(roots).max())


def open_buck_in_lesson(units: ShownUnits, near: float) -> BuckInLesson:
    """The lesson with its near target ``near`` [m] from the emitter."""
    layout = line_scene(units, FAR_AT, near, 2)
    first, last = layout.stations
    return BuckInLesson(traced_plan(layout), traced_line(layout, "line", first, last), near)


def begun(lesson: BuckInLesson, way: str, angle: float, offset: float, hand: float = 1.0) -> BuckInState:
    """Nothing has been touched yet; the beam rises by ``angle`` [rad] and starts ``offset`` [m] too high."""
    start = StageSetting(np.array([0.0, offset]), np.array([0.0, angle]))
    seen = spots(lesson.traced.geometry, state_of_stage(start))
    read = traced_stage(lesson.traced, np.stack([seen.h, seen.v], axis=-1)[:2])
    return BuckInState(lesson, way, start, hand, (read_step(read, AS_FOUND, 0, Move.START),), read)


def stepped(state: BuckInState) -> BuckInState:
    """One step further; nothing is left to do where both read nought, or where the spot has left a detector."""
    if state.half is Move.SHIFT:
        return _turned(state, Move.TILT, state.shift_at.other)
    if state.half is Move.TILT:
        return _turned(state, Move.SHIFT, End.NEAR)
    return _tilted_past(state) if state.way == "past" else _turned(state, Move.SHIFT, state.shift_at)


def rounded(state: BuckInState) -> BuckInState:
    """To the end of the round."""
    now = stepped(state)
    return stepped(now) if now.half is not None and now is not state else now


def overshot(state: BuckInState) -> BuckInState:
    """A round that tilts past nought and then shifts, whatever the way so far."""
    return _turned(_tilted_past(state), Move.SHIFT, End.NEAR)


def _tilted_past(state: BuckInState) -> BuckInState:
    aim = aim_from_readings(state.steps[-1].readings, state.lesson.traced.line)
    return _turned(state, Move.TILT, End.FAR, overshoot_reading(aim, End.FAR))


def _turned(state: BuckInState, move: Move, end: End, aimed: Floats | None = None) -> BuckInState:
    """One screw turned until the target at ``end`` has made the hand's share of its way to ``aimed``, or to nought."""
    if state.closed or state.lost is not None:
        return state
    last, line = state.steps[-1], state.lesson.traced.line
    now = last.readings[end]
    reached = now + state.hand * ((0.0 if aimed is None else aimed) - now)
    opens = state.half is None or (move is Move.TILT and aimed is not None)
    number = last.round + int(opens)
    step = follow(state.read, last, number, move, end, reached, _answer(line, move, end))
    return replace(state, steps=(*state.steps, step))


def _answer(line: NearFar, move: Move, end: End) -> Floats:
    """Answer ``(2, 2)`` of a target to both screws of one kind, by which the first turn is made."""
    seen = line.targets_from_stage[end]
    return np.asarray(seen if move is Move.SHIFT else tilt_distance(line, end) * seen)
