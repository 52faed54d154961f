"""Rounds of reading a group: once as drawn, or at each position of a moving part, or at each turn of a roll."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from ..model.machine import FLOOR, Face, Roll, Surface
from .context import Context
from .schema_stations import ALL_POSITIONS, GroupKeys
from .strict_yaml import Block

__all__ = ["Round", "rounds_of"]


class Round(NamedTuple):
    """The part that moves, its position, both empty where none does, and whether the position is part of the names."""

    carried_by: str
    position: str
    is_named: bool
    turn: float = 0.0
    word: str = ""
    """What stands behind the @ of the names; the position where nothing is said."""

    def named(self, plain: str) -> str:
        """Name of a station in this round."""
        return f"{plain}@{self.word or self.position}" if self.is_named else plain


def _carriers(surface: Surface, surfaces: Mapping[str, Surface]) -> Iterator[Surface]:
    """The surface and all that it stands on, the nearest first."""
    yield surface
    while surface.on != FLOOR:
        surface = surfaces[surface.on]
        yield surface


def rounds_of(
    entry: GroupKeys, surface: Surface, surfaces: Mapping[str, Surface], raw: Block, context: Context
) -> list[Round] | None:
    """Rounds in which a group on ``surface`` is read; None where a position is wrong, which is then reported.

    Without a list of positions there is one round, at the drawn position. Where several of the parts that carry the
    surface move, the nearest one that has all positions is meant.
    """
    if entry.turned is not None:
        return _turned(entry.turned, surface, raw, context)
    moving = [part for part in _carriers(surface, surfaces) if part.moves is not None]
    asked = entry.positions
    if asked is None:
        return [Round(moving[0].name, _drawn(moving[0]), False)] if moving else [Round("", "", False)]
    place = raw.values_at["positions"]
    if not moving:
        context.say(raw.keys_at["positions"], f"'{surface.name}' does not move, so it has no positions", "remove it")
        return None
    if len(set(asked)) < len(asked):
        context.say(place, "a position is named twice", "name each once")
        return None
    named = [dict(part.moves.positions) if part.moves is not None else {} for part in moving]
    if asked == [ALL_POSITIONS]:
        return [Round(moving[0].name, position, True) for position in named[0]]
    for part, known in zip(moving, named, strict=True):
        if all(position in known for position in asked):
            return [Round(part.name, position, True) for position in asked]
    wrong = next((position for position in asked if position not in named[0]), asked[0])
    context.say(place, f"'{moving[0].name}' has no position '{wrong}'", context.near(wrong, [*named[0], ALL_POSITIONS]))
    return None


def _turned(turns: list[float], surface: Surface, raw: Block, context: Context) -> list[Round] | None:
    """One round for every turn of a roll or a face."""
    here = raw.keys_at["turned"]
    if not isinstance(surface.shape, Roll | Face):
        context.say(here, f"'{surface.name}' is no roll and no round face, so it is not turned", "remove it")
        return None
    if "positions" in raw:
        context.say(here, "stations are read at positions or at turns, not at both", "keep one of them")
        return None
    words = [f"{np.degrees(turn):.6g}" for turn in turns]
    if len(set(words)) < len(words):
        context.say(raw.values_at["turned"], "a turn is named twice", "name each once")
        return None
    return [Round("", "", True, turn, word) for turn, word in zip(turns, words, strict=True)]


def _drawn(part: Surface) -> str:
    return part.moves.drawn if part.moves is not None else ""
