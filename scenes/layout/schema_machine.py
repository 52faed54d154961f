"""Keys of the machine section: what a surface is, and where it stands."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from ..hints import did_you_mean
from ..model.materials import MATERIALS, OTHER_NAMES
from .context import fail, shown
from .keys import Keys
from .names import CarrierName
from .quantities import Angle, LengthKnown, Point, Size
from .values import Number, Validated

__all__ = ["WAYS", "ColumnKeys", "FaceKeys", "PlateKeys", "SurfaceKeys"]

WAYS: dict[str, tuple[float, float, float]] = {
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
}
"""Words for a direction."""


class Direction:
    """A direction: one of the words of ``WAYS`` or three plain numbers."""

    def read(self, value: Any, info: ValidationInfo) -> tuple[float, float, float]:
        """Direction as written, not yet of length one."""
        if isinstance(value, str) and value in WAYS:
            return WAYS[value]
        if not isinstance(value, list) or len(value) != 3:
            words = ", ".join(WAYS)
            raise fail(f"a direction is expected, not {shown(value)}", f"one of {words}, or three numbers [x, y, z]")
        number = Number(-1e6, 1e6)
        x, y, z = (number.read(entry, info) for entry in value)
        if max(abs(x), abs(y), abs(z)) < 1e-6:
            raise fail("a direction of length zero points nowhere", "for example [0, 0, 1]")
        return (x, y, z)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        numbers = {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}
        return {"oneOf": [{"enum": list(WAYS)}, numbers]}


class MaterialName(Validated):
    """A material of the table, by one of its names; the case does not matter."""

    def read(self, value: Any, _info: ValidationInfo) -> str:
        """Return the name as written."""
        if not isinstance(value, str) or not value.strip():
            raise fail(f"the name of a material is expected, not {shown(value)}", "for example cast iron")
        plain = " ".join(value.lower().split())
        if plain not in MATERIALS and plain not in OTHER_NAMES:
            raise fail(f"there is no material {shown(value)} in the table", did_you_mean(plain, self._names()))
        return str(value)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: text; the names of the table as examples, since the case does not matter."""
        return {"type": "string", "examples": self._names()}

    @staticmethod
    def _names() -> list[str]:
        return [*MATERIALS, *OTHER_NAMES]


class PlateKeys(Keys):
    """Rectangular plate; its frame is the middle of the measured side, x along the length, z out of the side."""

    called = "a plate"
    length: Size = Field(description="Size along x.", examples=["3000 mm"])
    width: Size = Field(description="Size along y.", examples=["1800 mm"])
    thickness: Size = Field(description="Size under the measured side.", examples=["350 mm"])


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


class SurfaceKeys(Keys):
    """One machine surface: first what it is, then where it stands."""

    called = "a machine surface"
    what: ClassVar = ("plate", "column", "face")
    later: ClassVar = ("roll", "bore", "rail", "mesh", "moves")

    plate: PlateKeys | None = Field(None, description="A rectangular plate that is measured or stands in the way.")
    column: ColumnKeys | None = Field(None, description="A box column that stands in the way.")
    face: FaceKeys | None = Field(None, description="A round face or ring that is measured.")
    on: CarrierName = Field(
        "floor", description="What it stands on: another surface, or floor; its place is counted in that frame."
    )
    at: Point | None = Field(
        None,
        description="Place of its origin in the frame of what it stands on; [0, 0, 0] where nothing is said.",
        examples=["[0 m, 0 m, 0.85 m]"],
    )
    axis: Annotated[tuple[float, float, float] | None, Direction()] = Field(
        None, description="Direction of its z (out of a measured side, along a column) in the frame it stands on: +z."
    )
    faces: Annotated[tuple[float, float, float] | None, Direction()] = Field(
        None, description="Another word for axis that reads well for plates and faces: up, down, +x ..."
    )
    turned: Angle = Field(0.0, description="Turn about its own z, from x towards y.", examples=["30 deg"])
    material: Annotated[str, MaterialName()] = Field("", description="What it is made of.", examples=["cast iron"])
