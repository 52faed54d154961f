"""``level by`` as one phrase: ``three points``, ``best fit``, ``vial`` or ``pads [p1, p2, p3]``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationInfo

from ..hints import near_names
from .context import fail, shown
from .names import check_station
from .values import Words

__all__ = ["LevelWord", "level_phrase"]

_WORDS = ("three points", "best fit", "vial")
_WITH_STATIONS = re.compile(r"(pads|three points)\s*\[([^\[\]]*)\]")


def level_phrase(phrase: str) -> tuple[str, tuple[str, ...]]:
    """Method and the stations named in ``phrase``; raises ``ValueError`` where it is no such phrase."""
    if phrase in _WORDS:
        return phrase, ()
    found = _WITH_STATIONS.fullmatch(phrase.strip())
    if found is None:
        raise ValueError(phrase)
    return found[1], tuple(name.strip() for name in found[2].split(",") if name.strip())


@dataclass(frozen=True)
class LevelWord(Words):
    """The phrase, with its stations checked."""

    def read(self, value: Any, info: ValidationInfo) -> str:
        """Return the phrase."""
        try:
            _, stations = level_phrase(str(value)) if isinstance(value, str) else ("", level_phrase("?")[1])
        except ValueError:
            near = near_names(value, [*_WORDS, "pads [p1, p2, p3]"], most=1) if isinstance(value, str) else []
            choices = "three points, best fit, vial, or pads [p1, p2, p3]"
            advice = f"did you mean {near[0]}?" if near else f"one of: {choices}"
            raise fail(f"a way to set the plane is expected, not {shown(value)}", advice) from None
        for station in stations:
            check_station(station, info)
        return str(value)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: the phrases."""
        return {"type": "string", "pattern": r"^(three points|best fit|vial|(pads|three points)\s*\[[^\[\]]*\])$"}
