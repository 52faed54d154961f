"""Keys of what a set-up reads: stations, re-readings, positions of moving parts, stops of a prism."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Discriminator, Field, Tag

from .context import fail, shown
from .json_words import ListOrOne
from .keys import Keys
from .names import StationItem, StationList
from .values import Words

__all__ = ["AgainKeys", "ReadsList", "StationsReadKeys"]


def _names(value: Any) -> Any:
    if value is None or isinstance(value, dict) or (isinstance(value, list) and not value):
        raise fail(f"a name or a list of names is expected, not {shown(value)}")
    return value if isinstance(value, list) else [value]


NameList = Annotated[list[Annotated[str, Words("a name")]], BeforeValidator(_names), ListOrOne()]


class AgainKeys(Keys):
    """Stations that are read once more at the end."""

    called = "a re-reading"
    again: StationList = Field(description="Stations, ranges or groups that are read once more.", examples=["[A1]"])


class StationsReadKeys(Keys):
    """Stations that are read at positions of a moving part, or from one stop of the prism."""

    called = "a reading of stations"
    stations: NameList = Field(
        description="Stations, ranges or groups; 'on slide' for all of a surface, 'ends of roll' for its outermost.",
        examples=["on slide"],
    )
    at_positions: NameList | None = Field(
        None, description="Positions of the moving part that carries them, in the order of reading.",
        examples=["[low, mid, top]"],
    )  # fmt: skip
    from_stop: Annotated[str | None, Words("the name of a stop")] = Field(
        None, description="Stop of the prism from which they are read.", examples=["at roll_1"]
    )


def _tag(value: Any) -> str:
    if not isinstance(value, dict):
        return "<name>"
    return "<stations>" if {"stations", "at positions", "from stop"} & set(value) else "<again>"


def _reads_list(value: Any) -> Any:
    if value is None or (isinstance(value, list) and not value):
        raise fail(f"a list of what is read is expected, not {shown(value)}", "for example [grid, again: [A1, E7]]")
    if isinstance(value, dict) and not {"stations", "again"} & set(value):
        raise fail("a list of what is read is expected, not a mapping", "for example [grid, again: [A1, E7]]")
    return value if isinstance(value, list) else [value]


ReadItem = Annotated[
    Annotated[StationItem, Tag("<name>")]
    | Annotated[AgainKeys, Tag("<again>")]
    | Annotated[StationsReadKeys, Tag("<stations>")],
    Discriminator(_tag),
]
ReadsList = Annotated[list[ReadItem], BeforeValidator(_reads_list), ListOrOne()]
