"""What is known while a layout is read: the problems so far, and the names that others may refer to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationInfo
from pydantic_core import PydanticCustomError

from ..errors import Problem
from ..hints import did_you_mean
from ..model.survey import Group, Station
from .strict_yaml import Block, Items, Place, Text

__all__ = ["Context", "context_of", "fail", "place_of", "shown"]

MOST_COMPARISONS = 30_000
"""Names compared with wrong ones in one file: some 0.3 s, then advice lists names without comparing."""


@dataclass(slots=True)
class Context:
    """Passed through the validation of every entry; collects problems and answers what a name stands for.

    Attributes
    ----------
    bare : str, optional
        Unit of lengths that are written without one.
    surfaces : mapping
        Name of a machine surface -> line.
    setups : mapping
        Name of a set-up -> line.
    roles : mapping
        Name of a device -> ``emitter``, ``rotary base``, ``target`` or a later one; empty where its entry does not say.
    kinds : mapping
        Role -> kinds of the catalogue.
    stations_complete : bool
        False where an entry under ``stations`` could not be read, so that an unknown name may belong to it.
    expanded : int
        How many stations the groups and ranges named so far stand for.
    told : int
        How often a problem was found, those that were found before included.
    """

    file: str
    problems: list[Problem] = field(default_factory=list)
    bare: str | None = None
    surfaces: dict[str, int] = field(default_factory=dict)
    setups: dict[str, int] = field(default_factory=dict)
    roles: dict[str, str] = field(default_factory=dict)
    kinds: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    groups: dict[str, Group] = field(default_factory=dict)
    stations: dict[str, Station] = field(default_factory=dict)
    stations_complete: bool = True
    expanded: int = 0
    told: int = 0
    _seen: set[Problem] = field(default_factory=set)
    _comparisons: int = MOST_COMPARISONS

    def near(self, name: str, known: Iterable[str]) -> str:
        """Advice for an unknown name; without near names once very many have been looked for."""
        names = list(known)
        self._comparisons -= len(names)
        return did_you_mean(name, names if self._comparisons > 0 else names[:8])

    def say(self, place: Place, message: str, advice: str = "") -> None:
        """Note a problem."""
        self.told += 1
        problem = Problem(self.file, place.line, place.column, message, advice)
        if problem not in self._seen:  # an alias shows the same value twice
            self._seen.add(problem)
            self.problems.append(problem)

    def say_later(self, block: Block, key: str) -> None:
        """Note that ``key`` of ``block`` belongs to the language, but not yet to the program."""
        message = f"'{key}' is a known word of the layout language, not computed by this version"
        self.say(block.keys_at[key], message)


def context_of(info: ValidationInfo) -> Context:
    """Context of a validation; an empty one where none was passed."""
    return info.context if isinstance(info.context, Context) else Context("layout")


def fail(message: str, advice: str = "") -> PydanticCustomError:
    """Error to raise in a validator; the reader adds the place."""
    return PydanticCustomError("layout", "{message}", {"message": message, "advice": advice})


def place_of(root: Any, path: tuple[int | str, ...], start: Place) -> Place:
    """Place of the value at ``path`` inside ``root``; steps that are not in the data are skipped."""
    place, here = start, root
    for step in path:
        if isinstance(here, Block) and step in here:
            place, here = here.values_at[str(step)], here[str(step)]
        elif isinstance(here, Items) and isinstance(step, int) and step < len(here):
            place, here = here.items_at[step], here[step]
    return place


def shown(value: Any) -> str:
    """How a message shows what was found."""
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, (list, tuple)):
        return "a list"
    text = " ".join(str(value).split())
    text = text if len(text) <= 40 else text[:37] + "..."
    return f'the quoted text "{text}"' if isinstance(value, Text) and not value.plain else f"'{text}'"
