"""Keys of readings: how a table of them is read."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from .keys import Keys
from .values import Choice, Words

__all__ = ["ColumnsKeys", "ReadingsKeys", "SignKeys"]


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
