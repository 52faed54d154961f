"""What a trainer can move in a lesson: a slider, a switch of two ways, a choice of several, a step to take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

__all__ = ["Choice", "Movable", "Pick", "Press", "Slider", "first_values"]


@dataclass(frozen=True, slots=True)
class Slider:
    """A slider: name in the state, words, ends, step and first value in ``unit``, decimals, two or three sentences."""

    name: str
    title: str
    low: float
    high: float
    step: float
    unit: str
    digits: int
    about: str
    first: float = 0.0


@dataclass(frozen=True, slots=True)
class Choice:
    """A switch between two ways: name in the state, words for off and on, and two or three sentences."""

    name: str
    off: str
    on: str
    about: str
    first: bool = False

    @property
    def title(self) -> str:
        """Both ways in words."""
        return f"{self.off}, or {self.on.lower()}"


@dataclass(frozen=True, slots=True)
class Pick:
    """A choice among several ways: name in the state, title, ways as (value, words), two or three sentences."""

    name: str
    title: str
    ways: tuple[tuple[str, str], ...]
    about: str

    @property
    def first(self) -> str:
        """The first way."""
        return self.ways[0][0]


@dataclass(frozen=True, slots=True)
class Press:
    """Something that is done once each time it is pressed; ``name`` is told to the teacher, nothing is kept."""

    name: str
    title: str
    about: str


Movable: TypeAlias = Slider | Choice | Pick | Press


def first_values(movables: tuple[Movable, ...]) -> dict[str, float | bool | str]:
    """Values of a lesson as it opens and after a reset."""
    return {each.name: each.first for each in movables if not isinstance(each, Press)}
