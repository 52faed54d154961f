"""Moves of bearings that bring rolls, shafts and bores where a task wants them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import GeometryError
from ..reductions.quantities.components import component_of
from ..reductions.quantities.definition import Kind, Linear
from ..reductions.quantities.features import surface_named
from ..reductions.quantities.measured import Measured
from ..reductions.verdict import Word, accepted_within
from ..vectors import Floats
from .bearing_lifts import Rows, chosen_parts, lifts_of_rows
from .movers import Movers, effect_on_unknowns
from .moves import Moves
from .response import Answer, answers_of, shapes_of
from .told_moves import told_moves

__all__ = ["FREE", "TASK", "bearing_moves_of"]

TASK, FREE = "task", "free"
BLIND = 1e-9
"""A component that no move changes by more than this share is not mended by moves."""


@dataclass(frozen=True, slots=True, eq=False)
class _Aimed:
    """Components against the datum that the moves aim at, with what to say about it."""

    answers: tuple[Answer, ...]
    rows: Rows
    reference: str
    warnings: tuple[str, ...]


def bearing_moves_of(
    measured: Measured, movers: Movers, goal: str, most: int | None, datum: str, rng: np.random.Generator
) -> Moves:
    """Moves of bearings for one task.

    Parameters
    ----------
    most : int, optional
        Most parts that may be touched.
    datum : str
        ``task``, ``free`` or the name of a part that must not move.

    Raises
    ------
    GeometryError
        Where no move changes what the task asks for, or the datum is none.
    """
    if goal not in ("minimax", "least squares"):
        raise ValueError(f"the goal {goal!r} is not known; there are: minimax, least squares")
    answers = answers_of(measured, movers)
    if datum not in (TASK, FREE):
        movers, answers = _against_part(measured, movers, answers, datum)
    if datum == FREE:
        answers = _against_mean(measured, movers, answers)
    aimed = _aimed(measured, movers, answers, datum)
    allowed = _allowed(aimed.answers, measured)
    tops = chosen_parts(aimed.rows, movers, allowed, most, datum == FREE)
    lifts, stacks, reached, bound = lifts_of_rows(tops, movers, goal)
    shapes = shapes_of(measured, movers, tuple(each for each in answers if each.shape is not None))
    return told_moves(
        measured, movers, answers, shapes, None, lifts, stacks, goal, aimed.reference, None, reached, bound, rng,
        warnings=(*aimed.warnings, *_at_limits(movers, lifts)),
    )  # fmt: skip


def _part_of(measured: Measured, movers: Movers, name: str) -> str:
    """Part on bearings whose name begins the name of a component; else the only one."""
    known = [part for part in dict.fromkeys(movers.parts) if name == part or name.startswith(part + " ")]
    if known:
        return max(known, key=len)
    parts = tuple(dict.fromkeys(movers.parts))
    return parts[0] if len(parts) == 1 else surface_named(measured.evidence.layout, measured.evidence.task.surface)


def _key(measured: Measured, movers: Movers, name: str) -> str:
    """What a component is called without its part: ``in plane``."""
    return name.removeprefix(_part_of(measured, movers, name)).strip()


def _linear_of(measured: Measured) -> dict[str, Linear]:
    return {each.name: each for each in measured.definition.values if isinstance(each, Linear)}


def _sense(measured: Measured, movers: Movers, name: str) -> float:
    """+1 where the axis of the part of a component points as that of the first part does, else -1."""
    surfaces = measured.evidence.layout.surfaces
    first, own = (surfaces[part].world_from_surface.rotation[:, 2]
                  for part in (movers.parts[0], _part_of(measured, movers, name)))  # fmt: skip
    return 1.0 if float(first @ own) >= 0.0 else -1.0


def _related(
    measured: Measured, movers: Movers, answers: tuple[Answer, ...], base: dict[str, tuple[Floats, float]]
) -> tuple[Answer, ...]:
    """Angles counted from ``base``: by key the functional and the nominal value of a common direction."""
    change = effect_on_unknowns(measured.evidence, movers, movers.rise)
    linear, found = _linear_of(measured), []
    for answer in answers:
        name = answer.component.name
        key = _key(measured, movers, name)
        if name not in linear or linear[name].kind is not Kind.ANGLE or key not in base:
            found.append(answer)
            continue
        asked, sign = linear[name], _sense(measured, movers, name)
        functional = asked.functional - sign * base[key][0]
        if not np.any(np.abs(functional) > 0.0):
            continue
        told = replace(asked, functional=functional, nominal=asked.nominal - sign * base[key][1])
        component, _ = component_of(measured.evidence, told, "", np.random.default_rng(0), 0)
        found.append(Answer(component, None, None, functional @ change))
    return tuple(found)


def _against_part(
    measured: Measured, movers: Movers, answers: tuple[Answer, ...], datum: str
) -> tuple[Movers, tuple[Answer, ...]]:
    """Angles against those of a part that must not move."""
    linear = _linear_of(measured)
    base = {
        _key(measured, movers, name): (_sense(measured, movers, name) * asked.functional,
                                       _sense(measured, movers, name) * asked.nominal)
        for name, asked in linear.items() if _part_of(measured, movers, name) == datum
    }  # fmt: skip
    if not base:
        known = ", ".join(dict.fromkeys(movers.parts))
        raise GeometryError(f"{datum} is no datum for these moves: no angle of it was measured; choose among task, "
                            f"free, {known}.")  # fmt: skip
    stays = np.array([part == datum for part in movers.parts])
    held = replace(
        movers, lowest=np.where(stays, 0.0, movers.lowest), highest=np.where(stays, 0.0, movers.highest),
        known_to=np.where(stays, 0.0, movers.known_to),
    )  # fmt: skip
    return held, _related(measured, held, answers, base)


def _against_mean(measured: Measured, movers: Movers, answers: tuple[Answer, ...]) -> tuple[Answer, ...]:
    """Angles against their mean over all parts, so that a common direction does not count."""
    linear = _linear_of(measured)
    groups: dict[str, list[tuple[Floats, float]]] = {}
    for name, asked in linear.items():
        if asked.kind is Kind.ANGLE:
            sign = _sense(measured, movers, name)
            groups.setdefault(_key(measured, movers, name), []).append((sign * asked.functional, sign * asked.nominal))
    base = {
        key: (np.mean([each for each, _ in group], axis=0), float(np.mean([each for _, each in group])))
        for key, group in groups.items() if len(group) > 1
    }  # fmt: skip
    if not base:
        raise GeometryError(
            "A free datum needs the angles of two parts at least; with one the task's own datum counts."
        )
    return _related(measured, movers, answers, base)


def _aimed(measured: Measured, movers: Movers, answers: tuple[Answer, ...], datum: str) -> _Aimed:
    """What the moves are to bring to nought, in metres at the bearings; one row per number."""
    found, rows, names, keys, said = [], [], [], [], []
    for number, answer in enumerate(answers):
        if answer.shape is None:
            size = float(np.abs(answer.moves).max(initial=0.0))
            if size > BLIND:
                found.append(answer.component.value / size)
                rows.append(answer.moves / size)
                names.append(number)
                keys.append(_sense(measured, movers, answer.component.name) / size if datum == FREE else 0.0)
                continue
        elif float(np.abs(answer.shape.moves).max(initial=0.0)) > BLIND:
            found += [float(value) for value in answer.shape.found]
            rows += [np.asarray(row) for row in answer.shape.moves]
            names += [number] * len(answer.shape.found)
            keys += [0.0] * len(answer.shape.found)
            continue
        said.append(f"{answer.component.name or measured.evidence.task.name} does not change with these moves.")
    if not rows:
        raise GeometryError(
            f"task {measured.evidence.task.name}: no move of the bearings changes {measured.evidence.task.quantity}; "
            "a part that is moved as a whole keeps its own form."
        )
    reference = {TASK: measured.definition.reference, FREE: "the mean of all parts"}.get(datum, datum)
    return _Aimed(
        answers, Rows(np.array(found), np.array(rows), np.array(names), np.array(keys)), reference, tuple(said)
    )


def _allowed(answers: tuple[Answer, ...], measured: Measured) -> Floats:
    """How far each answer may stay from nought and still conform, metres at the bearings; 0: nothing conforms."""
    allowed = np.zeros(len(answers))
    for i, answer in enumerate(answers):
        c = answer.component
        if c.verdict is None or answer.shape is not None:
            if c.verdict is not None and c.verdict.word is Word.CONFORMS:
                allowed[i] = np.inf
            continue
        room = c.verdict.limit - accepted_within(measured.evidence.task.rule, c.standard_uncertainty)
        size = float(np.abs(answer.moves).max(initial=0.0))
        allowed[i] = max(room, 0.0) / size if size > BLIND else np.inf
    return allowed


def _at_limits(movers: Movers, lifts: Floats) -> list[str]:
    full = (np.abs(lifts) > 0.0) & ((lifts >= movers.highest - 1e-9) | (lifts <= movers.lowest + 1e-9))
    return [f"{movers.label(int(j))} uses its whole travel." for j in np.flatnonzero(full)]
