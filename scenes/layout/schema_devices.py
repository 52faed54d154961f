"""Keys of devices and mounts, for the catalogue (all must be there) and for a layout (any may be overridden)."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from .keys import Keys
from .names import KindName
from .quantities import Angle, AngleKnown, DriftRate, LengthAtOneMetre, LengthKnown, PointInPlane, Ratio, Size
from .values import Words, listed

__all__ = [
    "ROLES_LATER",
    "BaseFields",
    "BaseKeys",
    "BaseKind",
    "EmitterFields",
    "EmitterKeys",
    "EmitterKind",
    "MountFields",
    "MountKeys",
    "MountKind",
    "MountsKeys",
    "TargetFields",
    "TargetKeys",
    "TargetKind",
]

ROLES_LATER = ("prism", "stage", "see-through target", "bore target", "angle target", "vial")
"""Devices of the language that this version does not compute."""

_About = Annotated[str, Words("a remark", longest=600)]


class EmitterFields(Keys):
    """Data of an emitter."""

    wavelength: Size | None = Field(None, description="Wavelength of the light.", examples=["635 nm"])
    waist_radius: Size | None = Field(None, description="Radius of the beam at its waist (1/e2).", examples=["3 mm"])
    beam_height: LengthKnown | None = Field(None, description="Beam above the mounting side.", examples=["45 mm"])
    nearest: LengthKnown | None = Field(None, description="Shortest usable distance.", examples=["80 mm"])
    farthest: Size | None = Field(None, description="Longest usable distance.", examples=["45 m"])
    drift: DriftRate | None = Field(
        None, description="Standard uncertainty of the change of the beam's elevation with time.", examples=["3 urad/h"]
    )
    turbulence: LengthAtOneMetre | None = Field(
        None,
        description="Standard uncertainty of a reading from moving air at 1 m; grows with length to the power 1.5.",
        examples=["0.5 um"],
    )


class BaseFields(Keys):
    """Data of a rotary base."""

    height: LengthKnown | None = Field(None, description="Emitter's mounting side above its foot.", examples=["95 mm"])
    tilt_range: AngleKnown | None = Field(None, description="Largest tilt by its screws.", examples=["1 deg"])
    cone: Angle | None = Field(
        None, description="Beam not square to the axis of turning, best value; + = beam rises.", examples=["0 arcsec"]
    )
    cone_known_to: AngleKnown | None = Field(
        None, description="Standard uncertainty of the cone angle.", examples=["1 arcsec"]
    )
    wobble: AngleKnown | None = Field(
        None, description="Standard uncertainty of the beam's elevation from the bearing.", examples=["2 urad"]
    )


class TargetFields(Keys):
    """Data of a target with two axes."""

    window: Annotated[list[Size] | None, listed(2, 2, "a list of two lengths [width, height]")] = Field(
        None, description="Full width and height of the sensitive area.", examples=["[20 mm, 20 mm]"]
    )
    centre_height: LengthKnown | None = Field(None, description="Centre of the detector above its foot.")
    resolution: LengthKnown | None = Field(None, description="Standard uncertainty of one reading.", examples=["1 um"])
    linearity: Ratio | None = Field(
        None, description="Standard uncertainty of the scale, one for all readings.", examples=["0.1 %"]
    )
    zero: PointInPlane | None = Field(
        None, description="Known reading [h, v] of a centred spot; it is taken off.", examples=["[0 um, 0 um]"]
    )
    zero_known_to: LengthKnown | None = Field(None, description="Standard uncertainty of the zero.", examples=["5 um"])
    roll: AngleKnown | None = Field(
        None, description="Standard uncertainty of its roll about the beam, anew at each seating.", examples=["1 mrad"]
    )
    largest_spot: Size | None = Field(None, description="Largest beam radius that it reads well.", examples=["6 mm"])


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


class EmitterKind(EmitterFields):
    """A kind of emitter in a catalogue."""

    called = "an emitter of a catalogue"
    complete = True
    about: _About = Field("", description="A remark for people.")


class BaseKind(BaseFields):
    """A kind of rotary base in a catalogue."""

    called = "a rotary base of a catalogue"
    complete = True
    about: _About = Field("", description="A remark for people.")


class TargetKind(TargetFields):
    """A kind of target in a catalogue."""

    called = "a target of a catalogue"
    complete = True
    about: _About = Field("", description="A remark for people.")


class MountKind(MountFields):
    """A kind of mount in a catalogue."""

    called = "a mount of a catalogue"
    complete = True
    about: _About = Field("", description="A remark for people.")


class MountsKeys(Keys):
    """Mounts of a catalogue."""

    called = "the mounts of a catalogue"
    post: MountKind | None = Field(None, description="Carries a target or a device over a surface.")
    tripod: MountKind | None = Field(None, description="Carries an emitter over the floor.")


class EmitterKeys(EmitterFields):
    """A laser in a block or cylindrical housing; every value of its kind may be overridden here."""

    called = "an emitter"
    later: ClassVar = ROLES_LATER
    emitter: Annotated[str, KindName("a kind", role="emitter")] = Field(
        description="Kind of the catalogue that it is.", examples=["block"]
    )


class BaseKeys(BaseFields):
    """A base that turns the emitter; every value of its kind may be overridden here."""

    called = "a rotary base"
    later: ClassVar = ROLES_LATER
    rotary_base: Annotated[str, KindName("a kind", role="rotary base")] = Field(
        description="Kind of the catalogue that it is.", examples=["standard"]
    )


class TargetKeys(TargetFields):
    """A position-sensing detector; every value of its kind may be overridden here."""

    called = "a target"
    later: ClassVar = ROLES_LATER
    target: Annotated[str, KindName("a kind", role="target")] = Field(
        description="Kind of the catalogue that it is.", examples=["two axes"]
    )


class MountKeys(MountFields):
    """What carries a device: its kind with the height it is set to; its values may be overridden here."""

    called = "a mount"
    what: ClassVar = ("post", "tripod")
    later: ClassVar = ("bracket", "magnet", "discs", "bore adapter", "stage")
    post: LengthKnown | None = Field(None, description="A post, with its height.", examples=["120 mm"])
    tripod: LengthKnown | None = Field(None, description="A tripod, with its height.", examples=["0.9 m"])
