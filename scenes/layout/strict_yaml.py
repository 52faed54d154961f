"""Strict YAML: text to nested data in which every key and value knows its line and column.

All scalars stay text, marked as plain or quoted; the schema decides what a text means where it stands. So nothing is
guessed: ``on`` and ``yes`` are words, ``12:30`` is no number of seconds, ``010`` is not eight.
Aliases (``*name``) are allowed; tags, merge keys, duplicate keys and more than one document are not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import yaml

from ..errors import LayoutError, Problem
from .yaml_words import explain_syntax

__all__ = ["Block", "Items", "Place", "Text", "parse"]

LARGEST_FILE = 1_000_000  # characters; a layout of 200 stations has some 10 000
LARGEST_CONTENT = 60_000  # values after aliases have been followed
DEEPEST = 24  # levels of nesting; the language itself needs 6


class Place(NamedTuple):
    """Where something stands; both count from 1."""

    line: int
    column: int


class Text(str):
    """A scalar as it is written; ``plain`` where it has no quotes."""

    __slots__ = ("place", "plain")
    place: Place
    plain: bool

    def __new__(cls, value: str, place: Place, plain: bool) -> Text:
        """Text that remembers its place."""
        text = super().__new__(cls, value)
        text.place = place
        text.plain = plain
        return text


class Block(dict[str, Any]):
    """A mapping; ``keys_at`` and ``values_at`` give the places of its keys and values, ``place`` its own."""

    def __init__(self, place: Place) -> None:
        super().__init__()
        self.place = place
        self.keys_at: dict[str, Place] = {}
        self.values_at: dict[str, Place] = {}


class Items(list[Any]):
    """A list; ``items_at`` gives the places of its entries, ``place`` its own."""

    def __init__(self, place: Place) -> None:
        super().__init__()
        self.place = place
        self.items_at: list[Place] = []


def parse(text: str, file: str) -> tuple[Any, list[Problem]]:
    """Data of the one document in ``text`` and the problems that did not stop its reading.

    The data are ``Block``, ``Items`` and ``Text``, and None where nothing (or ``null``) is written.

    Raises
    ------
    LayoutError
        Where the text cannot be read to its end.
    """
    if len(text) > LARGEST_FILE:
        raise LayoutError([Problem(file, 0, 0, f"the file is larger than {LARGEST_FILE} characters")])
    composer = _Composer(file)
    try:
        composer.load(text)
    except yaml.YAMLError as error:
        raise LayoutError([*composer.problems, explain_syntax(error, text, file)]) from None
    except _Stop:
        raise LayoutError(composer.problems) from None
    return composer.data, composer.problems


class _Stop(Exception):
    """Reading cannot go on; the reason is in the problems."""


@dataclass(slots=True)
class _Anchored:
    value: Any
    size: int


class _Composer:
    """Builds data out of YAML events, counting depth and size."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.data: Any = None
        self._anchors: dict[str, _Anchored | None] = {}
        self._size = 0

    def load(self, text: str) -> None:
        """Read the document and look for a second one."""
        self._loader = yaml.SafeLoader(text)
        try:
            self._event()  # start of the stream
            if not isinstance(self._event(), yaml.StreamEndEvent):
                self.data = self._value(self._event(), 1)
                self._event()  # end of the document
                following = self._event()
                if not isinstance(following, yaml.StreamEndEvent):
                    self._say(following, "a second document starts here", "a layout is one document: remove the '---'")
        finally:
            self._loader.dispose()

    def _event(self) -> Any:
        return self._loader.get_event()  # type: ignore[no-untyped-call]

    def _say(self, event: Any, message: str, advice: str = "") -> None:
        self.problems.append(Problem(self.file, *_place(event), message, advice))

    def _value(self, event: Any, depth: int) -> Any:
        self._size += 1
        if isinstance(event, yaml.AliasEvent):
            return self._aliased(event)
        self._check(event, depth)
        before = self._size
        if event.anchor:
            self._anchors[event.anchor] = None
        value: Any
        if isinstance(event, yaml.ScalarEvent):
            value = _scalar(event)
        elif isinstance(event, yaml.SequenceStartEvent):
            value = self._items(event, depth)
        else:
            value = self._block(event, depth)
        if event.anchor:
            self._anchors[event.anchor] = _Anchored(value, self._size - before)
        return value

    def _check(self, event: Any, depth: int) -> None:
        if event.tag not in (None, "!"):
            self._say(event, f"the tag {_short_tag(event.tag)} is not part of the layout language", "remove it")
        if depth > DEEPEST:
            self._say(event, f"more than {DEEPEST} levels of nesting", "a bracket may be open that should be closed")
            raise _Stop
        if self._size > LARGEST_CONTENT:
            self._say(event, f"more than {LARGEST_CONTENT} values", "an alias may repeat too much")
            raise _Stop

    def _aliased(self, event: Any) -> Any:
        if event.anchor not in self._anchors:
            self._say(event, f"nothing is marked '&{event.anchor}' before this line", "an alias repeats what is above")
            raise _Stop
        anchored = self._anchors[event.anchor]
        if anchored is None:
            self._say(event, f"'*{event.anchor}' stands inside what it repeats", "an alias repeats what is above")
            raise _Stop
        self._size += anchored.size
        if self._size > LARGEST_CONTENT:
            self._say(event, f"more than {LARGEST_CONTENT} values", "an alias may repeat too much")
            raise _Stop
        return anchored.value

    def _items(self, start: Any, depth: int) -> Items:
        items = Items(_place(start))
        while not isinstance(event := self._event(), yaml.SequenceEndEvent):
            items.items_at.append(_place(event))
            items.append(self._value(event, depth + 1))
        return items

    def _block(self, start: Any, depth: int) -> Block:
        block = Block(_place(start))
        while not isinstance(event := self._event(), yaml.MappingEndEvent):
            key = self._key(event, depth)
            value_event = self._event()
            value = self._value(value_event, depth + 1)
            if key is None:
                continue
            if key in block:
                first = block.keys_at[key].line
                self._say(event, f"the key '{key}' stands here a second time", f"the first one is in line {first}")
                continue
            block[key] = value
            block.keys_at[key] = _place(event)
            block.values_at[key] = _place(event) if value is None else _place(value_event)
        return block

    def _key(self, event: Any, depth: int) -> str | None:
        key = self._value(event, depth + 1)
        if not isinstance(event, yaml.ScalarEvent):
            self._say(event, "a key must be one word or phrase", "for example 'bed: ...'")
            return None
        if event.value == "<<" and event.style is None:
            self._say(event, "merge keys ('<<') are not part of the layout language", "repeat values as 'key: *name'")
            return None
        return str(event.value) if key is None else str(key)


def _place(event: Any) -> Place:
    return Place(event.start_mark.line + 1, event.start_mark.column + 1)


def _scalar(event: Any) -> Text | None:
    plain = event.style is None
    if plain and event.value in ("", "~", "null", "Null", "NULL"):
        return None
    return Text(event.value, _place(event), plain)


def _short_tag(tag: str) -> str:
    return tag.replace("tag:yaml.org,2002:", "!!")[:40]
