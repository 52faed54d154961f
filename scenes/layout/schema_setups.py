"""Keys of set-ups: where the emitter stands, how the plane is set, what is read."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, Discriminator, Field, Tag

from .context import fail, shown
from .json_words import ListOrOne
from .keys import Keys
from .levelling import LevelWord
from .names import CarrierName, DeviceName, StationItem, StationList
from .quantities import LengthKnown, Pace, Point
from .schema_devices import MountKeys

__all__ = ["AgainKeys", "LevelKeys", "PlacedEmitterKeys", "SetupKeys"]


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
