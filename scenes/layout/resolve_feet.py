"""Feet of the model."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from ..model.extent import beyond_outline
from ..model.machine import Surface
from ..model.survey import Feet
from .context import Context, place_of
from .entries import named_entries, read_entry
from .schema_feet import FeetKeys
from .strict_yaml import Block, Place

__all__ = ["read_feet"]


def read_feet(section: Block, surfaces: Mapping[str, Surface], context: Context) -> dict[str, Feet]:
    """Feet by the name of the surface; entries that are wrong are reported and left out."""
    feet = {}
    for name, raw, place in named_entries(section, context):
        if name not in context.surfaces:
            advice = context.near(name, context.surfaces)
            context.say(place, f"feet are named after their surface; there is no surface '{name}'", advice)
        entry = read_entry(FeetKeys, raw, place, context)
        surface = surfaces.get(name)
        if entry is None or surface is None:
            continue
        names = tuple(entry.names or (f"F{i + 1}" for i in range(len(entry.at))))
        if _feet_fit(entry, names, surface, raw, place, context):
            feet[name] = Feet(
                surface=name, names=names, at=np.array(entry.at), add_only=entry.add_only, travel=entry.travel,
                stock=tuple(entry.stock or ()), most_pieces=entry.most_pieces, influence=_influence(entry),
                effective_thickness=entry.effective_thickness or 0.0, weight=entry.weight or 0.0, line=place.line,
                origins=_origins(raw), influence_file=_file(entry, context), known_to=entry.shim_known_to,
                influence_known_to=entry.influence_known_to,
            )  # fmt: skip
    return feet


def _influence(entry: FeetKeys) -> str:
    return entry.influence if isinstance(entry.influence, str) else entry.influence[0]


def _file(entry: FeetKeys, context: Context) -> str:
    """File of a measured influence, which lies beside the layout; else empty."""
    return "" if isinstance(entry.influence, str) else str(Path(context.file).parent / entry.influence[1])


def _feet_fit(
    entry: FeetKeys, names: tuple[str, ...], surface: Surface, raw: Block, place: Place, context: Context
) -> bool:
    before = context.told
    if len(names) != len(entry.at):
        context.say(raw.values_at["names"], f"{len(names)} names for {len(entry.at)} feet", "one name per foot")
    elif len(set(names)) != len(names):
        context.say(raw.values_at["names"], "two feet have the same name", "one name per foot")
    for index, (x, y) in enumerate(entry.at):
        here = place_of(raw, ("at", index), place)
        if beyond := beyond_outline(surface.shape, x, y):
            message = f"foot {index + 1} is not under '{surface.name}': it stands {1e3 * beyond:.6g} mm beyond the edge"
            context.say(here, message, "move it")
        for other, (u, v) in enumerate(entry.at[:index]):
            if np.hypot(x - u, y - v) < 1e-3:
                context.say(here, f"foot {index + 1} stands where foot {other + 1} stands", "move one of them")
    if entry.influence == "rigid" and entry.effective_thickness is not None:
        message = "a rigid surface does not bend"
        context.say(raw.keys_at["effective thickness"], message, "remove it, or say plate or beam")
    return context.told == before


def _origins(raw: Block) -> dict[str, str]:
    origins = {}
    for key, field in FeetKeys.key_names().items():
        origins[field] = f"layout line {raw.keys_at[key].line}" if key in raw else "default"
    return origins
