"""Tasks and feet of the model."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..model.extent import beyond_edge
from ..model.machine import Surface
from ..model.survey import Feet, Rule, Task, UnknownCone
from .context import Context, place_of
from .entries import named_entries, read_entry
from .names import expand_all
from .schema_tasks import FeetKeys, FlatnessKeys
from .strict_yaml import Block, Place

__all__ = ["read_feet", "read_tasks"]


def read_tasks(section: Block, context: Context) -> dict[str, Task]:
    """Tasks by name; entries that are wrong are reported and left out."""
    tasks = {}
    for name, raw, place in named_entries(section, context):
        if isinstance(raw, Block) and _is_later(raw, context):
            continue
        entry = read_entry(FlatnessKeys, raw, place, context)
        if entry is None or entry.flatness is None or not context.stations_complete:
            continue
        stations = _stations(entry, raw, place, context)
        datum = _datum(entry, raw, place, stations, context)
        if stations and datum is not None:
            tasks[name] = Task(
                name=name, quantity="flatness", surface=entry.flatness, stations=stations, reference=entry.reference,
                datum=datum, limit=entry.limit, rule=Rule(entry.rule), cone=UnknownCone(entry.cone),
                coverage_factor=entry.coverage, line=place.line,
            )  # fmt: skip
    return tasks


def _is_later(raw: Block, context: Context) -> bool:
    later = [word for word in FlatnessKeys.later if word in raw]
    if not later or "flatness" in raw:
        return False
    context.say_later(raw, later[0])
    return True


def _stations(entry: FlatnessKeys, raw: Block, place: Place, context: Context) -> tuple[str, ...]:
    """Stations of the task, each once; empty where they do not suit it."""
    here = place_of(raw, ("from",), place)
    if entry.from_ is None:
        names = tuple(name for name, station in context.stations.items() if station.surface == entry.flatness)
    else:
        names = tuple(dict.fromkeys(expand_all(entry.from_, context)))
    for name in names:
        surface = context.stations[name].surface
        if surface != entry.flatness:
            message = f"station '{name}' is on '{surface}', the task is about '{entry.flatness}'"
            context.say(here, message, "leave it out")
            return ()
    if len(names) < 4:
        message = f"flatness needs four stations or more, here are {len(names)}: a plane goes through any three"
        context.say(here, message, "add stations")
        return ()
    return names


def _datum(
    entry: FlatnessKeys, raw: Block, place: Place, stations: tuple[str, ...], context: Context
) -> tuple[str, ...] | None:
    """Stations that carry a three-point reference; None where they do not suit it."""
    if entry.reference != "three points":
        if entry.datum is not None:
            message = "datum stations belong to reference: three points"
            context.say(raw.keys_at["datum"], message, "remove the datum, or name this reference")
            return None
        return ()
    here = place_of(raw, ("datum",), place_of(raw, ("reference",), place))
    datum = tuple(dict.fromkeys(expand_all(entry.datum or [], context)))
    if len(datum) != 3:
        message = f"a three-point reference needs three different stations, here are {len(datum)}"
        context.say(here, message, "for example datum: [A1, A7, E4]")
        return None
    for name in datum:
        if stations and name not in stations:
            context.say(here, f"datum station '{name}' is not among the stations of the task", "add it under from")
            return None
    places = np.array([context.stations[name].at for name in datum])
    area = 0.5 * float(np.linalg.norm(np.cross(places[1] - places[0], places[2] - places[0])))
    if area < 1e-3 * float(np.ptp(places, axis=0).max()):  # a triangle less than about 2 mm high
        context.say(here, "the three datum stations stand on one line and carry no plane", "choose one off that line")
        return None
    return datum


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
                stock=tuple(entry.stock or ()), most_pieces=entry.most_pieces, influence=entry.influence,
                effective_thickness=entry.effective_thickness or 0.0, weight=entry.weight or 0.0, line=place.line,
                origins=_origins(raw),
            )  # fmt: skip
    return feet


def _feet_fit(
    entry: FeetKeys, names: tuple[str, ...], surface: Surface, raw: Block, place: Place, context: Context
) -> bool:
    before = len(context.problems)
    if len(names) != len(entry.at):
        context.say(raw.values_at["names"], f"{len(names)} names for {len(entry.at)} feet", "one name per foot")
    elif len(set(names)) != len(names):
        context.say(raw.values_at["names"], "two feet have the same name", "one name per foot")
    for index, (x, y) in enumerate(entry.at):
        here = place_of(raw, ("at", index), place)
        if beyond := beyond_edge(surface.shape, x, y):
            message = f"foot {index + 1} is not under '{surface.name}': it stands {1e3 * beyond:.6g} mm beyond the edge"
            context.say(here, message, "move it")
        for other, (u, v) in enumerate(entry.at[:index]):
            if np.hypot(x - u, y - v) < 1e-3:
                context.say(here, f"foot {index + 1} stands where foot {other + 1} stands", "move one of them")
    if entry.influence == "rigid" and entry.effective_thickness is not None:
        message = "a rigid surface does not bend"
        context.say(raw.keys_at["effective thickness"], message, "remove it, or say plate or beam")
    return len(context.problems) == before


def _origins(raw: Block) -> dict[str, str]:
    origins = {}
    for key, field in FeetKeys.key_names().items():
        origins[field] = f"layout line {raw.keys_at[key].line}" if key in raw else "default"
    return origins
