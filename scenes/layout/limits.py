"""Limits of tasks: ``60 um``, ``+-3 mm``, ``dia 0.4 mm``, ``0.05 mm/m``, ``0..20 um over 300 mm``."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any

from pydantic import ValidationInfo

from ..model.survey import Limit
from ..units import UnitError, factor_to_si
from .context import fail, shown
from .quantities import Quantity
from .values import Validated

__all__ = ["LimitText", "Limits", "upper_of"]

_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_RANGE = re.compile(
    rf"(?P<low>{_NUMBER})\s*(?P<low_unit>[^\s.\d][^.\s]*)?\s*\.\.\s*(?P<high>{_NUMBER})\s*(?P<unit>\S.*)?"
)
_BOTH_WAYS = re.compile(r"(?:\+-|\+/-|±)\s*(?P<size>\S.*)")
_OVER = re.compile(r"(?P<size>.*\S)\s+over\s+(?P<over>\S.*)")
_DIAMETER = re.compile(r"(?:dia|diameter|Ø|⌀)\s*(?P<size>[\d.,].*)")

Limits = dict[str, Limit]
"""Component -> limit; ``""`` where there is one for all."""


def upper_of(limit: Limit) -> float:
    """Upper limit in metres, or in rad where it is an angle or a length over a length."""
    return limit.upper / limit.over if limit.over > 0.0 else limit.upper


@dataclass(frozen=True)
class LimitText(Validated):
    """Limit of one quantity.

    Attributes
    ----------
    length, angle : bool
        Whether it may be a length, and an angle or a length over a length.
    signed : bool
        Whether it may be a range or go both ways.
    diameter : bool
        Whether it may be the diameter of a zone.
    """

    length: bool = True
    angle: bool = False
    signed: bool = False
    diameter: bool = False

    @property
    def example(self) -> str:
        """A limit of this kind."""
        return "60 um" if self.length and not self.signed else "+-3 mm" if self.length else "0.02 mm over 300 mm"

    def read(self, value: Any, info: ValidationInfo) -> Limit:
        """Limit in SI units."""
        if not isinstance(value, str):
            what = "a length" if self.length else "a limit"
            raise fail(f"{what} with its unit is expected, not {shown(value)}", f"for example {self._written}")
        text = str(value).strip()
        if over := _OVER.fullmatch(text):
            return self._over(over["size"], over["over"], value, info)
        if dia := _DIAMETER.fullmatch(text):
            if not self.diameter:
                raise fail(f"{shown(value)} is the diameter of a round zone, which this quantity has not", "remove dia")
            return Limit(Quantity("length", "positive").read(dia["size"], info), diameter=True)
        limit, angle = self._span(text, info)
        if not angle and not self.length:
            message = f"{shown(value)} is a length, but the limit of an angle is expected"
            raise fail(message, f"say over which length: {text} over 300 mm")
        return replace(limit, angle=angle)

    @property
    def _written(self) -> str:
        return "120 mm" if self.length and not (self.angle or self.signed or self.diameter) else self.example

    def _over(self, size: str, over: str, value: Any, info: ValidationInfo) -> Limit:
        if not self.angle:
            raise fail(f"{shown(value)} is an angle, but the limit of a length is expected", f"write {size}")
        limit, angle = self._span(size, info)
        if angle:
            raise fail(f"'{size}' is an angle by itself", f"remove over {over}")
        return replace(limit, over=Quantity("length", "positive").read(over, info), angle=True)

    def _span(self, text: str, info: ValidationInfo) -> tuple[Limit, bool]:
        """Limit as length or angle, and whether it is an angle; ``over`` is not looked at here."""
        both, span = _BOTH_WAYS.fullmatch(text), _RANGE.fullmatch(text)
        if (both or span) and not self.signed:
            raise fail(f"{shown(text)} has a sign, but only the size counts here", f"for example {self.example}")
        if both:
            size, angle = self._sized(both["size"], "positive", info)
            return Limit(size, -size), angle
        if span:
            unit = span["unit"] or ""
            low, low_angle = self._sized(f"{span['low']} {span['low_unit'] or unit}", "any", info)
            high, angle = self._sized(f"{span['high']} {unit}", "any", info)
            if low_angle != angle:
                raise fail(f"the two ends of {shown(text)} are not of one kind", "for example 0..20 um")
            if low >= high:
                raise fail(f"the lower end of {shown(text)} is not below the upper one", "exchange them")
            return Limit(high, low), angle
        size, angle = self._sized(text, "positive", info)
        return Limit(size), angle

    def _sized(self, text: str, sign: str, info: ValidationInfo) -> tuple[float, bool]:
        """SI value of a length or an angle, and whether it is an angle; what is neither is told as a wrong length."""
        unit = re.sub(rf"^{_NUMBER}\s*", "", text)
        angle = self.angle and _is_angle(unit)
        return Quantity("angle" if angle else "length", sign).read(text, info), angle

    def schema(self) -> dict[str, Any]:
        """JSON Schema: text."""
        return {"type": "string", "pattern": r"^\s*\S.*\d.*$|^\s*\d.*\S$", "examples": [self.example]}


def _is_angle(unit: str) -> bool:
    try:
        factor_to_si(unit, "angle")
    except UnitError:
        return False
    return True
