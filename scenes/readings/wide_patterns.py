"""Patterns of the headers of wide tables: ``{visit} {repeat}`` is laid over ``as found 2``."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..model.layout import WideTable
from .columns import SIDES
from .headers import Vocabulary, split_header

__all__ = ["WORDS", "WidePatterns"]

WORDS = {
    "visit": r".+?",
    "setup": r".+?",
    "station": r".+?",
    "column": r".+?",
    "position": r".+?",
    "target": r".+?",
    "side": "|".join(SIDES),
    "clock": r"[-+]?\d+(?:[.,]\d+)?",
    "repeat": r"\d+",
    "round": r"\d+",
}
"""Word of a pattern -> what stands for it in a header."""

_WORD = re.compile(r"\{ *([a-z]+) *\}")
_BLANKS = re.compile(r"[\s_]+")


@dataclass(frozen=True, slots=True)
class _Pattern:
    """One pattern: the column whose values stand under it, what it matches, and its unit."""

    own: str
    match: re.Pattern[str]
    unit: str


class WidePatterns:
    """The patterns of a wide table, and the vocabulary of the columns beside them."""

    def __init__(self, wide: WideTable, words: Vocabulary) -> None:
        self._words = words
        self._station = wide.station
        self._patterns = [_compiled(own, text) for own, texts in wide.cells.items() for text in texts]

    @property
    def names_stations(self) -> bool:
        """True where headers, and not rows, name the stations."""
        return all("station" in pattern.match.groupindex for pattern in self._patterns)

    def own_name(self, header: str) -> str:
        """Own name of a column beside the values; empty where it is none."""
        return self._words.own_names().get(split_header(header)[0], "")

    def stated_unit(self, own: str) -> str:
        """Unit that the layout states for a column of values, or empty."""
        return self._words.unit_in_mapping(own)

    def station_of(self, row: str, said: Mapping[str, str]) -> str:
        """Name of a station from the name of its row and what a header says."""
        if "station" in said:
            return said["station"]
        if not row:
            return ""
        parts = {"row": row, "column": said.get("column", "")}
        return _WORD.sub(lambda found: parts.get(found.group(1), found.group()), self._station).strip()

    def is_known(self, header: str) -> bool:
        """Tell whether ``header`` names a column of readings or stands over values."""
        return self._words.is_known(header) or self.said(header) is not None

    def said(self, header: str) -> tuple[str, str, dict[str, str]] | None:
        """Column of values, unit, and what a header says; None where it matches no pattern."""
        name, unit = _name_and_unit(header)
        if not name or self._words.is_known(header):
            return None
        for pattern in self._patterns:
            found = pattern.match.fullmatch(name)
            if found:
                return (
                    pattern.own,
                    unit or pattern.unit,
                    {word: part.strip() for word, part in found.groupdict().items()},
                )
        return None

    def is_ordinary(self, header: Sequence[str], values: Sequence[str]) -> bool:
        """Tell whether a header is that of a table with one record per row: it names ``values`` with their units."""
        own = self._words.own_names()
        for text in header:
            name, unit = split_header(text)
            if own.get(name) in values and (unit or self._words.unit_in_mapping(own[name])):
                return True
        return False


def _name_and_unit(text: str) -> tuple[str, str]:
    """Name in its own case, with single blanks, and unit of a header."""
    unit = split_header(text)[1]
    name = re.sub(r"\s*[\[(][^\[\]()]*[\])]\s*$", "", text) if unit else text
    return _BLANKS.sub(" ", name).strip(), unit


def _compiled(own: str, pattern: str) -> _Pattern:
    name, unit = _name_and_unit(pattern)
    parts, at = [], 0
    for found in _WORD.finditer(name):
        parts.append(_literal(name[at : found.start()]))
        word = found.group(1)
        degrees = r"\s*(?:deg|°)?" if word == "clock" else ""
        parts.append(f"(?P<{word}>{WORDS[word]}){degrees}")
        at = found.end()
    parts.append(_literal(name[at:]))
    return _Pattern(own, re.compile("".join(parts), re.IGNORECASE), unit)


def _literal(text: str) -> str:
    return r"\s*".join(re.escape(part) for part in text.split(" ")) if text.strip() or not text else r"\s*"
