"""Where the standing bar stands, and which way counts positive: what a figure needs to be read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenes.reductions.quantities.definition import Kind, Linear
from scenes.units import from_si
from scenes.vectors import Floats, unit
from viewer.logic.figures import Figure, Form
from viewer.logic.limits_drawn import limits_of
from viewer.logic.shown import Shown, standing_bar
from viewer.text import screen_unit

__all__ = ["Foot", "Sign", "bar_foot", "bar_words", "corners_drawn", "signs_of"]

WIDE = 0.6
"""Limits that reach farther than this share of the length of their line need not be in the picture."""

BESIDE = 0.06
"""The bar stands this share of the longest extent beside the figure."""

SIGN_REACH = 0.07
MOST_SIGNS = 3
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


def corners_drawn(shown: Shown, factor: float) -> Floats:
    """Points ``(n, 3)`` that a picture of the figures must hold: their places, tips, signs and the standing bar."""
    points = [figure.places for figure in shown.figures]
    points += [shown.tips_of(figure, factor) for figure in shown.figures]
    points += [figure.places + shown.raised(figure, factor) for figure in shown.figures]
    points += [(sign.place + 1.3 * sign.reach * sign.direction)[None] for sign in signs_of(shown, factor)]
    points += [_limit_corners(shown, figure, factor) for figure in shown.figures if figure.form is Form.LINE]
    foot = bar_foot(shown, factor)
    if foot is not None:
        beside = foot.place - 2.0 * foot.room * foot.across
        points.append(np.stack([foot.place, beside, foot.place + factor * standing_bar(shown) * foot.up]))
    every = np.vstack([np.zeros((0, 3)), *points])
    return every[np.isfinite(every).all(axis=1)]


def _limit_corners(shown: Shown, figure: Figure, factor: float) -> Floats:
    """Ends of the limits about a line; none where they are far wider than what is drawn."""
    limits = limits_of(shown, figure)
    zero = (figure.places + shown.raised(figure, factor))[[0, -1]]
    if limits is None or factor * 0.5 * limits.width > WIDE * figure.longer:
        return zero
    if limits.lean is not None and limits.across is not None:
        ahead = np.array([0.0, figure.longer]) - limits.pivot
        steps = [factor * lean * ahead[:, None] * limits.across for lean in limits.lean]
        return np.vstack([zero + step for step in steps])
    ways = figure.directions if limits.across is None else (limits.across,)
    ends = [zero + factor * (limits.middle + side * limits.width) * way for way in ways for side in (-0.5, 0.5)]
    return np.vstack(ends)


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


def _surface_of(figure: Figure) -> str:
    """What the names of its stations begin with, which need not be told once more; empty where they share nothing."""
    heads = {name.split(" ")[0] for name in figure.stations}
    return heads.pop() if len(heads) == 1 else ""


def signs_of(shown: Shown, factor: float) -> tuple[Sign, ...]:
    """Arrows for components whose sign means a direction, at the far end of the zero line of their figure."""
    chosen = "" if shown.component is None else shown.component.name
    found: list[tuple[bool, Sign]] = []
    for figure in shown.figures:
        if figure.form is not Form.LINE:
            continue
        zero = figure.places + shown.raised(figure, factor)
        beyond = zero[-1] + 5.0 * BESIDE * (zero[-1] - zero[0])
        for asked in shown.measured.definition.values:
            if not isinstance(asked, Linear) or not asked.plus or asked.kind is not Kind.ANGLE:
                continue
            direction = _sign_of(shown, figure, asked)
            if direction is not None:
                sign = Sign(
                    beyond,
                    direction,
                    SIGN_REACH * max(shown.longer, figure.longer),
                    f"{asked.name.removeprefix(_surface_of(figure)).strip()} +",
                )
                found.append((asked.name == chosen, sign))
    if len(found) > MOST_SIGNS:
        found = [each for each in found if each[0]]
    return tuple(sign for _, sign in found)
