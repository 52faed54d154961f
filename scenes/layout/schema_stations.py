"""Keys of groups of stations."""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, Field, WithJsonSchema

from .context import fail, shown
from .json_words import ListOrOne
from .keys import Keys
from .names import DeviceName, Prefix, SurfaceName
from .quantities import Angle, Length, LengthKnown, PointInPlane, Size
from .schema_devices import MountKeys
from .values import Count

__all__ = ["MOST_STATIONS", "CircleKeys", "LineKeys", "StationsKeys"]

MOST_STATIONS = 5000


def _rows_of_grid(value: Any) -> tuple[int, int]:
    found = re.fullmatch(r"\s*(\d{1,4})\s*[xX×]\s*(\d{1,4})\s*", value, re.ASCII) if isinstance(value, str) else None
    if found is None:
        raise fail(f"a grid such as 7 x 5 is expected, not {shown(value)}", "along the length x along the width")
    along, across = int(found[1]), int(found[2])
    if not (along >= 1 and across >= 1 and 2 <= along * across <= MOST_STATIONS):
        raise fail(f"a grid of 2 to {MOST_STATIONS} stations is expected, not {shown(value)}", "for example 7 x 5")
    return along, across


def _one_or_two(value: Any) -> Any:
    if isinstance(value, (list, tuple)) and len(value) != 2:
        raise fail(f"one margin or two [along x, along y] are expected, not a list of {len(value)}")
    return value if isinstance(value, list) else [value, value]


def _plane_or_space(value: Any) -> Any:
    if not isinstance(value, list) or len(value) not in (2, 3):
        found = f"a list of {len(value)}" if isinstance(value, list) else shown(value)
        raise fail(f"a place [x, y] or [x, y, z] is expected, not {found}", "for example [120 mm, -80 mm]")
    return value


def _some_places(value: Any) -> Any:
    if not isinstance(value, dict) or not value:
        raise fail(f"named places are expected, not {shown(value)}", "for example {P1: [0.2 m, 0.1 m]}")
    return value


Grid = Annotated[
    tuple[int, int],
    BeforeValidator(_rows_of_grid),
    WithJsonSchema({"type": "string", "pattern": r"^\s*\d+\s*[xX×]\s*\d+\s*$", "examples": ["7 x 5"]}),
]
Place = Annotated[list[Length], BeforeValidator(_plane_or_space)]
Margin = Annotated[list[LengthKnown], BeforeValidator(_one_or_two), ListOrOne()]


class LineKeys(Keys):
    """Stations along a straight line of a surface, from one place to another."""

    called = "a line of stations"
    from_: PointInPlane = Field(description="Place of the first station.", examples=["[-1 m, 0 m]"])
    to: PointInPlane = Field(description="Where the line ends.", examples=["[1 m, 0 m]"])
    count: Annotated[int | None, Count(2, MOST_STATIONS)] = Field(
        None, description="Number of stations, both ends included."
    )
    every: Size | None = Field(
        None, description="Spacing instead of a number; the last station is the last that fits.", examples=["250 mm"]
    )


class CircleKeys(Keys):
    """Stations evenly around a circle about the middle of a surface."""

    called = "a circle of stations"
    radius: Size = Field(description="Radius of the circle.", examples=["500 mm"])
    count: Annotated[int, Count(3, MOST_STATIONS)] = Field(description="Number of stations.", examples=["8"])
    start: Angle = Field(0.0, description="Where the first one stands, counted from x towards y.", examples=["0 deg"])


class StationsKeys(Keys):
    """A group of stations on one surface: a grid, named places, a line or a circle."""

    called = "a station group"
    what: ClassVar = ("grid", "at", "line", "circle")
    later: ClassVar = ("every", "in", "clock")
    on: SurfaceName = Field(description="The plate or face that they are on.", examples=["bed"])
    grid: Grid | None = Field(
        None,
        description="Stations along the length x along the width of a plate, e.g. 7 x 5. The letter of a name is the "
        "row along the width, A at -y; the number counts along the length, 1 at -x: A1 .. A7, B1 .. B7, ...",
    )
    margin: Margin | None = Field(
        None, description="From the edges of the plate to the outer stations of a grid: one length, or [x, y].",
        examples=["100 mm"],
    )  # fmt: skip
    at: Annotated[dict[str, Place], BeforeValidator(_some_places)] | None = Field(
        None, description="Named places in the frame of the surface: name -> [x, y] or [x, y, z]."
    )
    line: LineKeys | None = Field(None, description="Places along a straight line.")
    circle: CircleKeys | None = Field(None, description="Places around a circle.")
    target: Annotated[str | None, DeviceName("a target", role="target")] = Field(
        None, description="Target that is read there; may be left out where the layout has only one."
    )
    mount: MountKeys = Field(description="What carries the target.", examples=["{post: 120 mm}"])
    names: Annotated[str | None, Prefix("letters")] = Field(
        None, description="Letters that the names start with; a line has L, a circle C, a grid none where left out."
    )
