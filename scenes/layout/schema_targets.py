"""Keys of targets, for the catalogue and for a layout that overrides them."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ..model.devices import Target
from .keys import Keys
from .names import KindName
from .quantities import AngleKnown, LengthKnown, PointInPlane, Ratio, Share, Size
from .schema_devices import About, defaulted
from .values import Flag, Number, listed

__all__ = ["TargetFields", "TargetKeys", "TargetKind"]


class TargetFields(Keys):
    """Data of a target: two axes, pitch and yaw where it reads angles, its plate where light goes on through it."""

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
    angular_range: AngleKnown | None = Field(
        None, description="Largest angle of the beam to its normal that it reads well.", examples=["10 deg"]
    )
    least_light: Share | None = Field(
        None, description="Least share of the emitter's light that it reads well.", examples=["5 %"]
    )
    reach: Size | None = Field(
        None, description="Longest cable or radio distance from the emitter; none where left out.", examples=["30 m"]
    )
    reads_angles: Annotated[bool | None, Flag()] = Field(
        None, description="true where it also reads pitch and yaw of the beam."
    )
    angle_resolution: AngleKnown | None = Field(
        None, description="Standard uncertainty of one reading of an angle.", examples=["0.2 arcsec"]
    )
    angle_zero_known_to: AngleKnown | None = Field(
        None, description="Standard uncertainty of the zero of its angles.", examples=["2 arcsec"]
    )
    angle_window: AngleKnown | None = Field(
        None, description="Largest angle that it reads either way.", examples=["15 arcmin"]
    )
    step: LengthKnown | None = Field(
        None, description="Distance between its two feet along the stations; 0 mm: one foot.", examples=["200 mm"]
    )
    passes: Share | None = Field(
        None, description="Share of the light that goes on to targets behind it; 0 %: none.", examples=["80 %"]
    )
    thickness: LengthKnown | None = Field(None, description="Thickness of its glass plate.", examples=["3 mm"])
    index: Annotated[float | None, Number(1.0, 4.0)] = Field(
        None, description="Refractive index of its glass plate.", examples=["1.515"]
    )
    wedge_known_to: AngleKnown | None = Field(
        None, description="Standard uncertainty of the angle between the faces of the plate.", examples=["1 arcsec"]
    )
    plate_tilt_known_to: AngleKnown | None = Field(
        None, description="Standard uncertainty of the tilt of the plate to the beam.", examples=["5 mrad"]
    )


class TargetKind(TargetFields):
    """A kind of target in a catalogue."""

    called = "a target of a catalogue"
    complete = True
    optional = defaulted(Target)
    about: About = Field("", description="A remark for people.")


class TargetKeys(TargetFields):
    """A position-sensing detector; every value of its kind may be overridden here."""

    called = "a target"
    target: Annotated[str, KindName("a kind", role="target")] = Field(
        description="Kind of the catalogue that it is.", examples=["two axes"]
    )
