"""Keys of stations, set-ups, tasks, feet and readings."""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, Discriminator, Field, Tag, WithJsonSchema

from .context import fail, shown
from .json_words import ListOrOne
from .keys import Keys
from .levelling import LevelWord
from .names import CarrierName, DeviceName, Prefix, StationItem, StationList, SurfaceName
from .quantities import (
    Angle,
    Choice,
    Count,
    Flag,
    Length,
    LengthKnown,
    Number,
    Pace,
    Point,
    PointInPlane,
    Size,
    Words,
    listed,
)
from .schema_devices import MountKeys

__all__ = [
    "AgainKeys",
    "CircleKeys",
    "FeetKeys",
    "FlatnessKeys",
    "LevelKeys",
    "LineKeys",
    "PlacedEmitterKeys",
    "ReadingsKeys",
    "SetupKeys",
    "SignKeys",
    "StationsKeys",
]

MOST_STATIONS = 5000
QUANTITIES_LATER = (
    "straightness", "levelness", "parallelism", "squareness", "coaxiality", "concentricity", "direction", "twist",
    "spacing", "cross level",
)  # fmt: skip
"""Quantities of the language that this version does not compute."""


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


class PlacedEmitterKeys(Keys):
    """Which emitter is used, and where it stands."""

    called = "the emitter of a set-up"
    later: ClassVar = ("aim", "in front of", "distance")
    use: Annotated[str, DeviceName("an emitter", role="emitter")] = Field(
        description="Name of the emitter.", examples=["laser"]
    )
    on: CarrierName = Field("floor", description="What its mount stands on: a surface, or floor.")
    at: Point = Field(description="Foot of the mount in the frame of what it stands on.", examples=["[-2 m, 0 m, 0 m]"])
    mount: MountKeys = Field(description="What carries it.", examples=["{tripod: 0.9 m}"])


class LevelKeys(Keys):
    """Stations that the swept plane is set by."""

    called = "the setting of the plane"
    what: ClassVar = ("pads", "three points")
    pads: StationList | None = Field(None, description="Stations on datum pads, three or more.")
    three_points: StationList | None = Field(None, description="Three stations at which equal readings are set.")


class AgainKeys(Keys):
    """Stations that are read once more at the end."""

    called = "a re-reading"
    again: StationList = Field(description="Stations, ranges or groups that are read once more.", examples=["[A1]"])


def _read_tag(value: Any) -> str:
    return "<again>" if isinstance(value, dict) else "<name>"


def _level_tag(value: Any) -> str:
    return "<keys>" if isinstance(value, dict) else "<word>"


def _reads_list(value: Any) -> Any:
    if value is None or isinstance(value, dict) or (isinstance(value, list) and not value):
        raise fail(f"a list of what is read is expected, not {shown(value)}", "for example [grid, again: [A1, E7]]")
    return value if isinstance(value, list) else [value]


ReadItem = Annotated[
    Annotated[StationItem, Tag("<name>")] | Annotated[AgainKeys, Tag("<again>")], Discriminator(_read_tag)
]
LevelBy = Annotated[
    Annotated[str, LevelWord(), Tag("<word>")] | Annotated[LevelKeys, Tag("<keys>")], Discriminator(_level_tag)
]


class SetupKeys(Keys):
    """One placement of emitter and base, with what is read from it."""

    called = "a set-up"
    later: ClassVar = ("prism", "near", "far", "through", "reversed", "stage")
    emitter: PlacedEmitterKeys = Field(description="The emitter and where it stands.")
    turned_by: Annotated[str | None, DeviceName("a rotary base", role="rotary base")] = Field(
        None, description="Rotary base under the emitter; may be left out where the layout has only one."
    )
    level_by: LevelBy = Field(
        "three points",
        description="How the swept plane is set before reading: three points, best fit, vial, or pads [p1, p2, p3].",
    )
    reads: Annotated[list[ReadItem], BeforeValidator(_reads_list), ListOrOne()] = Field(
        description="What is read, in order: groups, stations, ranges such as A1..A7, again: [...] for re-readings.",
        examples=["[grid, again: [A1, E7]]"],
    )
    centred_within: LengthKnown = Field(
        1.0e-3, description="How near the crew brings the spot to the middle sideways.", examples=["1 mm"]
    )
    pace: Pace = Field(60.0, description="Planned time per reading.", examples=["1 min"])


