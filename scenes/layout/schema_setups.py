"""Keys of set-ups: devices, how the beam is set, what is read."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import Discriminator, Field, Tag

from .keys import Keys
from .levelling import LevelWord
from .names import DeviceName, StationList
from .quantities import LengthKnown, Pace
from .schema_beams import DatumTarget, PlacedEmitterKeys, PrismUseKeys
from .schema_reads import ReadsList
from .values import Flag, listed

__all__ = ["MOST_THROUGH", "LevelKeys", "SetupKeys"]

MOST_THROUGH = 12
"""Targets that stand in one beam at once."""


class LevelKeys(Keys):
    """Stations that the swept plane is set by."""

    called = "the setting of the plane"
    what: ClassVar = ("pads", "three points")
    pads: StationList | None = Field(None, description="Stations on datum pads, three or more.")
    three_points: StationList | None = Field(None, description="Three stations at which equal readings are set.")


def _level_tag(value: Any) -> str:
    return "<keys>" if isinstance(value, dict) else "<word>"


Target = Annotated[str, DeviceName("a target", role="target")]
LevelBy = Annotated[
    Annotated[str, LevelWord(), Tag("<word>")] | Annotated[LevelKeys, Tag("<keys>")], Discriminator(_level_tag)
]


class SetupKeys(Keys):
    """One placement of the emitter, with what is read from it."""

    called = "a set-up"
    emitter: PlacedEmitterKeys = Field(description="The emitter, where it stands, and where its beam goes.")
    turned_by: Annotated[str | None, DeviceName("a rotary base", role="rotary base")] = Field(
        None,
        description="Rotary base under the emitter; may be left out where the layout has only one and nothing else "
        "says where the beam goes.",
    )
    level_by: LevelBy | None = Field(
        None,
        description="How the beam is set before reading: three points, best fit, vial, or pads [p1, p2, p3]; three "
        "points where left out.",
    )
    vial: Annotated[str | None, DeviceName("a vial", role="vial")] = Field(
        None, description="Spirit level of level by: vial.", examples=["block level"]
    )
    near: DatumTarget | None = Field(
        None,
        description="Near end of the base line: a station, or a target that stands in the beam.",
        examples=["{target: t1, at: {along beam: 2 m}}"],
    )
    far: DatumTarget | None = Field(
        None,
        description="Far end of the base line: a station, or a target that stands in the beam.",
        examples=["{target: t2, at: {along beam: 14 m}}"],
    )
    prism: PrismUseKeys | None = Field(None, description="The prism that turns the light square to the beam.")
    through: Annotated[list[Target], listed(1, MOST_THROUGH, f"a list of 1 to {MOST_THROUGH} targets")] | None = Field(
        None,
        description="Targets that stand in the beam at once; the stations are read in batches of that many.",
        examples=["[t1, t2, t3]"],
    )
    reversed: Annotated[bool, Flag()] = Field(
        False,
        description="true where everything is read a second time with emitter, prism or vial turned by half a turn.",
    )
    reads: ReadsList = Field(
        description="What is read, in order: groups, stations, ranges such as A1..A7, again: [...] for re-readings, "
        "{stations: ..., at positions: [...]} on moving parts, {stations: ..., from stop: ...} with a prism.",
        examples=["[grid, again: [A1, E7]]"],
    )
    centred_within: LengthKnown = Field(
        1.0e-3, description="How near the crew brings the spot to the middle sideways.", examples=["1 mm"]
    )
    pace: Pace = Field(60.0, description="Planned time per reading.", examples=["1 min"])
