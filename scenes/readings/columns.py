"""The columns of a readings file: what they are called, and where a survey stands that a row does not say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import PurePath

from ..model.batches import batch_places, target_at
from ..model.layout import Layout
from .headers import Vocabulary, plain_name

__all__ = [
    "READING_COLUMNS",
    "SIDES",
    "planned_setups",
    "planned_targets",
    "reading_words",
    "visit_name",
    "visit_of_file",
    "with_headers",
]

READING_COLUMNS: Mapping[str, str] = {
    "visit": "text",
    "setup": "text",
    "station": "text",
    "position": "text",
    "target": "text",
    "clock": "angle",
    "side": "text",
    "h": "length",
    "v": "length",
    "h zero": "length",
    "v zero": "length",
    "pitch": "angle",
    "yaw": "angle",
    "mount offset": "length",
    "time": "time",
    "note": "text",
}
"""Own name -> kind; every length and angle needs its unit in the header."""

SIDES = {"direct": 0, "reversed": 1}
"""Word for the side of a reading -> its number."""

_OTHER_NAMES = {"set-up": "setup", "set up": "setup"}
_ANGLES = frozenset({"pitch", "yaw"})
_VISITS = ("as found", "as left")


def reading_words(layout: Layout, mapped: bool = True) -> Vocabulary:
    """Vocabulary of a readings file of this layout; ``mapped``: with the mapping that the layout states."""
    blind = not any(target.reads_angles for target in layout.targets.values())
    unused = _ANGLES - set(map(plain_name, layout.readings.columns)) if blind else frozenset()
    kinds = {name: kind for name, kind in READING_COLUMNS.items() if name not in unused}
    return Vocabulary(kinds, _OTHER_NAMES, unused, layout.readings.columns if mapped else {})


def with_headers(layout: Layout, stated: str) -> Layout:
    """Layout whose tables of readings, where they have no headers, have the ``stated`` ones: ``station, v [um]``."""
    headers = tuple(cell.strip() for cell in stated.split(",") if cell.strip())
    return replace(layout, readings=replace(layout.readings, headers=headers)) if headers else layout


def visit_name(text: str) -> str:
    """Visit as it is named everywhere: ``As_Found`` and ``as-found`` are ``as found``, other names stay as they are."""
    plain = " ".join(text.replace("_", " ").replace("-", " ").casefold().split())
    return plain if plain in _VISITS else " ".join(text.split())


def visit_of_file(file: str) -> str:
    """Visit that the name of a file states: ``as_left.csv`` gives ``as left``, ``after_shims.csv`` ``after shims``."""
    stem = PurePath(file).stem
    return visit_name(stem.replace("_", " ")) or stem


def planned_setups(layout: Layout) -> dict[str, list[str]]:
    """Station -> set-ups that it is read from, in the order of the layout."""
    planned: dict[str, list[str]] = {name: [] for name in layout.stations}
    for setup in layout.setups.values():
        for station in dict.fromkeys((*setup.reads, *setup.again, *setup.level_stations)):
            planned.setdefault(station, []).append(setup.name)
    return planned


def planned_targets(layout: Layout, setups: Sequence[str], stations: Sequence[str]) -> list[str]:
    """Target with which each station is read from its set-up; empty where the station is not in the layout.

    Where several targets stand in the beam at once, they stand at as many stations in the order of reading.
    """
    plans = {name: layout.setups[name] for name in dict.fromkeys(setups) if name in layout.setups}
    places = {name: batch_places(plan, layout.stations) for name, plan in plans.items()}
    targets = []
    for setup, name in zip(setups, stations, strict=True):
        station = layout.stations.get(name)
        if station is None:
            targets.append("")
        elif setup not in plans:
            targets.append(station.target)
        else:
            targets.append(target_at(plans[setup], station, places[setup]))
    return targets
