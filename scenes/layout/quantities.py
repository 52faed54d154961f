"""Quantities of a layout: text with a unit, checked for kind and sign, as float in SI units."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any, TypeAlias

from pydantic import ValidationInfo

from ..units import KINDS, UnitError, factor_to_si, parse_quantity, show
from .context import context_of, fail, shown
from .values import Validated, listed

__all__ = [
    "Angle",
    "AngleKnown",
    "DriftRate",
    "Force",
    "Gradient",
    "GradientKnown",
    "Length",
    "LengthAtOneMetre",
    "LengthKnown",
    "Pace",
    "Point",
    "PointInPlane",
    "Pressure",
    "Quantity",
    "Ratio",
    "Share",
    "Size",
    "Temperature",
    "UnitName",
]

_WRITTEN = r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?\s*"
_LARGEST = {"length": 1e5, "temperature": 1e4}  # SI; 100 km is no machine any more
_SMALLEST_SIZE = 1e-9  # metres, seconds or radians; anything smaller than this is a slip of the pen
_NOT_NEGATIVE, _POSITIVE = "not negative", "positive"


@dataclass(frozen=True)
class Quantity(Validated):
    """Number with its unit, as float in SI units; ``sign``: any, ``not negative`` or ``positive``."""

    kind: str
    sign: str = "any"
    most: float = math.inf

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
        if number > self.most:
            raise fail(f"{shown(written)} is too large here", f"at most {_largest(self.most, self.kind)}")

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


def _largest(most: float, kind: str) -> str:
    return f"{100.0 * most:g} %" if kind == "ratio" else f"{most:g} {KINDS[kind].si}"


@dataclass(frozen=True)
class UnitName(Validated):
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


Length: TypeAlias = Annotated[float, Quantity("length")]
Size: TypeAlias = Annotated[float, Quantity("length", _POSITIVE)]
LengthKnown: TypeAlias = Annotated[float, Quantity("length", _NOT_NEGATIVE)]
LengthAtOneMetre: TypeAlias = Annotated[float, Quantity("length at 1 m", _NOT_NEGATIVE)]
Angle: TypeAlias = Annotated[float, Quantity("angle")]
AngleKnown: TypeAlias = Annotated[float, Quantity("angle", _NOT_NEGATIVE)]
DriftRate: TypeAlias = Annotated[float, Quantity("angle rate", _NOT_NEGATIVE)]
Ratio: TypeAlias = Annotated[float, Quantity("ratio", _NOT_NEGATIVE)]
Share: TypeAlias = Annotated[float, Quantity("ratio", _NOT_NEGATIVE, most=1.0)]
Pressure: TypeAlias = Annotated[float, Quantity("pressure", _POSITIVE)]
Temperature: TypeAlias = Annotated[float, Quantity("temperature")]
Gradient: TypeAlias = Annotated[float, Quantity("temperature gradient")]
GradientKnown: TypeAlias = Annotated[float, Quantity("temperature gradient", _NOT_NEGATIVE)]
Force: TypeAlias = Annotated[float, Quantity("force", _POSITIVE)]
Pace: TypeAlias = Annotated[float, Quantity("time", _POSITIVE)]
Point: TypeAlias = Annotated[list[Length], listed(3, 3, "a point of three lengths [x, y, z]")]
PointInPlane: TypeAlias = Annotated[list[Length], listed(2, 2, "a place of two lengths [x, y]")]
