"""Where the standing bar stands, and which way counts positive: what a figure needs to be read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.reductions.quantities.definition import Kind, Linear
from scenes.units import from_si
from scenes.vectors import Floats, unit
from viewer.logic.figures import Figure, Form
from viewer.logic.shown import Shown, standing_bar
from viewer.text import screen_unit

__all__ = ["Foot", "Sign", "bar_foot", "bar_words", "signs_of"]

BESIDE = 0.06
"""The bar stands this share of the longest extent beside the figure."""

SIGN_REACH = 0.07
MOST_SIGNS = 6
"""Of more signs than these that of the chosen component is drawn alone."""


@dataclass(frozen=True, slots=True, eq=False)
class Foot:
    """Foot of the standing bar, world, metres: its place, its own direction, one across, and room for its name."""

    place: Floats
    up: Floats
    across: Floats
    room: float


@dataclass(frozen=True, slots=True, eq=False)
class Sign:
    """An arrow from ``place`` that shows which way is plus, with its words."""

    place: Floats
    direction: Floats
    reach: float
    words: str


def bar_foot(shown: Shown, factor: float) -> Foot | None:
    """Where the standing bar stands on the zero level; None where nothing is drawn."""
    if not shown.figures:
        return None
    figure = shown.figures[0]
    if figure.sheet is not None:
        pose, low = figure.sheet.world_from_sheet, figure.sheet.places.min(axis=0)
        up, across = pose.rotation[:, 2], pose.rotation[:, 0]
        place = pose.points(np.array([low[0] - BESIDE * shown.longer, low[1], low[2]])[None])[0]
        return Foot(place + shown.lift(factor) * up, up, across, 0.05 * shown.longer)
    up = figure.away if len(figure.directions) > 1 and np.any(figure.away) else figure.directions[0]
    zero = figure.places + shown.raised(figure, factor)
    if figure.form is Form.LINE:
        along = unit(zero[-1] - zero[0])
        start = zero[0]
    else:
        along = np.cross(up, np.eye(3)[int(np.argmin(np.abs(up)))])
        along = unit(along)
        start = zero[int(np.argmin(zero @ along))]
    longest = max(shown.longer, 0.1)
    return Foot(start - BESIDE * longest * along, up, along, 0.05 * longest)


def bar_words(shown: Shown, unit_: str, angle_unit: str) -> str:
    """What the standing bar is worth."""
    worth = standing_bar(shown)
    if shown.angles:
        return f"{from_si(worth, angle_unit, 'angle'):.3g} {screen_unit(angle_unit)}"
    return f"{from_si(worth, unit_, 'length'):.6g} {screen_unit(unit_)}"


def _sign_of(shown: Shown, figure: Figure, asked: Linear) -> Floats | None:
    """Direction of the deviations of a component in a figure."""
    for each in shown.sets:
        if set(each.stations) != set(figure.stations):
            continue
        for word, direction in zip(each.components, each.directions, strict=True):
            if word == asked.name:
                return np.array(direction)
    return None


def signs_of(shown: Shown, factor: float) -> tuple[Sign, ...]:
    """Arrows for components whose sign means a direction, at the far end of the zero line of their figure."""
    chosen = "" if shown.component is None else shown.component.name
    found: list[tuple[bool, Sign]] = []
    for figure in shown.figures:
        if figure.form is not Form.LINE:
            continue
        zero = figure.places + shown.raised(figure, factor)
        for asked in shown.measured.definition.values:
            if not isinstance(asked, Linear) or not asked.plus or asked.kind is not Kind.ANGLE:
                continue
            direction = _sign_of(shown, figure, asked)
            if direction is not None:
                sign = Sign(zero[-1], direction, SIGN_REACH * max(shown.longer, figure.longer), f"{asked.name} +")
                found.append((asked.name == chosen, sign))
    if len(found) > MOST_SIGNS:
        found = [each for each in found if each[0]]
    return tuple(sign for _, sign in found)
