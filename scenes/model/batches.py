"""Batches: see-through targets that stand in one beam at once, and which of them stands at which station."""

from __future__ import annotations

from collections.abc import Mapping

from .survey import Setup, Station

__all__ = ["batch_places", "target_at"]


def batch_places(setup: Setup, stations: Mapping[str, Station]) -> dict[str, int]:
    """Place of each station in the order in which the see-through targets of ``setup`` go over them.

    Targets that mark a datum by themselves, such as near and far, take no part. A batch ends where the prism is carried
    on or a part moves: places are left out there, so that ``place // len(setup.through)`` counts the batches. Empty
    where nothing is read through.
    """
    if not setup.through:
        return {}
    stops = {} if setup.prism is None else {name: stop.name for stop in setup.prism.stops for name in stop.stations}
    places: dict[str, int] = {}
    count, standing = len(setup.through), None
    place = 0
    for name in setup.reads:
        station = stations[name]
        if station.is_datum:
            continue
        there = (stops.get(name), station.carried_by, station.position)
        if there != standing:
            place, standing = -(-place // count) * count, there
        places[name] = place
        place += 1
    return places


def target_at(setup: Setup, station: Station, places: Mapping[str, int]) -> str:
    """Name of the target that ``setup`` reads at ``station``; ``places`` come from `batch_places`."""
    place = places.get(station.name)
    return station.target if place is None else setup.through[place % len(setup.through)]
