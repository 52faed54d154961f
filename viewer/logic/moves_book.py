"""Which tasks can be mended by moves, and the moves proposed for them, worked out when first asked for."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from scenes.corrections.bed_feet import feet_of
from scenes.corrections.moves import Moves
from scenes.corrections.planned_moves import moves_of
from scenes.errors import DatumrayError
from scenes.model.survey import Rule
from scenes.reductions.quantities.compared import judged_by
from scenes.reductions.quantities.features import surface_named
from scenes.reductions.survey import SEED
from viewer.logic.session import Session

__all__ = ["GOALS", "Asked", "MovesBook", "movable_tasks", "moved_visit"]

GOALS = ("minimax", "least squares")


@dataclass(frozen=True, slots=True)
class Asked:
    """What moves are asked for; ``gaps`` are pairs of a foot and the gap under it [m]; ``rule`` None: the layout's."""

    task: str
    visit: str
    goal: str = GOALS[0]
    most_feet: int = 0
    gaps: tuple[tuple[str, float], ...] = ()
    rule: Rule | None = None


def movable_tasks(session: Session) -> tuple[str, ...]:
    """Tasks with results about a surface on feet, or parts on bearings."""
    layout, found = session.layout, []
    for name in session.tasks():
        task = layout.tasks[name]
        parts = [surface_named(layout, each) for each in (task.surface, *task.of)]
        if feet_of(layout, task.surface) is not None or any(part in layout.bearings for part in parts):
            found.append(name)
    return tuple(found)


def moved_visit(session: Session, task: str, visit: str) -> str:
    """``visit`` where the task has it, else its last one."""
    visits = session.visits(task)
    return visit if visit in visits else visits[-1]


@dataclass(slots=True, eq=False)
class MovesBook:
    """Moves by what was asked for; where there are none, a sentence says why."""

    session: Session
    _found: dict[Asked, Moves | str] = field(default_factory=dict)

    def is_ready(self, asked: Asked) -> bool:
        """Whether ``of`` answers at once."""
        return asked in self._found

    def of(self, asked: Asked) -> Moves | str:
        """Moves, or why there are none."""
        if asked not in self._found:
            self._found[asked] = self._made(asked)
        return self._found[asked]

    def _made(self, asked: Asked) -> Moves | str:
        measured = self.session.own(asked.task, asked.visit)
        measured = measured if asked.rule is None else judged_by(measured, asked.rule)
        try:
            found = moves_of(
                self.session.layout, measured, goal=asked.goal, most_feet=asked.most_feet or None,
                gaps={foot: (gap,) for foot, gap in asked.gaps}, rng=np.random.default_rng(SEED),
            )  # fmt: skip
        except DatumrayError as error:
            return str(error)
        return "The moves of these feet change nothing of what this task measures." if found is None else found
