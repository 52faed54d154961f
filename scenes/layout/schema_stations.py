"""Keys of groups of stations: on a side, along a rail or a roll, in a bore, at the ends of rolls."""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, Discriminator, Field, Tag, WithJsonSchema

from .context import fail, shown
from .json_words import ListOrOne
from .keys import Keys
from .names import DeviceName, Prefix, SurfaceName
from .quantities import Angle, Length, LengthKnown, PointInPlane, Size
from .schema_mounts import MountKeys
from .values import Count, Words, listed

__all__ = [
    "ALL_POSITIONS",
    "MOST_CLOCKS",
    "MOST_STATIONS",
    "BoreStationsKeys",
    "CircleKeys",
    "GroupKeys",
    "LineKeys",
    "RollEndsKeys",
    "StationsKeys",
]

MOST_STATIONS = 5000
MOST_CLOCKS = 72
ALL_POSITIONS = "all"
"""In place of a list of positions: every one that the moving part has, in the order of the layout."""


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


def _one_or_more(what: str, example: str, most: int) -> BeforeValidator:
    """Check that a value is one entry or a list of some, all different; one becomes a list."""

    def check(value: Any) -> Any:
        entries = value if isinstance(value, list) else [value]
        if value is None or isinstance(value, dict) or not 1 <= len(entries) <= most:
            found = f"a list of {len(entries)}" if isinstance(value, list) else shown(value)
            raise fail(f"{what} is expected, not {found}", f"for example {example}")
        return entries

    return BeforeValidator(check)


def _at_tag(value: Any) -> str:
    return "<distances>" if isinstance(value, list) else "<places>"


Grid = Annotated[
    tuple[int, int],
    BeforeValidator(_rows_of_grid),
    WithJsonSchema({"type": "string", "pattern": r"^\s*\d+\s*[xX×]\s*\d+\s*$", "examples": ["7 x 5"]}),
]
Place = Annotated[list[Length], BeforeValidator(_plane_or_space)]
Margin = Annotated[list[LengthKnown], BeforeValidator(_one_or_two), ListOrOne()]
Distances = Annotated[list[LengthKnown], listed(1, MOST_STATIONS, "a list of distances such as [0.2 m, 1.1 m]")]
Places = Annotated[dict[str, Place], BeforeValidator(_some_places)]
At = Annotated[Annotated[Places, Tag("<places>")] | Annotated[Distances, Tag("<distances>")], Discriminator(_at_tag)]
Clocks = Annotated[list[Angle], _one_or_more("one clock position or a list of them", "[0 deg, 90 deg]", MOST_CLOCKS),
                   ListOrOne()]  # fmt: skip
Rolls = Annotated[list[SurfaceName], _one_or_more("a roll or a list of rolls", "[roll_1, roll_2]", 1000), ListOrOne()]
Positions = Annotated[
    list[Annotated[str, Words("the name of a position")]],
    _one_or_more("a list of positions, or all,", "[low, top]", 1000),
    ListOrOne(),
]


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


class GroupKeys(Keys):
    """What all groups of stations have."""

    called = "a station group"
    target: Annotated[str | None, DeviceName("a target", role="target")] = Field(
        None, description="Target that is read there; may be left out where the layout has only one."
    )
    mount: MountKeys = Field(description="What carries the target.", examples=["{post: 120 mm}"])
    positions: Positions | None = Field(
        None,
        description="Positions of the moving part at which all are read, or all: stations A1@low, A1@top, ... Where "
        "nothing is said they are read at the drawn position, under their plain names.",
        examples=["[low, top]"],
    )
    turned: Clocks | None = Field(
        None,
        description="Turns of the roll or round face about its axis at which all are read while the target stays where "
        "it is: stations A1@0, A1@90, ... For run-out.",
        examples=["[0 deg, 90 deg, 180 deg, 270 deg]"],
    )


class StationsKeys(GroupKeys):
    """A group of stations on one surface: a grid, named places, a line, a circle, or along a rail or roll."""

    what: ClassVar = ("grid", "at", "line", "circle", "every", "count")
    on: SurfaceName = Field(description="The surface that they are on.", examples=["bed"])
    grid: Grid | None = Field(
        None,
        description="Stations along the length x along the width of a plate, e.g. 7 x 5. The letter of a name is the "
        "row along the width, A at -y; the number counts along the length, 1 at -x: A1 .. A7, B1 .. B7, ...",
    )
    margin: Margin | None = Field(
        None,
        description="From the edges of a plate to the outer stations of a grid: one length, or [x, y]. Along a rail or "
        "roll from its ends to the first and last station: one length, or [start, end]; nought where nothing is said.",
        examples=["100 mm"],
    )
    at: At | None = Field(
        None,
        description="Named places in the frame of the surface: name -> [x, y] or [x, y, z]; with two lengths on a "
        "mesh, where it is met from above. On a rail or roll also a list of distances from its start or near end.",
    )
    line: LineKeys | None = Field(None, description="Places along a straight line.")
    circle: CircleKeys | None = Field(None, description="Places around a circle.")
    every: Size | None = Field(
        None, description="Spacing along a rail from its start, or along a roll from its near end.", examples=["1.5 m"]
    )
    count: Annotated[int | None, Count(2, MOST_STATIONS)] = Field(
        None, description="Number of stations along a rail or roll, evenly from one margin to the other."
    )
    clock: Angle | None = Field(
        None, description="Where on a roll's circumference they sit: 0 deg at the top, right-handed about its axis."
    )
    names: Annotated[str | None, Prefix("letters")] = Field(
        None,
        description="Letters that the names start with. Where left out a line has L, a circle C, a grid none; along a "
        "rail or roll they are those of the group.",
    )


class BoreStationsKeys(GroupKeys):
    """Rings of stations in a bore: one station per ring, on the axis, read at one or several clock positions."""

    called = "a group of stations in a bore"
    in_: SurfaceName = Field(description="The bore that they are in.", examples=["barrel"])
    every: Size | None = Field(None, description="Spacing along the axis from the entrance.", examples=["500 mm"])
    count: Annotated[int | None, Count(2, MOST_STATIONS)] = Field(
        None, description="Number of rings, evenly from one margin to the other."
    )
    at: Distances | None = Field(
        None,
        description="Distances from the entrance. Without at, every and count there is a ring in the middle of each "
        "section.",
    )
    margin: Margin | None = Field(
        None, description="From the entrance and the end to the outer rings: one length, or [entrance, end]; nought."
    )
    clock: Clocks | None = Field(
        None,
        description="Clock positions at which the target is read in each ring: 0 deg as it stands, right-handed about "
        "the axis.",
        examples=["[0 deg, 90 deg, 180 deg, 270 deg]"],
    )
    names: Annotated[str | None, Prefix("letters")] = Field(
        None, description="Letters that the names start with: those of the group where left out."
    )


class RollEndsKeys(GroupKeys):
    """Both ends of rolls: stations ``roll_1 near`` and ``roll_1 far``, and a group ``ends of roll_1`` for each roll."""

    called = "a group of ends of rolls"
    ends_of: Rolls = Field(description="The rolls.", examples=["[roll_1, roll_2]"])
    margin: LengthKnown | None = Field(
        None, description="From the ends of the face: 5 % of it, but not less than 100 mm, where nothing is said."
    )
    clock: Angle = Field(
        0.0, description="Where on the circumference they sit: 0 deg at the top, right-handed about the axis."
    )
