"""Reading one entry of a section: raw data through its keys, with what is wrong put where it stands."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from .context import Context, place_of, shown
from .keys import Keys
from .names import why_no_name
from .strict_yaml import Block, Place

__all__ = ["named_entries", "read_entry", "read_key", "section_of"]

K = TypeVar("K", bound=Keys)
_TOLD = ("missing", "extra_forbidden")  # reported by the mapping itself, with better words


def read_entry(keys: type[K], raw: Any, place: Place, context: Context) -> K | None:
    """Validated ``raw``; None where something in it is wrong, which has then been reported to ``context``."""
    before = context.told
    try:
        entry = keys.model_validate(raw, context=context)
    except ValidationError as error:
        _say_errors(error, raw, getattr(raw, "place", place), context)
        return None
    return entry if context.told == before else None


def read_key(keys: type[Keys], key: str, root: Block, context: Context) -> Any:
    """Validated value of one key of ``root``; None where it is absent or wrong, which has then been reported."""
    raw = root.get(key)
    if raw is None:
        return None
    before = context.told
    try:
        value = _adapter(keys, key).validate_python(raw, context=context)
    except ValidationError as error:
        _say_errors(error, raw, root.values_at[key], context)
        return None
    return value if context.told == before else None


@cache
def _adapter(keys: type[Keys], key: str) -> TypeAdapter[Any]:
    field = keys.model_fields[keys.key_names()[key]]
    return TypeAdapter(field.rebuild_annotation())


def _say_errors(error: ValidationError, raw: Any, place: Place, context: Context) -> None:
    for detail in error.errors(include_url=False):
        if detail["type"] in _TOLD:
            continue
        said = detail.get("ctx", {})
        message = said.get("message") or _plain(detail["type"], detail["input"])
        context.say(place_of(raw, detail["loc"], place), message, said.get("advice", ""))


def _plain(kind: str, found: Any) -> str:
    wanted = {"list_type": "a list", "dict_type": "a mapping", "model_type": "a mapping"}.get(kind, "another value")
    return f"{wanted} is expected, not {shown(found)}"


def section_of(root: Block, name: str, context: Context, needs_entry: bool = False) -> Block:
    """Mapping of names under the section ``name``; an empty one where it is absent or wrong."""
    raw = root.get(name)
    if isinstance(raw, Block):
        if needs_entry and not raw:
            context.say(raw.place, f"the section '{name}' is empty", "name at least one thing in it")
        return raw
    if raw is not None:
        place = root.values_at[name]
        context.say(place, f"the section '{name}' is a mapping of names to entries; here stands {shown(raw)}")
    return Block(Place(0, 0))


def named_entries(section: Block, context: Context) -> Iterator[tuple[str, Any, Place]]:
    """Name, raw entry and place of the name, for each entry of a section; odd names are reported."""
    for name, raw in section.items():
        place = section.keys_at[name]
        if why := why_no_name(name):
            context.say(place, f"{shown(name)} cannot be a name", why)
        if raw is None:
            context.say(place, f"nothing is written after '{name}'", "describe it or remove it")
            continue
        yield name, raw, place
