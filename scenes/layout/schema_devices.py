"""Keys of emitters, bases, prisms, stages and vials, for the catalogue and for a layout that overrides them."""

from __future__ import annotations

from dataclasses import MISSING, fields
from typing import Annotated

from pydantic import Field

from ..model.devices import Emitter, Prism, RotaryBase, Stage, Vial
from .keys import Keys
from .names import KindName
from .quantities import Angle, AngleKnown, DriftRate, LengthAtOneMetre, LengthKnown, Share, Size
from .values import Number, Words

__all__ = [
    "About",
    "BaseFields",
    "BaseKeys",
    "BaseKind",
    "EmitterFields",
    "EmitterKeys",
    "EmitterKind",
    "PrismFields",
    "PrismKeys",
    "PrismKind",
    "StageFields",
    "StageKeys",
    "StageKind",
    "VialFields",
    "VialKeys",
    "VialKind",
    "defaulted",
]

About = Annotated[str, Words("a remark", longest=600)]


def defaulted(device: type) -> frozenset[str]:
    """Fields of a dataclass of the model that have a default; a catalogue may leave them out."""
    return frozenset(each.name for each in fields(device) if each.default is not MISSING)


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
    pointing: AngleKnown | None = Field(
        None,
        description="Standard uncertainty of the direction of the beam against its housing: base and sides, or shank.",
        examples=["20 arcsec"],
    )
    parallel_offset: LengthKnown | None = Field(
        None, description="Standard uncertainty of the place of the beam against its housing.", examples=["20 um"]
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


class PrismFields(Keys):
    """Data of a pentaprism in a turnable nose."""

    aperture: Size | None = Field(
        None, description="Clear side of its entrance and exit faces, beam square to them.", examples=["30 mm"]
    )
    index: Annotated[float | None, Number(1.0, 4.0)] = Field(
        None, description="Refractive index of its glass.", examples=["1.515"]
    )
    height: LengthKnown | None = Field(
        None, description="Crossing of the incoming and the exit axis above the foot of its mount.", examples=["60 mm"]
    )
    passes: Share | None = Field(None, description="Share of the light that leaves it.", examples=["90 %"])
    mirror: Angle | None = Field(
        None, description="Angle between its mirrors less 45 degrees, best value.", examples=["0 arcsec"]
    )
    mirror_known_to: AngleKnown | None = Field(
        None, description="Standard uncertainty of that angle.", examples=["1 arcsec"]
    )
    pyramid: Angle | None = Field(
        None, description="Tilt of a mirror out of the principal section, best value.", examples=["0 arcsec"]
    )
    pyramid_known_to: AngleKnown | None = Field(
        None, description="Standard uncertainty of that tilt.", examples=["5 arcsec"]
    )
    axis_known_to: AngleKnown | None = Field(
        None, description="Standard uncertainty of the turning axis against the beam, either way.", examples=["1 mrad"]
    )
    turn_known_to: AngleKnown | None = Field(
        None, description="Standard uncertainty of the turn to which a fixed line is set.", examples=["1 mrad"]
    )


class StageFields(Keys):
    """Data of a stage."""

    height: LengthKnown | None = Field(None, description="Emitter's mounting side above its foot.", examples=["60 mm"])
    shift_range: Size | None = Field(None, description="Largest shift either way.", examples=["6 mm"])
    tilt_range: AngleKnown | None = Field(None, description="Largest tilt either way.", examples=["1 deg"])
    screw_pitch: LengthKnown | None = Field(
        None, description="Shift for one turn of a screw; 0 mm: not stated.", examples=["0.5 mm"]
    )
    lever: LengthKnown | None = Field(
        None, description="Distance of a tilt screw from its pivot; 0 mm: not stated.", examples=["80 mm"]
    )


class VialFields(Keys):
    """Data of a spirit level."""

    sensitivity: AngleKnown | None = Field(
        None, description="Standard uncertainty of one setting of the bubble.", examples=["4 um/m"]
    )
    zero_known_to: AngleKnown | None = Field(
        None, description="Standard uncertainty of its zero; reversal takes it out.", examples=["20 um/m"]
    )


class EmitterKind(EmitterFields):
    """A kind of emitter in a catalogue."""

    called = "an emitter of a catalogue"
    complete = True
    optional = defaulted(Emitter)
    about: About = Field("", description="A remark for people.")


class BaseKind(BaseFields):
    """A kind of rotary base in a catalogue."""

    called = "a rotary base of a catalogue"
    complete = True
    optional = defaulted(RotaryBase)
    about: About = Field("", description="A remark for people.")


class PrismKind(PrismFields):
    """A kind of prism in a catalogue."""

    called = "a prism of a catalogue"
    complete = True
    optional = defaulted(Prism)
    about: About = Field("", description="A remark for people.")


class StageKind(StageFields):
    """A kind of stage in a catalogue."""

    called = "a stage of a catalogue"
    complete = True
    optional = defaulted(Stage)
    about: About = Field("", description="A remark for people.")


class VialKind(VialFields):
    """A kind of spirit level in a catalogue."""

    called = "a vial of a catalogue"
    complete = True
    optional = defaulted(Vial)
    about: About = Field("", description="A remark for people.")


class EmitterKeys(EmitterFields):
    """A laser in a block or cylindrical housing; every value of its kind may be overridden here."""

    called = "an emitter"
    emitter: Annotated[str, KindName("a kind", role="emitter")] = Field(
        description="Kind of the catalogue that it is.", examples=["block"]
    )


class BaseKeys(BaseFields):
    """A base that turns the emitter; every value of its kind may be overridden here."""

    called = "a rotary base"
    rotary_base: Annotated[str, KindName("a kind", role="rotary base")] = Field(
        description="Kind of the catalogue that it is.", examples=["standard"]
    )


class PrismKeys(PrismFields):
    """A pentaprism in a turnable nose; every value of its kind may be overridden here."""

    called = "a prism"
    prism: Annotated[str, KindName("a kind", role="prism")] = Field(
        description="Kind of the catalogue that it is.", examples=["nose"]
    )


class StageKeys(StageFields):
    """Fine adjustment of an emitter; every value of its kind may be overridden here."""

    called = "a stage"
    stage: Annotated[str, KindName("a kind", role="stage")] = Field(
        description="Kind of the catalogue that it is.", examples=["four axes"]
    )


class VialKeys(VialFields):
    """A spirit level; every value of its kind may be overridden here."""

    called = "a vial"
    vial: Annotated[str, KindName("a kind", role="vial")] = Field(
        description="Kind of the catalogue that it is.", examples=["block level"]
    )
