"""One reading that has been taken in."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Taken"]


@dataclass(frozen=True, slots=True)
class Taken:
    """A record that now stands among the readings.

    Attributes
    ----------
    number : int
        How many records there are with it; it is record ``number - 1`` of the readings.
    visit, setup, station : str
    file : str
        Where it comes from: a file or a sender.
    line : int
        Line there on which it begins, counted from 1.
    """

    number: int
    visit: str
    setup: str
    station: str
    file: str
    line: int
