"""Keys of where a beam starts and where it goes: emitter, near and far targets, prism."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Discriminator, Field, Tag

from .context import fail, shown
from .directions import Direction
from .keys import Keys
from .names import CarrierName, DeviceName, StationItem, SurfaceName, why_no_name
from .quantities import Angle, AngleKnown, LengthKnown, Point, Size
from .schema_mounts import MountKeys
from .values import Flag, listed

__all__ = ["AlongKeys", "DatumKeys", "DatumTarget", "PlacedEmitterKeys", "PrismUseKeys"]


class PlacedEmitterKeys(Keys):
    """Which emitter is used, where it stands, and where its beam goes if no base turns it."""

    called = "the emitter of a set-up"
    use: Annotated[str, DeviceName("an emitter", role="emitter")] = Field(
        description="Name of the emitter.", examples=["laser"]
    )
    on: CarrierName = Field("floor", description="What its mount stands on: a surface, or floor.")
    at: Point | None = Field(
        None, description="Foot of the mount in the frame of what it stands on.", examples=["[-2 m, 0 m, 0 m]"]
    )
    aim: Annotated[tuple[float, float, float] | None, Direction()] = Field(
        None, description="Direction of the beam in that frame: +x, -y, up ... or three numbers.", examples=["+x"]
    )
    mount: MountKeys | None = Field(
        None, description="What carries it; it stands there itself where left out.", examples=["{tripod: 0.9 m}"]
    )
    in_front_of: SurfaceName | None = Field(
        None, description="The bore along whose axis the beam runs, instead of at and aim.", examples=["barrel"]
    )
    distance: Size | None = Field(
        None, description="From the entrance of that bore to where the beam starts.", examples=["0.8 m"]
    )
    in_: SurfaceName | None = Field(
        None, description="The face or roll that turns with the emitter in it, its beam out of the face.",
        examples=["spindle"],
    )  # fmt: skip
    clock: Annotated[list[Angle], listed(2, 36, "a list of 2 to 36 turns")] | None = Field(
        None, description="Turns of that face or roll at which everything is read.",
        examples=["[0 deg, 90 deg, 180 deg, 270 deg]"],
    )  # fmt: skip
    wander: LengthKnown = Field(
        0.0, description="Standard uncertainty of where its bearings put the axis at each turn, either way.",
        examples=["0.5 um"],
    )  # fmt: skip
    wander_tilt: AngleKnown = Field(0.0, description="The same in the direction of the axis.", examples=["2 urad"])


class AlongKeys(Keys):
    """A place on the beam."""

    called = "a place on the beam"
    along_beam: Size = Field(description="Distance from where the beam leaves the emitter.", examples=["2 m"])


class DatumKeys(Keys):
    """A target that stands in the beam by itself and marks the base line."""

    called = "a target of the base line"
    target: Annotated[str | None, DeviceName("a target", role="target")] = Field(
        None, description="Target that stands there; may be left out where the layout has only one.", examples=["t1"]
    )
    at: AlongKeys = Field(description="Where it stands on the beam.", examples=["{along beam: 2 m}"])
    mount: MountKeys | None = Field(None, description="What carries it; nothing where left out.")


def _datum_tag(value: Any) -> str:
    return "<keys>" if isinstance(value, dict) else "<name>"


DatumTarget = Annotated[
    Annotated[StationItem, Tag("<name>")] | Annotated[DatumKeys, Tag("<keys>")], Discriminator(_datum_tag)
]


def _some_stops(value: Any) -> Any:
    if not isinstance(value, dict) or not value:
        raise fail(f"named stops are expected, not {shown(value)}", "for example {at roll_1: 3 m, at roll_2: 5.4 m}")
    for name in value:
        if why := why_no_name(name):
            raise fail(f"{shown(name)} cannot be the name of a stop", why)
    return value


class PrismUseKeys(Keys):
    """Where the prism stands in the beam, and where it sends the light."""

    called = "the prism of a set-up"
    what = ("at", "stops")
    use: Annotated[str, DeviceName("a prism", role="prism")] = Field(
        description="Name of the prism.", examples=["nose"]
    )
    at: AlongKeys | None = Field(None, description="Where it stands on the beam.", examples=["{along beam: 1.3 m}"])
    stops: Annotated[dict[str, Size], BeforeValidator(_some_stops)] | None = Field(
        None, description="Places along the beam to which it is carried: name -> distance from the emitter.",
        examples=["{at roll_1: 3 m, at roll_2: 5.4 m}"],
    )  # fmt: skip
    turned: Angle | None = Field(
        None,
        description="Turn of the nose about the beam, right-handed along it; at 0 deg the light leaves toward the up "
        "of what the emitter stands on.",
        examples=["90 deg"],
    )
    toward: Annotated[tuple[float, float, float] | None, Direction()] = Field(
        None, description="Direction of the light instead of turned, in the frame of what the emitter stands on.",
        examples=["up"],
    )  # fmt: skip
    sweeps: Annotated[bool, Flag()] = Field(
        False, description="true where the nose is turned to every station, so that the light sweeps a plane."
    )
    centred_within: LengthKnown = Field(
        0.1e-3,
        description="Standard uncertainty of the beam's distance from the turning axis, either way.",
        examples=["0.05 mm"],
    )
