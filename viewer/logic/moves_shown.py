"""What the picture shows of chosen moves: the deviations that they should leave, on the scale of those found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scenes.corrections.moves import Moves, Outcome
from scenes.reductions.quantities.definition import Kind as Size
from scenes.reductions.quantities.measured import Deviations
from scenes.vectors import Floats
from viewer.logic.figures import ARM, Figure, figure_of, sets_of
from viewer.logic.session import Session
from viewer.logic.shown import Kind, Shown, nice, shown_of

__all__ = ["found_shown", "left_shown"]


def found_shown(session: Session, moves: Moves, chosen: int = -1) -> Shown:
    """The visit from which the moves start, with colours that reach as far as the proposal does."""
    shown = shown_of(session, moves.task, moves.visit, "", False, chosen)
    left = [_metres(shape.profile.kind, each) for shape, each in zip(moves.shapes, _left(moves), strict=True)]
    most = max((float(np.abs(each).max(initial=0.0)) for each in left), default=0.0)
    if moves.movers.kind == "bearings":  # all parts are shown, not that of one component alone
        shown = replace(shown, component=None, zone=None)
    return replace(shown, largest=nice(max(shown.largest, most)))


def _left(moves: Moves) -> tuple[Floats, ...]:
    return moves.evaluate(moves.lifts).as_left


def _metres(kind: Size, values: Floats) -> Floats:
    return (ARM if kind is Size.ANGLE else 1.0) * values


def left_shown(session: Session, found: Shown, moves: Moves, outcome: Outcome, u: tuple[Floats, ...] | None) -> Shown:
    """What moves would leave; ``u`` of its deviations where it is known, else that as found is shown.

    Parameters
    ----------
    found : Shown
        As found, from ``found_shown``: it holds scale and colours still.
    """
    known = tuple(each.u for each in _found_sets(moves, found)) if u is None else u
    sets = tuple(
        Deviations(shape.of, shape.profile.stations, shape.profile.components, shape.profile.places,
                   shape.profile.directions, values, each, shape.profile.kind)
        for shape, values, each in zip(moves.shapes, outcome.as_left, known, strict=True)
    )  # fmt: skip
    figures = _figures(session, sets, found)
    every = np.concatenate([np.zeros(0), *(_metres(each.kind, each.values) for each in sets)])
    zone = found.zone
    if zone is not None and len(every):
        middle, half = 0.5 * float(every.max() + every.min()), 0.5 * (zone[1] - zone[0])
        zone = (middle - half, middle + half)
    names = [name for each in sets for name in each.stations]
    high, low = ((names[int(pick(every))],) if len(every) else () for pick in (np.argmax, np.argmin))
    return replace(
        found, kind=Kind.PREDICTED, sets=sets, figures=figures, zone=zone, high=high, low=low,
        lowest=min(found.lowest, float(every.min(initial=0.0))),
    )  # fmt: skip


def _found_sets(moves: Moves, found: Shown) -> tuple[Deviations, ...]:
    """Sets as found, in the order of the shapes of the moves."""
    by_key = {(each.of, each.stations, each.components): each for each in found.sets}
    return tuple(
        by_key.get((shape.of, shape.profile.stations, shape.profile.components)) or _bare(len(shape.found))
        for shape in moves.shapes
    )


def _bare(count: int) -> Deviations:
    none = np.zeros((count, 3))
    return Deviations("", (), (), none, none, np.zeros(count), np.zeros(count), Size.LENGTH)


def _figures(session: Session, sets: tuple[Deviations, ...], found: Shown) -> tuple[Figure, ...]:
    """Figures of the sets that the picture as found shows; sets about the same stations are one figure."""
    linear = found.component is not None and bool(found.component.plus)
    groups: dict[tuple[str, ...], list[Deviations]] = {}
    shown = tuple(each for each in sets if not each.of) if linear else sets_of(sets, found.component)
    for each in shown:
        groups.setdefault((str(each.kind), *each.stations), []).append(each)
    return tuple(figure_of(session.layout, _together(group), found.factor) for group in groups.values())


def _together(group: list[Deviations]) -> Deviations:
    first = group[0]
    if len(group) == 1:
        return first
    places, directions, values, u = (
        np.concatenate([getattr(each, name) for each in group]) for name in ("places", "directions", "values", "u")
    )
    return Deviations(
        first.of, tuple(name for each in group for name in each.stations),
        tuple(name for each in group for name in each.components), places, directions, values, u, first.kind,
    )  # fmt: skip
