"""Keys of bearings: where an axis is held, and what a fitter can do there."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from .context import fail, shown
from .json_words import ListOrOne
from .keys import Keys
from .names import Prefix
from .quantities import Length, LengthKnown, Size
from .values import Count, Flag, listed

__all__ = ["BearingsKeys", "PlayKeys"]


def _names(value: Any) -> Any:
    if isinstance(value, dict):
        raise fail(f"a name or a list of names is expected, not {shown(value)}")
    return value if isinstance(value, list) else [value]


class PlayKeys(Keys):
    """What can be done to a bearing in one direction."""

    called = "the moves of a bearing"
    travel: Size = Field(description="Largest move.", examples=["3 mm"])
    add_only: Annotated[bool, Flag()] = Field(False, description="true where shims can only be added.")
    stock: Annotated[list[Size], listed(1, 40, "a list of thicknesses")] | None = Field(
        None, description="Shim thicknesses at hand; any move where left out."
    )
    most_pieces: Annotated[int, Count(1, 20)] = Field(4, description="Shims that may lie under one bearing.")
    shim_known_to: LengthKnown = Field(
        5e-6, description="Standard uncertainty of one move (common practice).", examples=["5 um"]
    )


class BearingsKeys(Keys):
    """The two bearings that hold a roll, a shaft or a bore."""

    called = "the bearings of a part"
    at: dict[str, Length] = Field(
        description="Places of both along the axis, in the frame of the part: from the middle of a roll, from the "
        "entrance of a bore.",
        examples=["{drive: -1.4 m, tending: 1.4 m}"],
    )
    fixed: Annotated[list[Annotated[str, Prefix("a name")]], BeforeValidator(_names), ListOrOne()] | None = Field(
        None, description="Bearings that stay where they are."
    )
    up: PlayKeys | None = Field(None, description="Moves up, square to the axis.")
    side: PlayKeys | None = Field(None, description="Level moves; + is to the left of the axis, seen along it.")
