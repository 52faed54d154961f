"""Keys of tasks, feet and readings: what is asked, what can be done, how tables are read."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from .keys import Keys
from .names import Prefix, StationList, SurfaceName
from .quantities import Force, PointInPlane, Size
from .values import Choice, Count, Flag, Number, Words, listed

__all__ = ["ColumnsKeys", "FeetKeys", "FlatnessKeys", "ReadingsKeys", "SignKeys"]

QUANTITIES_LATER = (
    "straightness", "levelness", "parallelism", "squareness", "coaxiality", "concentricity", "direction", "twist",
    "spacing", "cross level",
)  # fmt: skip
"""Quantities of the language that this version does not compute."""


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
    weight: Force | None = Field(
        None,
        description="All that stands on the feet, as a force or as a mass that is weighed; where left out, the surface "
        "alone as a solid body of its material.",
        examples=["600 kN", "60 t"],
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
