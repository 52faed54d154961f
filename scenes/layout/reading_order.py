"""What a set-up reads, in which order, and from which stop of its prism."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from ..model.survey import Stop
from .context import Context, place_of
from .names import expand, expand_all
from .schema_beams import PrismUseKeys
from .schema_reads import AgainKeys, StationsReadKeys
from .schema_setups import SetupKeys
from .strict_yaml import Block, Place

__all__ = ["ONLY_STOP", "Order", "reading_order"]

ONLY_STOP = "prism"
"""Name of the stop of a prism that stands at one place."""


class Order(NamedTuple):
    """Stations in the order of reading, those read again, and the stops of the prism with what is read from each."""

    reads: tuple[str, ...]
    again: tuple[str, ...]
    stops: tuple[Stop, ...]


def reading_order(entry: SetupKeys, raw: Block, place: Place, ends: tuple[str, ...], context: Context) -> Order | None:
    """Order of reading; None where something does not fit, which is then reported.

    Parameters
    ----------
    ends : tuple of str
        Near and far stations; they are read first where ``reads`` does not name them.
    """
    before = context.told
    stop_of: dict[str, str] = {}
    again: list[str] = []
    stops = _distances(entry.prism)
    for index, item in enumerate(entry.reads):
        here = place_of(raw, ("reads", index), place)
        if isinstance(item, AgainKeys):
            again.extend(expand_all(item.again, context))
            continue
        block = raw["reads"][index] if isinstance(raw["reads"], list) else raw["reads"]
        names = _named(item, block, here, context)
        stop = _stop_of(item, block, here, names, stops, ends, context)
        for station in names:
            if station in stop_of:
                context.say(here, f"station '{station}' is read twice", "name re-readings as again: [...]")
                break
            stop_of[station] = "" if station in ends else stop
    if not stop_of and context.told == before:
        context.say(place_of(raw, ("reads",), place), "nothing is read for a first time", "for example reads: [grid]")
        return None
    reads = (*(end for end in ends if end not in stop_of), *stop_of)
    _check_again(again, reads, entry, raw, place, context)
    placed = tuple(
        Stop(name, distance, tuple(station for station, its in stop_of.items() if its == name))
        for name, distance in stops.items()
    )
    if context.told == before:
        _check_stops(placed, raw, context)
    return Order(reads, tuple(again), placed) if context.told == before else None


def _distances(prism: PrismUseKeys | None) -> Mapping[str, float]:
    if prism is None:
        return {}
    if prism.at is not None:
        return {ONLY_STOP: prism.at.along_beam}
    return prism.stops or {}


def _named(item: str | StationsReadKeys, raw: Block, here: Place, context: Context) -> tuple[str, ...]:
    """Stations of one entry of ``reads``; what is not there is reported."""
    if isinstance(item, str):
        return expand_all([item], context)
    found: list[str] = []
    for position in item.at_positions or [""]:
        for index, name in enumerate(item.stations):
            try:
                named = _at_position(name, position, context)
            except KeyError as error:
                context.say(place_of(raw, ("stations", index), here), *error.args)
                return ()
            if not named:
                where = place_of(raw, ("at positions", (item.at_positions or [""]).index(position)), here)
                _say_position(name, position, where, context)
                return ()
            found += named
    return tuple(found)


def _at_position(name: str, position: str, context: Context) -> tuple[str, ...]:
    """Stations that ``name`` stands for, at one position of their moving part if one is asked for."""
    try:
        named = expand(name, context)
    except KeyError as unknown:
        if not position:
            raise
        try:
            return expand(f"{name}@{position}", context)
        except KeyError:
            if any(each.startswith(f"{name}@") for each in context.stations):
                return ()  # there, but not at this position
            if ".." in name:
                raise
            raise unknown from None
    return named if not position else tuple(each for each in named if context.stations[each].position == position)


def _say_position(name: str, position: str, where: Place, context: Context) -> None:
    stations = [each for each in context.stations.values() if each.name.startswith(f"{name}@")]
    stations = stations or [context.stations[each] for each in expand(name, context)]
    known = dict.fromkeys(each.position for each in stations if each.position)
    if known:
        context.say(where, f"'{name}' has no stations at the position '{position}'", context.near(position, known))
    else:
        advice = "remove at positions, or give its stations positions"
        context.say(where, f"'{name}' is on no part that moves between positions", advice)


def _stop_of(
    item: str | StationsReadKeys, raw: Block, here: Place, names: tuple[str, ...], stops: Mapping[str, float],
    ends: tuple[str, ...], context: Context,
) -> str:  # fmt: skip
    """Name of the stop from which an entry is read; empty where the base line itself is read."""
    asked = item.from_stop if isinstance(item, StationsReadKeys) else None
    if asked is not None and asked not in stops:
        place = place_of(raw, ("from stop",), here)
        if not stops:
            message = "a stop belongs to a prism, and this set-up has none"
            context.say(place, message, "add prism: {use: ..., stops: ...}")
        else:
            context.say(place, f"the prism has no stop '{asked}'", context.near(asked, stops))
        return ""
    if asked is None and len(stops) > 1 and any(name not in ends for name in names):
        message = f"the prism has {len(stops)} stops; from which of them this is read is not said"
        context.say(here, message, f"write {{stations: ..., from stop: {next(iter(stops))}}}")
        return ""
    return asked or next(iter(stops), "")


def _check_again(
    again: list[str], reads: tuple[str, ...], entry: SetupKeys, raw: Block, place: Place, context: Context
) -> None:
    for station in again:
        if station not in reads:
            index = next(i for i, item in enumerate(entry.reads) if isinstance(item, AgainKeys))
            here = place_of(raw, ("reads", index), place)
            context.say(here, f"station '{station}' is read again, but not a first time", "read it before")


def _check_stops(stops: tuple[Stop, ...], raw: Block, context: Context) -> None:
    for stop in stops:
        if not stop.stations and "stops" in raw.get("prism", {}):
            place = raw["prism"]["stops"].keys_at[stop.name]
            advice = f"read something: {{stations: ..., from stop: {stop.name}}}, or remove it"
            context.say(place, f"nothing is read from the stop '{stop.name}'", advice)
