"""Sections of a layout file and of a catalogue file, and their JSON Schema."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, Field

from .context import fail, shown
from .json_words import ListOrOne, PlainSchema
from .keys import Keys
from .quantities import Gradient, GradientKnown, Pressure, Share, Temperature, UnitName
from .schema_bearings import BearingsKeys
from .schema_devices import (
    BaseKeys,
    BaseKind,
    EmitterKeys,
    EmitterKind,
    PrismKeys,
    PrismKind,
    StageKeys,
    StageKind,
    VialKeys,
    VialKind,
)  # fmt: skip
from .schema_feet import FeetKeys
from .schema_machine import SurfaceKeys
from .schema_mounts import MountsKeys
from .schema_readings import ReadingsKeys
from .schema_setups import SetupKeys
from .schema_stations import BoreStationsKeys, RollEndsKeys, StationsKeys
from .schema_targets import TargetKeys, TargetKind
from .schema_tasks import (
    BorePositionKeys,
    CoaxialityKeys,
    CrossLevelKeys,
    DirectionKeys,
    FlatnessKeys,
    LevelnessKeys,
    ParallelismKeys,
    RunOutKeys,
    SlopeKeys,
    SpacingKeys,
    SquarenessKeys,
    StraightnessKeys,
    TwistKeys,
)  # fmt: skip
from .values import Version, Words

__all__ = ["AirKeys", "CatalogueFile", "LayoutFile", "UnitsKeys", "json_schema"]


class UnitsKeys(Keys):
    """Units in which results are shown, and the unit of lengths written without one."""

    called = "the units section"
    length: Annotated[str, UnitName("length")] = Field("mm", description="Unit in which lengths are shown.")
    deviation: Annotated[str, UnitName("length")] = Field("um", description="Unit in which deviations are shown.")
    angle: Annotated[str, UnitName("angle")] = Field("arcsec", description="Unit in which angles are shown.")
    bare: Annotated[str | None, UnitName("length")] = Field(
        None, description="Unit of lengths that are written without one; without this key they are errors."
    )


class AirKeys(Keys):
    """The air that the beam passes."""

    called = "the air section"
    temperature: Temperature | None = Field(None, description="Its temperature.", examples=["21 degC"])
    gradient: Gradient | None = Field(
        None, description="Change of temperature with height, + = warmer above.", examples=["0.3 K/m"]
    )
    gradient_known_to: GradientKnown | None = Field(
        None, description="Standard uncertainty of the gradient.", examples=["0.2 K/m"]
    )
    pressure: Pressure | None = Field(None, description="Its pressure.", examples=["1013 hPa"])
    humidity: Share | None = Field(None, description="Its relative humidity.", examples=["50 %"])


def _file_list(value: Any) -> Any:
    if value is None or isinstance(value, dict):
        raise fail(f"a list of catalogue files is expected, not {shown(value)}", "for example [ours.yaml]")
    return value if isinstance(value, list) else [value]


AnyTask = (
    FlatnessKeys | StraightnessKeys | ParallelismKeys | SquarenessKeys | CoaxialityKeys | BorePositionKeys
    | DirectionKeys | SpacingKeys | CrossLevelKeys | LevelnessKeys | TwistKeys | SlopeKeys | RunOutKeys
)  # fmt: skip


class LayoutFile(Keys):
    """A layout: the machine, the devices, where they stand, what is read and what is asked."""

    called = "a layout"
    later: ClassVar = ("zones",)
    layout: Annotated[int, Version("layout")] = Field(description="Version of the layout language: 1.", examples=["1"])
    title: Annotated[str, Words("a title")] = Field("", description="What is surveyed, in one line.")
    units: UnitsKeys | None = Field(None, description="How quantities are shown.")
    air: AirKeys | None = Field(None, description="Temperature and its gradient.")
    catalogue: (
        Annotated[list[Annotated[str, Words("a file name")]], BeforeValidator(_file_list), ListOrOne()] | None
    ) = Field(None, description="Own catalogue files, beside this one, that add kinds of devices and mounts.")
    machine: dict[str, SurfaceKeys] = Field(description="Machine surfaces by name.", examples=["{bed: {plate: {...}}}"])
    devices: dict[str, EmitterKeys | BaseKeys | TargetKeys | PrismKeys | StageKeys | VialKeys] | None = Field(
        None, description="Emitters, rotary bases, targets, prisms, stages and vials by name."
    )
    stations: dict[str, StationsKeys | BoreStationsKeys | RollEndsKeys] | None = Field(
        None, description="Groups of stations by name: on a surface, in a bore, or at the ends of rolls."
    )
    setups: dict[str, SetupKeys] | None = Field(None, description="Set-ups by name.")
    tasks: dict[str, AnyTask] | None = Field(None, description="What is asked for, by name.")
    feet: dict[str, FeetKeys] | None = Field(None, description="Feet by the name of the surface that stands on them.")
    bearings: dict[str, BearingsKeys] | None = Field(
        None, description="Bearings by the name of the roll or bore that they hold."
    )
    readings: ReadingsKeys | None = Field(None, description="How tables of readings are read.")


class CatalogueFile(Keys):
    """A catalogue: kinds of devices and mounts by name."""

    called = "a catalogue"
    catalogue: Annotated[int, Version("catalogue")] = Field(
        description="Version of the catalogue language: 1.", examples=["1"]
    )
    emitters: dict[str, EmitterKind] | None = Field(None, description="Kinds of emitter.")
    rotary_bases: dict[str, BaseKind] | None = Field(None, description="Kinds of rotary base.")
    targets: dict[str, TargetKind] | None = Field(None, description="Kinds of target.")
    prisms: dict[str, PrismKind] | None = Field(None, description="Kinds of prism.")
    stages: dict[str, StageKind] | None = Field(None, description="Kinds of stage.")
    vials: dict[str, VialKind] | None = Field(None, description="Kinds of spirit level.")
    mounts: MountsKeys | None = Field(None, description="Kinds of mount: post, magnet, bracket, discs, tripod.")


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a layout file, for editors."""
    schema = LayoutFile.model_json_schema(by_alias=True, schema_generator=PlainSchema)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
