"""Keys of mounts, for the catalogue and for a layout that overrides them."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from .keys import Keys
from .names import DeviceName
from .quantities import AngleKnown, Length, LengthKnown, Size
from .values import Words

__all__ = ["MountFields", "MountKeys", "MountKind", "MountsKeys"]

_OPTIONAL = frozenset({"side_known_to", "side_repeats", "tilts", "eccentric_known_to"})


class MountFields(Keys):
    """Data of a mount."""

    lowest: LengthKnown | None = Field(None, description="Lowest height it can be set to.", examples=["0 mm"])
    highest: LengthKnown | None = Field(None, description="Highest height it can be set to.", examples=["400 mm"])
    repeats: LengthKnown | None = Field(
        None, description="Standard uncertainty of its height from one seating to the next.", examples=["2 um"]
    )
    height_known_to: LengthKnown | None = Field(
        None, description="Standard uncertainty of its height, shared by all its seatings.", examples=["20 um"]
    )
    side_known_to: LengthKnown | None = Field(
        None, description="Standard uncertainty of its place sideways, shared by all its seatings.", examples=["20 um"]
    )
    side_repeats: LengthKnown | None = Field(
        None, description="Standard uncertainty of its place sideways from one seating to the next.", examples=["5 um"]
    )
    tilts: AngleKnown | None = Field(
        None, description="Standard uncertainty of its tilt about each axis at each seating.", examples=["20 urad"]
    )
    eccentric_known_to: LengthKnown | None = Field(
        None, description="Standard uncertainty of the middle of the target against its discs.", examples=["5 um"]
    )


class MountKind(MountFields):
    """A kind of mount in a catalogue."""

    called = "a mount of a catalogue"
    complete = True
    optional = _OPTIONAL
    about: Annotated[str, Words("a remark", longest=600)] = Field("", description="A remark for people.")


class MountsKeys(Keys):
    """Mounts of a catalogue."""

    called = "the mounts of a catalogue"
    post: MountKind | None = Field(None, description="Carries a target or a device over a surface.")
    magnet: MountKind | None = Field(None, description="Holds a target or a device to iron, also upside down.")
    bracket: MountKind | None = Field(None, description="Carries a target beside its foot.")
    discs: MountKind | None = Field(None, description="Centre a target in a bore.")
    tripod: MountKind | None = Field(None, description="Carries an emitter over the floor.")


class MountKeys(MountFields):
    """What carries a device: its kind with the height it is set to; its values may be overridden here."""

    called = "a mount"
    what: ClassVar = ("post", "magnet", "bracket", "discs", "tripod", "stage")
    post: LengthKnown | None = Field(None, description="A post, with its height.", examples=["120 mm"])
    magnet: LengthKnown | None = Field(None, description="A magnet foot, with its height.", examples=["60 mm"])
    bracket: LengthKnown | None = Field(
        None, description="A bracket, with its height; arm says how far it reaches to the side.", examples=["120 mm"]
    )
    discs: Size | None = Field(
        None, description="Centring discs in a bore, with their diameter: that of the bore.", examples=["180 mm"]
    )
    tripod: LengthKnown | None = Field(None, description="A tripod, with its height.", examples=["0.9 m"])
    stage: Annotated[str | None, DeviceName("a stage", role="stage")] = Field(
        None, description="The stage that an emitter stands on, by name; its height is part of its data.",
        examples=["four axes"],
    )  # fmt: skip
    arm: Length | None = Field(
        None, description="How far a bracket carries the target to the side of its foot.", examples=["80 mm"]
    )
