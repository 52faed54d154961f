"""Directions in words: what is right, left, high, low, up or down is not left to a sign."""

from __future__ import annotations

from scenes.units import show
from scenes.vectors import Floats

__all__ = ["PLACE_WORDS", "TURN_WORDS", "directed", "directed_pair", "readout", "turned"]

Words = tuple[str, str]

PLACE_WORDS: tuple[Words, Words] = (("left", "right"), ("low", "high"))
"""Of a spot along h and along v, negative first."""

TURN_WORDS: tuple[Words, Words] = (("to the left", "to the right"), ("down", "up"))
"""Of a move or an angle along h and along v, negative first."""


def directed(value: float, unit: str, words: Words, kind: str = "length") -> str:
    """``45.0 um to the left``; no direction where the number shows as zero."""
    shown = show(abs(value), unit, kind)
    if float(shown.split(" ", 1)[0]) == 0.0:
        return shown
    return f"{shown} {words[value > 0.0]}"


def directed_pair(values: Floats, unit: str, words: tuple[Words, Words], kind: str = "length") -> str:
    """Both components of one place, move or angle, each with its direction."""
    return ", ".join(directed(float(value), unit, word, kind) for value, word in zip(values, words, strict=True))


def turned(values: Floats, turns: Floats | None, unit: str, kind: str = "length") -> str:
    """Both components of a move with their directions, and turns of the screws where these are known."""
    parts = []
    for i, words in enumerate(TURN_WORDS):
        count = "" if turns is None else f" ({abs(float(turns[i])):.3f} turns)"
        parts.append(directed(float(values[i]), unit, words, kind) + count)
    return ", ".join(parts)


def readout(values: Floats, unit: str) -> str:
    """``h +12.3, v -4.5 um``, as it stands on the display of a target."""
    h, v = (show(float(value), unit, sign=True) for value in values)
    return f"h {h.split(' ', 1)[0]}, v {v}"
