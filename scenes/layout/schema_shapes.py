"""Keys of the shapes of machine surfaces: what a surface is, with its sizes and its frame."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from .context import fail, shown
from .keys import Keys
from .quantities import LengthKnown, Size, UnitName
from .values import Choice, Words

__all__ = [
    "BoreKeys",
    "ColumnKeys",
    "FaceKeys",
    "MeshKeys",
    "PlateKeys",
    "PlatensKeys",
    "RailKeys",
    "RollKeys",
    "SectionKeys",
]


class PlateKeys(Keys):
    """Rectangular plate; its frame is the middle of the measured side, x along the length, z out of the side."""

    called = "a plate"
    length: Size = Field(description="Size along x.", examples=["3000 mm"])
    width: Size = Field(description="Size along y.", examples=["1800 mm"])
    thickness: Size = Field(description="Size under the measured side.", examples=["350 mm"])


class PlatensKeys(Keys):
    """A pair of plates that face each other; ``press`` gives the surfaces ``press lower`` and ``press upper``.

    The frame is that of the lower one: the middle of its measured side, z out of it. The upper one faces against it
    with the same x.
    """

    called = "a pair of platens"
    length: Size = Field(description="Size along x.", examples=["1600 mm"])
    width: Size = Field(description="Size along y.", examples=["1400 mm"])
    thickness: Size = Field(description="Size of each behind its measured side.", examples=["80 mm"])
    gap: Size = Field(
        description="Between the two measured sides; where the upper one moves, at a position of 0 mm.",
        examples=["300 mm"],
    )


class ColumnKeys(Keys):
    """Box column; its frame is the middle of its foot, z along the height."""

    called = "a column"
    length: Size = Field(description="Size along x.", examples=["420 mm"])
    width: Size = Field(description="Size along y.", examples=["420 mm"])
    height: Size = Field(description="Size along z.", examples=["3.1 m"])


class FaceKeys(Keys):
    """Round face of a flange, table or hub; its frame is the middle of the face, z out of it."""

    called = "a face"
    diameter: Size = Field(description="Outer diameter.", examples=["1.2 m"])
    bore: LengthKnown = Field(0.0, description="Diameter of the hole in the middle; 0 mm: none.", examples=["400 mm"])
    thickness: Size = Field(description="Size behind the face.", examples=["80 mm"])


class RailKeys(Keys):
    """Rail or way; its frame is the middle of the top at its start, x along the rail, z out of the top."""

    called = "a rail"
    length: Size = Field(description="Size along x, from its start.", examples=["30 m"])
    width: Size = Field(description="Size along y.", examples=["80 mm"])
    height: Size = Field(description="Size under the top.", examples=["100 mm"])
    guide: Annotated[str, Choice(("+y", "-y"))] = Field("+y", description="Side that guides sideways: +y or -y.")


class RollKeys(Keys):
    """Roll; its frame is the middle of its axis, z along the axis from its near end to its far end."""

    called = "a roll"
    diameter: Size = Field(description="Diameter of its face.", examples=["400 mm"])
    face: Size = Field(description="Length of its face along the axis.", examples=["3200 mm"])


class SectionKeys(Keys):
    """One bore of several on an axis."""

    called = "a section of a bore"
    diameter: Size = Field(description="Diameter of this bore.", examples=["180 mm"])
    from_: LengthKnown = Field(description="Where it starts along the axis, counted from the entrance.")
    to: Size = Field(description="Where it ends along the axis, counted from the entrance.")


def _some_sections(value: Any) -> Any:
    if not isinstance(value, list) or not value:
        example = "for example [{diameter: 180 mm, from: 0 m, to: 1.2 m}]"
        raise fail(f"a list of sections is expected, not {shown(value)}", example)
    return value


class BoreKeys(Keys):
    """Bore, or several on one axis; its frame is the middle of the entrance, z along the axis into the bore."""

    called = "a bore"
    diameter: Size | None = Field(None, description="Diameter of a plain bore.", examples=["180 mm"])
    length: Size | None = Field(None, description="Length of a plain bore.", examples=["6 m"])
    sections: Annotated[list[SectionKeys], BeforeValidator(_some_sections)] | None = Field(
        None, description="Bores on one axis in place of diameter and length, such as the bearings of a line."
    )
    wall: Size | None = Field(
        None, description="Material around the bore, as drawn and in the way of light: a fifth of its diameter.",
        examples=["40 mm"],
    )  # fmt: skip


class MeshKeys(Keys):
    """A part from a file of triangles (STL, OBJ, PLY, glTF); its frame is that of the file, z up for glTF as well."""

    called = "a mesh"
    file: Annotated[str, Words("the name of a file")] = Field(
        description="File beside the layout: .stl, .obj, .ply, .gltf or .glb.", examples=["guard.stl"]
    )
    unit: Annotated[str | None, UnitName("length")] = Field(
        None, description="Unit of its coordinates; may be left out for glTF only, which is in metres by its standard."
    )
