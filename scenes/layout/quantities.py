"""Types of values in a layout: quantities, counts, words; each says what it expects where it is not met."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Annotated, Any, TypeAlias

from pydantic import BeforeValidator, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from ..hints import near_names
from ..units import KINDS, UnitError, factor_to_si, parse_quantity, show
from .context import context_of, fail, shown
from .strict_yaml import Text

__all__ = [
    "Angle",
    "AngleKnown",
    "Choice",
    "Count",
    "DriftRate",
    "Flag",
    "Gradient",
    "GradientKnown",
    "Length",
    "LengthAtOneMetre",
    "LengthKnown",
    "Number",
    "Pace",
    "Point",
    "PointInPlane",
    "Quantity",
    "Ratio",
    "Size",
    "Temperature",
    "UnitName",
    "Version",
    "Words",
    "listed",
]

_WRITTEN = r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?\s*"
_LARGEST = {"length": 1e5, "temperature": 1e4}  # SI; 100 km is no machine any more
_SMALLEST_SIZE = 1e-9  # metres, seconds or radians; anything smaller than this is a slip of the pen
_NOT_NEGATIVE, _POSITIVE = "not negative", "positive"


class _Validated:
    """A type with its own ``read`` and ``schema``; pydantic calls them."""

    def read(self, value: Any, info: ValidationInfo) -> Any:
        raise NotImplementedError

    def schema(self) -> dict[str, Any]:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return self.schema()


@dataclass(frozen=True)
class Quantity(_Validated):
    """Number with its unit, as float in SI units; ``sign``: any, ``not negative`` or ``positive``."""

    kind: str
    sign: str = "any"

    def read(self, value: Any, info: ValidationInfo) -> float:
        """SI value of the text."""
        if not isinstance(value, str):
            raise fail(
                f"a {self.kind} with its unit is expected, not {shown(value)}",
                f"for example {KINDS[self.kind].example}",
            )
        try:
            number = parse_quantity(value, self.kind, context_of(info).bare if self.kind == "length" else None)
        except UnitError as error:
            raise fail(str(error), error.advice) from None
        self._check(number, value)
        return number

    def _check(self, number: float, written: str) -> None:
        limit = _LARGEST.get(self.kind, 1e9)
        if not math.isfinite(number) or abs(number) > limit:
            raise fail(f"{shown(written)} is too large for a {self.kind}", f"for example {KINDS[self.kind].example}")
        if self.kind == "temperature" and number <= 0.0:
            raise fail(f"{shown(written)} is below absolute zero", f"for example {KINDS[self.kind].example}")
        if self.sign == _NOT_NEGATIVE and number < 0.0:
            raise fail(f"a {self.kind} that is not below zero is expected, not {shown(written)}", "remove the sign")
        if self.sign == _POSITIVE and number < _SMALLEST_SIZE:
            raise fail(
                f"a {self.kind} above zero is expected, not {shown(written)}", f"at least {_smallest(self.kind)}"
            )

    def schema(self) -> dict[str, Any]:
        """JSON Schema: text with a number and a unit."""
        kind = KINDS[self.kind]
        sign = "" if self.sign == "any" else f", {self.sign}"
        return {
            "type": "string",
            "pattern": f"^{_WRITTEN}\\S.*$" if self.kind != "length" else f"^{_WRITTEN}.*$",
            "title": f"{self.kind} with its unit{sign}; units: {', '.join(kind.usual)}",
            "examples": [kind.example],
        }


def _smallest(kind: str) -> str:
    return show(_SMALLEST_SIZE, "nm", "length") if kind == "length" else f"{_SMALLEST_SIZE:g} {KINDS[kind].si}"


@dataclass(frozen=True)
class Count(_Validated):
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
class Version(_Validated):
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
class Number(_Validated):
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
class Flag(_Validated):
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
class Choice(_Validated):
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
class Words(_Validated):
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


@dataclass(frozen=True)
class UnitName(_Validated):
    """Name of a unit of one kind of quantity."""

    kind: str

    def read(self, value: Any, _info: ValidationInfo) -> str:
        """Return the name."""
        usual = ", ".join(KINDS[self.kind].usual)
        if not isinstance(value, str):
            raise fail(f"a unit of {self.kind} is expected, not {shown(value)}", f"one of: {usual}")
        try:
            factor_to_si(str(value), self.kind)
        except UnitError as error:
            raise fail(str(error), error.advice) from None
        return str(value)

    def schema(self) -> dict[str, Any]:
        """JSON Schema: text; the usual units as examples."""
        return {"type": "string", "examples": list(KINDS[self.kind].usual)}


def listed(least: int, most: int, what: str) -> BeforeValidator:
    """Check that a value is a list of ``least`` to ``most`` entries before these are looked at."""

    def check(value: Any) -> Any:
        if not isinstance(value, (list, tuple)):
            raise fail(f"{what} is expected, not {shown(value)}")
        if not least <= len(value) <= most:
            raise fail(f"{what} is expected, not a list of {len(value)}")
        return value

    return BeforeValidator(check)


Length: TypeAlias = Annotated[float, Quantity("length")]
Size: TypeAlias = Annotated[float, Quantity("length", _POSITIVE)]
LengthKnown: TypeAlias = Annotated[float, Quantity("length", _NOT_NEGATIVE)]
LengthAtOneMetre: TypeAlias = Annotated[float, Quantity("length at 1 m", _NOT_NEGATIVE)]
Angle: TypeAlias = Annotated[float, Quantity("angle")]
AngleKnown: TypeAlias = Annotated[float, Quantity("angle", _NOT_NEGATIVE)]
DriftRate: TypeAlias = Annotated[float, Quantity("angle rate", _NOT_NEGATIVE)]
Ratio: TypeAlias = Annotated[float, Quantity("ratio", _NOT_NEGATIVE)]
Temperature: TypeAlias = Annotated[float, Quantity("temperature")]
Gradient: TypeAlias = Annotated[float, Quantity("temperature gradient")]
GradientKnown: TypeAlias = Annotated[float, Quantity("temperature gradient", _NOT_NEGATIVE)]
Pace: TypeAlias = Annotated[float, Quantity("time", _POSITIVE)]
Point: TypeAlias = Annotated[list[Length], listed(3, 3, "a point of three lengths [x, y, z]")]
PointInPlane: TypeAlias = Annotated[list[Length], listed(2, 2, "a place of two lengths [x, y]")]
