"""Bearings of the model."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..model.bearings import Bearings, Play
from ..model.machine import Bore, Roll, Surface
from .context import Context
from .entries import named_entries, read_entry
from .schema_bearings import BearingsKeys, PlayKeys
from .strict_yaml import Block, Place

__all__ = ["read_bearings"]

CLOSE = 1e-3
"""Bearings nearer than this [m] are one bearing."""


def read_bearings(section: Block, surfaces: Mapping[str, Surface], context: Context) -> dict[str, Bearings]:
    """Bearings by the name of the part that they hold; entries that are wrong are reported and left out."""
    found = {}
    for name, raw, place in named_entries(section, context):
        if name not in context.surfaces:
            advice = context.near(name, context.surfaces)
            context.say(place, f"bearings are named after the part they hold; there is no '{name}'", advice)
        entry = read_entry(BearingsKeys, raw, place, context)
        surface = surfaces.get(name)
        if entry is None or surface is None or not _fit(entry, surface, raw, place, context):
            continue
        found[name] = Bearings(
            name, tuple(entry.at), np.array(list(entry.at.values())), tuple(entry.fixed or ()), _play(entry.up),
            _play(entry.side), place.line,
        )  # fmt: skip
    return found


def _play(keys: PlayKeys | None) -> Play | None:
    if keys is None:
        return None
    return Play(keys.travel, keys.add_only, tuple(keys.stock or ()), keys.most_pieces, keys.shim_known_to)


def _fit(entry: BearingsKeys, surface: Surface, raw: Block, place: Place, context: Context) -> bool:
    before = context.told
    at = list(entry.at.values())
    if not isinstance(surface.shape, (Roll, Bore)):
        context.say(place, f"'{surface.name}' has no axis that bearings could hold", "name a roll or a bore")
    if len(at) != 2:
        context.say(raw.values_at["at"], f"{len(at)} bearings; an axis is held by two", "{drive: -1 m, tending: 1 m}")
    elif abs(at[0] - at[1]) < CLOSE:
        context.say(raw.values_at["at"], "both bearings stand at one place", "move one of them")
    for name in entry.fixed or ():
        if name not in entry.at:
            context.say(raw.values_at["fixed"], f"there is no bearing '{name}'", context.near(name, entry.at))
    if entry.up is None and entry.side is None:
        context.say(place, f"the bearings of '{surface.name}' cannot move at all", "add up, side, or both")
    return context.told == before
