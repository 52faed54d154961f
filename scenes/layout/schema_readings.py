"""Keys of readings: how a table of them is read."""

from __future__ import annotations

from typing import Annotated

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
    visit: Annotated[str | None, Words("a header")] = Field(None, description="As found, as left or a named visit.")
    setup: Annotated[str | None, Words("a header")] = Field(None, description="Name of the set-up.")
    station: Annotated[str | None, Words("a header")] = Field(None, description="Name of the station.", examples=["Pt"])
    position: Annotated[str | None, Words("a header")] = Field(
        None, description="Position of the moving part that carries the station."
    )
    target: Annotated[str | None, Words("a header")] = Field(None, description="Name of the target.")
    clock: Annotated[str | None, Words("a header")] = Field(
        None, description="Turn of the target, or of an emitter in a spindle; unit in the header.",
        examples=["Clock [deg]"],
    )  # fmt: skip
    side: Annotated[str | None, Words("a header")] = Field(
        None, description="direct, or reversed where emitter, prism or vial are turned by half a turn."
    )
    h: Annotated[str | None, Words("a header")] = Field(None, description="Reading to the side; unit in the header.")
    v: Annotated[str | None, Words("a header")] = Field(
        None, description="Reading of height; unit in the header.", examples=["Height [um]"]
    )
    pitch: Annotated[str | None, Words("a header")] = Field(
        None, description="Rise of the beam against the target; unit in the header.", examples=["Pitch [arcsec]"]
    )
    yaw: Annotated[str | None, Words("a header")] = Field(
        None, description="Swing of the beam to the right against the target; unit in the header."
    )
    h_zero: Annotated[str | None, Words("a header")] = Field(
        None, description="What the display shows to the side for a centred spot; unit in the header."
    )
    v_zero: Annotated[str | None, Words("a header")] = Field(
        None, description="What the display shows of height for a centred spot; unit in the header."
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