class FlatnessKeys(Keys):
    """Flatness of a surface."""

    called = "a task"
    what: ClassVar = ("flatness",)
    later: ClassVar = QUANTITIES_LATER
    flatness: SurfaceName | None = Field(None, description="The surface whose flatness is asked for.", examples=["bed"])
    from_: StationList | None = Field(
        None, description="Stations, ranges or groups it is judged from; all on the surface where left out."
    )
    reference: Annotated[str, Choice(("minimum zone", "least squares", "three points"))] = Field(
        "minimum zone", description="Reference plane that deviations are counted from (ISO 12781-1)."
    )
    datum: StationList | None = Field(
        None, description="The three stations that carry a three-point reference.", examples=["[A1, A7, E4]"]
    )
    limit: Size = Field(description="Largest allowed flatness deviation.", examples=["60 um"])
    rule: Annotated[str, Choice(("guard band", "simple acceptance"))] = Field(
        "guard band", description="How the verdict treats uncertainty (ISO 14253-1)."
    )
    cone: Annotated[str, Choice(("as stated", "fitted"))] = Field(
        "as stated", description="Cone angle of the base: taken as stated, or solved for together with the surface."
    )
    coverage: Annotated[float, Number(1.0, 4.0)] = Field(2.0, description="Coverage factor k of the uncertainty U.")


class FeetKeys(Keys):
    """The feet of a surface and what a fitter can do at them."""

    called = "the feet of a surface"
    at: Annotated[list[PointInPlane], listed(3, 12, "a list of 3 to 12 places [x, y]")] = Field(
        description="Places in the frame of the surface.", examples=["[[-1 m, -0.5 m], [1 m, -0.5 m], [0 m, 0.5 m]]"]
    )
    names: Annotated[list[Annotated[str, Prefix("a name")]], listed(3, 12, "a list of names, one per foot,")] | None = (
        Field(None, description="Names of the feet in the same order; F1, F2, ... where left out.")
    )
    add_only: Annotated[bool, Flag()] = Field(False, description="true where shims can only be added.")
    travel: Size = Field(description="Largest move of a foot.", examples=["2 mm"])
    stock: Annotated[list[Size], listed(1, 40, "a list of thicknesses")] | None = Field(
        None, description="Shim thicknesses at hand; any thickness where left out."
    )
    most_pieces: Annotated[int, Count(1, 20)] = Field(4, description="Shims that may lie under one foot.")
    influence: Annotated[str, Choice(("plate", "beam", "rigid"), later=("measured",))] = Field(
        "plate", description="How the surface follows a move of one foot: it bends as plate or beam, or stays rigid."
    )
    effective_thickness: Size | None = Field(
        None, description="Thickness of the solid plate or beam that bends like the real one; its own where left out."
    )


class SignKeys(Keys):
    """What a plus sign in the readings means."""

    called = "the signs of readings"
    v: Annotated[str, Choice(("spot up", "target up"))] = Field(
        "spot up", description="+ v: the spot stands above the middle of the target, or the target above the beam."
    )
    h: Annotated[str, Choice(("spot right", "target right"))] = Field(
        "spot right", description="+ h: the spot stands right of the middle, or the target right of the beam."
    )


class ColumnsKeys(Keys):
    """Own column names, each with its header in the file."""

    called = "the columns of readings"
    later: ClassVar = ("target", "pitch", "yaw", "clock", "position")
    visit: Annotated[str | None, Words("a header")] = Field(None, description="As found, as left or a named visit.")
    setup: Annotated[str | None, Words("a header")] = Field(None, description="Name of the set-up.")
    station: Annotated[str | None, Words("a header")] = Field(None, description="Name of the station.", examples=["Pt"])
    h: Annotated[str | None, Words("a header")] = Field(None, description="Reading to the side; unit in the header.")
    v: Annotated[str | None, Words("a header")] = Field(
        None, description="Reading of height; unit in the header.", examples=["Height [um]"]
    )
    time: Annotated[str | None, Words("a header")] = Field(None, description="When it was read.")
    mount_offset: Annotated[str | None, Words("a header")] = Field(
        None, description="What the mount was higher than the layout says."
    )
    note: Annotated[str | None, Words("a header")] = Field(None, description="Remark of the crew.", examples=["Remark"])


class ReadingsKeys(Keys):
    """How a table of readings is read."""

    called = "the readings section"
    columns: ColumnsKeys | None = Field(None, description="Own column name -> header in the file.")
    signs: SignKeys | None = Field(None, description="What a plus sign means.")
