"""The columns of a readings file: what they are called, and where a survey stands that a row does not say."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath

from ..model.layout import Layout
from .headers import Vocabulary

__all__ = ["READING_COLUMNS", "planned_setups", "reading_words", "visit_name", "visit_of_file"]

READING_COLUMNS: Mapping[str, str] = {
    "visit": "text",
    "setup": "text",
    "station": "text",
    "target": "text",
    "h": "length",
    "v": "length",
    "h zero": "length",
    "v zero": "length",
    "mount offset": "length",
    "time": "time",
    "note": "text",
}
"""Own name -> kind; every length needs its unit in the header."""

_OTHER_NAMES = {"set-up": "setup", "set up": "setup"}
_UNUSED = frozenset({"pitch", "yaw", "clock", "position"})  # values of other methods than a swept plane
_VISITS = ("as found", "as left")


def reading_words(layout: Layout) -> Vocabulary:
    """Vocabulary of a readings file of this layout, with the mapping that the layout states."""
    return Vocabulary(READING_COLUMNS, _OTHER_NAMES, _UNUSED, layout.readings.columns)


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
