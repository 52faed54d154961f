"""Keys of readings: how a table of them is read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, Discriminator, Field, Tag, ValidationInfo

from ..hints import did_you_mean
from .context import fail, shown
from .json_words import ListOrOne
from .keys import Keys
from .quantities import UnitName
from .values import Choice, Validated, Words, listed

__all__ = ["ColumnKeys", "ColumnsKeys", "ReadingsKeys", "SignKeys", "WideKeys"]


class SignKeys(Keys):
    """What a plus sign in the readings means."""

    called = "the signs of readings"
    v: Annotated[str, Choice(("spot up", "target up"))] = Field(
        "spot up", description="+ v: the spot stands above the middle of the target, or the target above the beam."
    )
    h: Annotated[str, Choice(("spot right", "target right"))] = Field(
        "spot right", description="+ h: the spot stands right of the middle, or the target right of the beam."
    )


def _column_tag(value: Any) -> str:
    return "<column>" if isinstance(value, dict) else "<header>"


def _one_or_more_patterns(value: Any) -> Any:
    entries = value if isinstance(value, list) else [value]
    if not 1 <= len(entries) <= MOST_PATTERNS:
        raise fail(f"one pattern or a list of up to {MOST_PATTERNS} is expected, not a list of {len(entries)}")
    return entries


MOST_PATTERNS = 50


class ColumnKeys(Keys):
    """A column of numbers: its header, and its unit where the header has none."""

    called = "a column of readings"
    header: Annotated[str | None, Words("a header")] = Field(
        None, description="Header in the file; the own name of the column where left out.", examples=["Height"]
    )


class LengthColumnKeys(ColumnKeys):
    """A column of lengths."""

    unit: Annotated[str | None, UnitName("length")] = Field(
        None, description="Unit of its numbers, where the header states none.", examples=["um"]
    )


class AngleColumnKeys(ColumnKeys):
    """A column of angles."""

    unit: Annotated[str | None, UnitName("angle")] = Field(
        None, description="Unit of its numbers, where the header states none.", examples=["arcsec"]
    )


class TimeColumnKeys(ColumnKeys):
    """A column of counts of time."""

    unit: Annotated[str | None, UnitName("time")] = Field(
        None, description="Unit of its numbers; without one they are times of day or dates.", examples=["s"]
    )


_Header = Annotated[str, Words("a header"), Tag("<header>")]
LengthColumn = Annotated[_Header | Annotated[LengthColumnKeys, Tag("<column>")], Discriminator(_column_tag)]
AngleColumn = Annotated[_Header | Annotated[AngleColumnKeys, Tag("<column>")], Discriminator(_column_tag)]
TimeColumn = Annotated[_Header | Annotated[TimeColumnKeys, Tag("<column>")], Discriminator(_column_tag)]


@dataclass(frozen=True)
class Pattern(Validated):
    """Header with words in braces, of which only some are known; ``needed`` must be among them."""

    words: tuple[str, ...]
    needed: tuple[str, ...] = ()
    example: str = ""

    def read(self, value: Any, _info: ValidationInfo) -> str:
        """Return the pattern."""
        example = f"for example {self.example}"
        if not isinstance(value, str) or not value.strip() or len(value) > 200 or not value.isprintable():
            raise fail(f"a header with words in braces is expected, not {shown(value)}", example)
        found = re.findall(r"\{ *([^{}]*?) *\}", value)
        if not found or re.search(r"[{}]", re.sub(r"\{[^{}]*\}", "", value)):
            raise fail(f"a header with words in braces is expected, not {shown(value)}", example)
        for word in found:
            if word not in self.words:
                raise fail(
                    f"{{{word}}} is no word of such a pattern", did_you_mean(word, self.words, most=len(self.words))
                )
        if len(set(found)) != len(found):
            raise fail(f"a word stands twice in {shown(value)}", "each can be said once")
        if missing := [word for word in self.needed if word not in found]:
            raise fail(f"{{{missing[0]}}} is missing in {shown(value)}", example)
        return str(value)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: text with words in braces."""
        words = "|".join(self.words)
        return {"type": "string", "pattern": rf"\{{ *({words}) *\}}", "examples": [self.example]}


_CELL_WORDS = (
    "visit", "setup", "station", "position", "target", "clock", "side", "repeat", "round", "column",
)  # fmt: skip
Patterns = Annotated[
    list[Annotated[str, Pattern(_CELL_WORDS, example='"{visit} {repeat}"')]],
    BeforeValidator(_one_or_more_patterns),
    ListOrOne(),
]


