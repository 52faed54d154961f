"""Batches: see-through targets that stand in one beam at once, and which of them stands at which station."""

from __future__ import annotations

from collections.abc import Mapping

from .survey import Setup, Station

__all__ = ["batch_places", "target_at"]


def batch_places(setup: Setup, stations: Mapping[str, Station]) -> dict[str, int]:
    """Place of each station in the order in which the see-through targets of ``setup`` go over them.

    Targets that mark a datum by themselves, such as near and far, take no part. Empty where nothing is read through.
    """
    if not setup.through:
        return {}
    return {name: place for place, name in enumerate(name for name in setup.reads if not stations[name].is_datum)}


def target_at(setup: Setup, station: Station, places: Mapping[str, int]) -> str:
    """Name of the target that ``setup`` reads at ``station``; ``places`` come from `batch_places`."""
    place = places.get(station.name)
    return station.target if place is None else setup.through[place % len(setup.through)]
