"""Keys of feet: where they stand and what a fitter can do at them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field, ValidationInfo

from .context import fail
from .keys import Keys
from .names import Prefix
from .quantities import Force, LengthKnown, PointInPlane, Share, Size
from .values import Choice, Count, Flag, Validated, Words, listed

__all__ = ["FeetKeys", "InfluenceValue"]


MODELS = ("plate", "beam", "rigid")


@dataclass(frozen=True)
class InfluenceValue(Validated):
    """A model of the influence by its name, or the file of one that was measured: ``{measured: influence.csv}``."""

    def read(self, value: Any, info: ValidationInfo) -> str | tuple[str, str]:
        """Name of the model, or ``("measured", file)``."""
        advice = "for example {measured: influence.csv}, a CSV file beside the layout"
        if value == "measured":
            raise fail("a measured influence needs its file", advice)
        if not isinstance(value, dict):
            return Choice(MODELS).read(value, info)
        if list(value) != ["measured"]:
            raise fail(f"a measured influence has one key, measured; here stand {', '.join(map(str, value))}", advice)
        return "measured", Words("a file name").read(value["measured"], info)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: a word or a mapping."""
        file = Words("a file name").schema()
        mapping = {"type": "object", "properties": {"measured": file}, "required": ["measured"],
                   "additionalProperties": False}  # fmt: skip
        return {"anyOf": [{"enum": list(MODELS)}, mapping]}


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
    influence: Annotated[str | tuple[str, str], InfluenceValue()] = Field(
        "plate",
        description="How the surface follows a move of one foot: it bends as plate or beam, stays rigid, or does as it "
        "was measured.",
    )
    influence_known_to: Share | None = Field(
        None,
        description="Standard uncertainty of the influence, as a share of what bends; 20 % of a model, 5 % of a "
        "measured one where left out (common practice).",
        examples=["20 %"],
    )
    shim_known_to: LengthKnown = Field(
        5e-6,
        description="Standard uncertainty of one move: tolerance of the shims, reading of the jack (common practice).",
        examples=["5 um"],
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