class WideKeys(Keys):
    """A table that holds several records in one row; the headers over its values say what each of them is.

    Words in braces stand for what a header says: visit, setup, position, target, side, clock (degrees), station; repeat
    (read again at once), round (read again after all others), column (part of the name of a station).
    """

    called = "a wide table"
    v: Patterns | None = Field(
        None, description="Pattern of the headers over readings of height, or a list of patterns of which the first "
        "that fits counts.", examples=['"{visit} {repeat} [um]"'],
    )  # fmt: skip
    h: Patterns | None = Field(None, description="Pattern of the headers over readings to the side.")
    pitch: Patterns | None = Field(None, description="Pattern of the headers over readings of pitch.")
    yaw: Patterns | None = Field(None, description="Pattern of the headers over readings of yaw.")
    station: Annotated[str, Pattern(("row", "column"), ("row",), '"{row}{column}"')] = Field(
        "{row}",
        description="How a station is named from the name of its row and the {column} that the header says: "
        '"{row}{column}" in a grid with rows A, B, C and columns 1, 2, 3.',
    )


class ColumnsKeys(Keys):
    """Own column names, each with its header in the file, or with header and unit where the header has no unit."""

    called = "the columns of readings"
    visit: Annotated[str | None, Words("a header")] = Field(None, description="As found, as left or a named visit.")
    setup: Annotated[str | None, Words("a header")] = Field(None, description="Name of the set-up.")
    station: Annotated[str | None, Words("a header")] = Field(None, description="Name of the station.", examples=["Pt"])
    position: Annotated[str | None, Words("a header")] = Field(
        None, description="Position of the moving part that carries the station."
    )
    target: Annotated[str | None, Words("a header")] = Field(None, description="Name of the target.")
    clock: AngleColumn | None = Field(
        None, description="Turn of the target, or of an emitter in a spindle; unit in the header.",
        examples=["Clock [deg]"],
    )  # fmt: skip
    side: Annotated[str | None, Words("a header")] = Field(
        None, description="direct, or reversed where emitter, prism or vial are turned by half a turn."
    )
    h: LengthColumn | None = Field(None, description="Reading to the side; unit in the header.")
    v: LengthColumn | None = Field(None, description="Reading of height; unit in the header.", examples=["Height [um]"])
    pitch: AngleColumn | None = Field(
        None, description="Rise of the beam against the target; unit in the header.", examples=["Pitch [arcsec]"]
    )
    yaw: AngleColumn | None = Field(
        None, description="Swing of the beam to the right against the target; unit in the header."
    )
    h_zero: LengthColumn | None = Field(
        None, description="What the display shows to the side for a centred spot; unit in the header."
    )
    v_zero: LengthColumn | None = Field(
        None, description="What the display shows of height for a centred spot; unit in the header."
    )
    time: TimeColumn | None = Field(None, description="When it was read.")
    mount_offset: LengthColumn | None = Field(None, description="What the mount was higher than the layout says.")
    note: Annotated[str | None, Words("a header")] = Field(None, description="Remark of the crew.", examples=["Remark"])


class ReadingsKeys(Keys):
    """How a table of readings is read."""

    called = "the readings section"
    columns: ColumnsKeys | None = Field(None, description="Own column name -> header in the file.")
    signs: SignKeys | None = Field(None, description="What a plus sign means.")
    decimal: Annotated[str | None, Choice(("point", "comma"))] = Field(
        None, description="Decimal mark of the numbers; as they show it where nothing is said."
    )
    delimiter: Annotated[str | None, Choice(("comma", "semicolon", "tab", "spaces"))] = Field(
        None, description="What stands between the fields of a text; as its headers show where nothing is said."
    )
    sheet: Annotated[str | None, Words("the name of a sheet")] = Field(
        None, description="Sheet of a spreadsheet; the only one with headers of readings where nothing is said.",
        examples=["Bed 1"],
    )  # fmt: skip
    headers: Annotated[
        list[Annotated[str, Words("a header")]] | None, listed(1, 100, "a list of headers such as [station, 'v [um]']")
    ] = Field(None, description="Headers of a table that has none, in the order of its columns.")
    wide: WideKeys | None = Field(None, description="How a table is read that holds several records in one row.")
