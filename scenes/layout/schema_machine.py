"""Keys of the machine section: what a surface is, where it stands, how it moves."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, Field, ValidationInfo

from ..hints import did_you_mean
from ..model.materials import MATERIALS, OTHER_NAMES
from .context import fail, shown
from .directions import WAYS, Direction, Way
from .keys import Keys
from .names import CarrierName, why_no_name
from .quantities import Angle, Length, Point, Quantity, Temperature
from .schema_shapes import (
    BoreKeys,
    ColumnKeys,
    FaceKeys,
    MeshKeys,
    PlateKeys,
    PlatensKeys,
    RailKeys,
    RollKeys,
)
from .values import Validated, Words

__all__ = ["WAYS", "Direction", "MovesKeys", "SurfaceKeys"]

Warmer = Annotated[float, Quantity("temperature difference")]
KnownTo = Annotated[float, Quantity("temperature difference", "not negative")]


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


def _some_positions(value: Any) -> Any:
    example = "for example {low: 300 mm, top: 900 mm}"
    if not isinstance(value, dict) or not value:
        raise fail(f"named positions are expected, not {shown(value)}", example)
    for name in value:
        if why := why_no_name(name):
            raise fail(f"{shown(name)} cannot name a position", why)
        if name == "all":
            raise fail("'all' stands for every position and cannot name one", example)
    return value


class MovesKeys(Keys):
    """How a part moves: along a straight way, between named positions; what stands on it moves with it."""

    called = "the moving of a part"
    along: Way = Field(description="Direction in the frame of what it stands on: +z, -x, [0, 1, 0].", examples=["+z"])
    positions: Annotated[dict[str, Length], BeforeValidator(_some_positions)] = Field(
        description="Name of a position -> way along the direction from the place that 'at' gives.",
        examples=["{low: 300 mm, top: 900 mm}"],
    )


class SurfaceKeys(Keys):
    """One machine surface: first what it is, then where it stands."""

    called = "a machine surface"
    what: ClassVar = ("plate", "platens", "column", "face", "rail", "roll", "bore", "mesh")

    plate: PlateKeys | None = Field(None, description="A rectangular plate that is measured or stands in the way.")
    platens: PlatensKeys | None = Field(None, description="Two plates that face each other, such as those of a press.")
    column: ColumnKeys | None = Field(None, description="A box column that stands in the way.")
    face: FaceKeys | None = Field(None, description="A round face or ring that is measured.")
    rail: RailKeys | None = Field(None, description="A rail or way that is measured along its length.")
    roll: RollKeys | None = Field(None, description="A roll that is measured from outside.")
    bore: BoreKeys | None = Field(None, description="A bore, or several on one axis, measured from inside.")
    mesh: MeshKeys | None = Field(None, description="A part from a file of triangles.")
    on: CarrierName = Field(
        "floor", description="What it stands on: another surface, or floor; its place is counted in that frame."
    )
    at: Point | None = Field(
        None,
        description="Place of its origin in the frame of what it stands on; [0, 0, 0] where nothing is said.",
        examples=["[0 m, 0 m, 0.85 m]"],
    )
    axis: Way | None = Field(
        None,
        description="Direction of its z (out of a measured side, along a column, roll or bore) in the frame it stands "
        "on: +z.",
    )
    faces: Way | None = Field(
        None, description="Another word for axis that reads well for plates and faces: up, down, +x ..."
    )
    along: Way | None = Field(
        None, description="Direction of its x (along a plate or rail) in the frame it stands on, as near as its z lets."
    )
    turned: Angle = Field(0.0, description="Turn about its own z, from x towards y.", examples=["30 deg"])
    moves: MovesKeys | None = Field(None, description="How it moves; of platens the upper one does.")
    at_position: Annotated[str | None, Words("the name of a position")] = Field(
        None, description="Position at which it is drawn, and read where nothing else is said: the first one."
    )
    material: Annotated[str, MaterialName()] = Field("", description="What it is made of.", examples=["cast iron"])
    temperature: Temperature | None = Field(
        None, description="Its temperature while it is read; no growth is reckoned where nothing is said.",
        examples=["24 degC"],
    )  # fmt: skip
    temperature_known_to: KnownTo = Field(0.0, description="Standard uncertainty of its temperature.", examples=["1 K"])
    across: Warmer = Field(
        0.0, description="How much warmer its measured side is than the opposite one.", examples=["2 K"]
    )
    across_known_to: KnownTo = Field(0.0, description="Standard uncertainty of across.", examples=["0.5 K"])
