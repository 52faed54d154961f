"""Quantities as they are typed on the command line; everything wrong with them is gathered and told at once."""

from __future__ import annotations

import math
import re

from scenes.errors import InputError, Problem
from scenes.units import KINDS, UnitError, factor_to_si, parse_quantity

__all__ = ["TypedQuantities"]

BETWEEN = re.compile(r"\s*(?:;|(?<=[^\d\s.,;]),|(?<=[^\d\s.,;])\s+,)\s*")
"""What stands between two quantities: a semicolon, or a comma after a unit; a comma in a number is decimal."""


class TypedQuantities:
    """Reads typed quantities to SI and gathers problems; a wrong one reads as 0 until ``finish`` tells them all."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []

    def refuse(self, option: str, message: str, advice: str) -> None:
        """Gather a problem of one option."""
        self._problems.append(Problem(option, 0, 0, message, advice))

    def finish(self) -> None:
        """Raise ``InputError`` where anything was wrong."""
        if self._problems:
            raise InputError(self._problems)

    def unit(self, option: str, unit: str, kind: str) -> None:
        """Gather a problem where ``unit`` is not one of this kind."""
        try:
            factor_to_si(unit, kind)
        except UnitError as error:
            self.refuse(option, str(error), error.advice)

    def quantity(self, option: str, text: str, kind: str = "length", most: float = math.inf) -> float:
        """SI value of ``text``, not larger than ``most`` either way."""
        try:
            value = parse_quantity(text, kind)
        except UnitError as error:
            self.refuse(option, str(error), error.advice)
            return 0.0
        if abs(value) > most:
            self.refuse(option, f"{text.strip()} is beyond anything that a beam is aimed over", "check number and unit")
            return 0.0
        return value

    def positive(self, option: str, text: str, missing: float, kind: str = "length", most: float = math.inf) -> float:
        """SI value that is more than zero; ``missing`` where nothing was typed."""
        if not text.strip():
            return missing
        gathered = len(self._problems)
        value = self.quantity(option, text, kind, most)
        if value <= 0.0 and len(self._problems) == gathered:
            self.refuse(option, f"{text.strip()} is not more than zero", "leave the option out where it is not known")
        return value

    def pair(self, option: str, text: str, most: float = math.inf) -> tuple[float, float]:
        """SI values of two lengths, ``0.12 mm, -0.30 mm``; zeros where nothing was typed."""
        if not text.strip():
            return 0.0, 0.0
        parts = BETWEEN.split(text.strip())
        if len(parts) != 2:
            self.refuse(
                option,
                f"two lengths, each with its unit, are expected, not {text.strip()!r}",
                f'for example {option} "0.12 mm, -0.30 mm"; {KINDS["length"].name}s in one of '
                f"{', '.join(KINDS['length'].usual)}",
            )
            return 0.0, 0.0
        first, second = (self.quantity(option, part, "length", most) for part in parts)
        return first, second

    def size(self, option: str, text: str) -> tuple[float, float]:
        """SI width and height, both more than zero; infinite where nothing was typed."""
        if not text.strip():
            return math.inf, math.inf
        gathered = len(self._problems)
        size = self.pair(option, text)
        if min(size) <= 0.0 and len(self._problems) == gathered:
            self.refuse(option, f"{text.strip()} is not more than zero", "leave the option out where it is not known")
        return size
