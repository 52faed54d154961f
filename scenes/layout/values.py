"""Values of a layout without units: counts, numbers, flags, words; each says what it expects where it is not met."""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Any

from pydantic import BeforeValidator, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from ..hints import near_names
from .context import fail, shown
from .strict_yaml import Text

__all__ = ["Choice", "Count", "Flag", "Number", "Validated", "Version", "Words", "listed"]


class Validated(ABC):
    """A type with its own ``read`` and ``schema``; pydantic calls them."""

    @abstractmethod
    def read(self, value: Any, info: ValidationInfo, /) -> Any:
        """Return what the written value stands for; raises what ``fail`` returns."""

    @abstractmethod
    def schema(self) -> dict[str, Any]:
        """JSON Schema of what may be written."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return self.schema()


@dataclass(frozen=True)
class Count(Validated):
    """Whole number between ``least`` and ``most``."""

    least: int
    most: int

    def read(self, value: Any, _info: ValidationInfo) -> int:
        """Value of the text."""
        wanted = f"a whole number from {self.least} to {self.most}"
        if not isinstance(value, str) or (isinstance(value, Text) and not value.plain):
            raise fail(f"{wanted} is expected, not {shown(value)}")
        if re.fullmatch(r"[+-]?0\d+", value):
            raise fail(f"{wanted} is expected, not {shown(value)}", "write it without zeros in front")
        if not re.fullmatch(r"[+-]?\d{1,9}", value, re.ASCII) or not self.least <= int(value) <= self.most:
            raise fail(f"{wanted} is expected, not {shown(value)}")
        return int(value)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: integer within its range."""
        return {"type": "integer", "minimum": self.least, "maximum": self.most}


@dataclass(frozen=True)
class Version(Validated):
    """Version of a language of which only number 1 exists."""

    language: str

    def read(self, value: Any, _info: ValidationInfo) -> int:
        """Return the version."""
        if value != "1":
            raise fail(f"version 1 of the {self.language} language is read here, not {shown(value)}", "write 1")
        return 1

    def schema(self) -> dict[str, Any]:
        """JSON Schema: 1."""
        return {"const": 1}


@dataclass(frozen=True)
class Number(Validated):
    """Plain number without a unit, between ``least`` and ``most``."""

    least: float
    most: float

    def read(self, value: Any, _info: ValidationInfo) -> float:
        """Value of the text."""
        wanted = f"a plain number from {self.least:g} to {self.most:g} is expected, not {shown(value)}"
        if not isinstance(value, str) or (isinstance(value, Text) and not value.plain):
            raise fail(wanted)
        if not re.fullmatch(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", value, re.ASCII):
            raise fail(wanted)
        if re.match(r"[+-]?0\d", value):
            raise fail(wanted, "write it without zeros in front")
        if not self.least <= float(value) <= self.most:
            raise fail(wanted)
        return float(value)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: number within its range."""
        return {"type": "number", "minimum": self.least, "maximum": self.most}


@dataclass(frozen=True)
class Flag(Validated):
    """``true`` or ``false``; other words for yes and no are not guessed."""

    def read(self, value: Any, _info: ValidationInfo) -> bool:
        """Value of the word."""
        if value not in ("true", "false") or (isinstance(value, Text) and not value.plain):
            raise fail(f"true or false is expected, not {shown(value)}")
        return bool(value == "true")

    def schema(self) -> dict[str, Any]:
        """JSON Schema: boolean."""
        return {"type": "boolean"}


@dataclass(frozen=True)
class Choice(Validated):
    """One of a few words; ``later`` are words of the language that this version does not compute."""

    words: tuple[str, ...]
    later: tuple[str, ...] = ()

    def read(self, value: Any, _info: ValidationInfo) -> str:
        """Return the word."""
        if isinstance(value, str) and value in self.words:
            return str(value)
        listed_words = ", ".join(self.words)
        if isinstance(value, str) and value in self.later:
            raise fail(f"'{value}' is a known word, not computed by this version", f"one of: {listed_words}")
        near = near_names(value, self.words, most=1) if isinstance(value, str) else []
        advice = f"did you mean {near[0]}?" if near else ""
        raise fail(f"one of these is expected, not {shown(value)}: {listed_words}", advice)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: enumeration."""
        return {"enum": list(self.words)}


@dataclass(frozen=True)
class Words(Validated):
    """Text of one line, as it is written; numbers are text here."""

    what: str = "a text"
    longest: int = 200

    def read(self, value: Any, _info: ValidationInfo) -> str:
        """Return the text."""
        if not isinstance(value, str) or not value.strip():
            raise fail(f"{self.what} is expected, not {shown(value)}")
        if len(value) > self.longest or not value.isprintable():
            raise fail(f"{self.what} of one line is expected, at most {self.longest} characters")
        return str(value)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: text, or a number that is read as text."""
        return {"type": ["string", "number"]}


def listed(least: int, most: int, what: str) -> BeforeValidator:
    """Check that a value is a list of ``least`` to ``most`` entries before these are looked at."""

    def check(value: Any) -> Any:
        if not isinstance(value, (list, tuple)):
            raise fail(f"{what} is expected, not {shown(value)}")
        if not least <= len(value) <= most:
            raise fail(f"{what} is expected, not a list of {len(value)}")
        return value

    return BeforeValidator(check)
