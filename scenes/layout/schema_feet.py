"""Keys of feet: where they stand and what a fitter can do at them."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from .keys import Keys
from .names import Prefix
from .quantities import Force, PointInPlane, Size
from .values import Choice, Count, Flag, listed

__all__ = ["FeetKeys"]


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
