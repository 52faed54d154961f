"""Names: what may be one, and types of references that are checked against what the layout names."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, TypeAlias

from pydantic import BeforeValidator, ValidationInfo

from ..model.machine import FLOOR
from .context import Context, context_of, fail, shown
from .json_words import ListOrOne
from .values import Words

__all__ = [
    "CarrierName",
    "DeviceName",
    "KindName",
    "Prefix",
    "StationItem",
    "StationList",
    "SurfaceName",
    "check_station",
    "expand",
    "expand_all",
    "why_no_name",
]

MOST_NAMED = 300_000

SAME_END = 1e-3
"""Stations this near [m] to the outermost one stand at the same end of a surface."""

_RANGE = re.compile(r"(?P<first>\S.*?)\s*\.\.\s*(?P<last>.*\S)")
_NUMBERED = re.compile(r"(?P<letters>[^@]*?)(?P<number>\d{1,6})(?P<position>@.*)?", re.ASCII)


def why_no_name(name: str) -> str:
    """Why ``name`` cannot name a thing; empty where it can."""
    if not name.strip() or name != name.strip() or not name.isprintable():
        return "a name is a word or phrase of one line without spaces around it"
    if len(name) > 60:
        return "a name has at most 60 characters"
    if ".." in name or any(sign in name for sign in "[]{},;:\"'"):
        return "a name has none of  .. [ ] { } , ; : \" '"
    if "@" in name:
        return "@ stands between a station and the position of a moving part: P1@low"
    return ""


def _word(value: Any, what: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise fail(f"the name of {what} is expected, not {shown(value)}")
    return str(value)


def _surface(value: Any, info: ValidationInfo) -> str:
    name, context = _word(value, "a machine surface"), context_of(info)
    if name not in context.surfaces:
        raise fail(f"there is no machine surface {shown(value)}", context.near(name, context.surfaces))
    return name


def _carrier(value: Any, info: ValidationInfo) -> str:
    name, context = _word(value, "a machine surface, or floor,"), context_of(info)
    if name not in context.surfaces and name != FLOOR:
        raise fail(f"there is no machine surface {shown(value)}", context.near(name, [*context.surfaces, FLOOR]))
    return name


@dataclass(frozen=True)
class DeviceName(Words):
    """Name of a device of one role; a kind of the catalogue may be named directly."""

    role: str = ""

    def read(self, value: Any, info: ValidationInfo) -> str:
        """Return the name."""
        article = "an" if self.role[0] in "aeiou" else "a"
        name, context = _word(value, f"{article} {self.role}"), context_of(info)
        role = context.roles.get(name)
        if role is not None:
            if role not in ("", self.role):
                other = "an" if role[0] in "aeiou" else "a"
                fitting = [device for device, its_role in context.roles.items() if its_role == self.role]
                advice = f"of this role: {', '.join(fitting)}" if fitting else f"no {self.role} stands under devices"
                raise fail(f"'{name}' is {other} {role}; {article} {self.role} is needed here", advice)
            return name
        if name in context.kinds.get(self.role, {}):
            return name
        fitting = [device for device, its_role in context.roles.items() if its_role in ("", self.role)]
        raise fail(f"there is no {self.role} {shown(value)}", context.near(name, fitting))


@dataclass(frozen=True)
class KindName(Words):
    """Name of a kind in the catalogue, for one role."""

    role: str = ""

    def read(self, value: Any, info: ValidationInfo) -> str:
        """Return the name."""
        name, context = _word(value, f"a kind of {self.role}"), context_of(info)
        kinds = context.kinds.get(self.role, {})
        if name not in kinds:
            raise fail(f"the catalogue has no {self.role} {shown(value)}", context.near(name, kinds))
        return name


@dataclass(frozen=True)
class Prefix(Words):
    """Letters in front of the number of a station or foot."""

    def read(self, value: Any, _info: ValidationInfo) -> str:
        """Return the letters."""
        name = _word(value, "letters that names start with")
        if why := why_no_name(name):
            raise fail(f"names cannot start with {shown(value)}", why)
        return name


def expand(item: str, context: Context) -> tuple[str, ...]:
    """Stations that ``item`` stands for.

    Those of a group, one by its name, a range such as ``A1..A7``, all on a surface (``on slide``) or the outermost of
    them (``ends of roll``). Where they are on a moving part, a position may follow: ``P1@low``, ``P1..P4@low``,
    ``on slide@low``.

    Raises
    ------
    KeyError
        With the message and the advice, where it stands for nothing.
    """
    known = context.stations
    if item in context.groups:
        return context.groups[item].stations
    if item in known:
        return (item,)
    if item.startswith("on "):
        return _on_surface(item, context)
    if item.startswith("ends of "):
        return _ends(item, context)
    span = _RANGE.fullmatch(item)
    if span is None:
        raise KeyError(f"there is no station or group '{item}'", _near_stations(item, context))
    first, last = _NUMBERED.fullmatch(span["first"]), _NUMBERED.fullmatch(span["last"])
    if first is None or last is None or not _same_row(first, last):
        message = f"the two ends of the range '{item}' may differ in their number only"
        raise KeyError(message, "for example A1..A7; name several ranges for several rows")
    start, end = int(first["number"]), int(last["number"])
    if abs(end - start) > len(known):
        raise KeyError(f"the range '{item}' has more places than there are stations", "")
    step = 1 if end >= start else -1
    position = last["position"] or ""
    names = tuple(f"{first['letters']}{number}{position}" for number in range(start, end + step, step))
    for name in names:
        if name not in known:
            message = f"there is no station '{name}' in the range '{item}'"
            raise KeyError(message, _near_stations(name, context))
    return names


def _same_row(first: re.Match[str], last: re.Match[str]) -> bool:
    """Whether two ends of a range differ in their number only; a position may be said once, at the end."""
    return first["letters"] == last["letters"] and first["position"] in (None, last["position"])


def _on_surface(item: str, context: Context) -> tuple[str, ...]:
    """Stations on a surface, or those of them that are read at one position of a moving part."""
    surface, _, position = item.removeprefix("on ").strip().partition("@")
    if surface not in context.surfaces:
        raise KeyError(f"there is no machine surface '{surface}'", context.near(surface, context.surfaces))
    named = tuple(
        name for name, station in context.stations.items()
        if station.surface == surface and position in ("", station.position)
    )  # fmt: skip
    if not named:
        raise KeyError(f"there are no stations '{item}'", "name some under stations")
    return named


def _ends(item: str, context: Context) -> tuple[str, ...]:
    """Stations of a surface that stand outermost along their line."""
    names = _on_surface(item.replace("ends of ", "on ", 1), context)
    along = context.stations[names[0]].along
    places = [float(context.stations[name].at @ along) for name in names]
    outermost = (min(places), max(places))
    return tuple(
        name for name, place in zip(names, places, strict=True) if min(abs(place - end) for end in outermost) < SAME_END
    )


def _near_stations(name: str, context: Context) -> str:
    if not context.groups:
        return "the layout has no stations yet; describe them under stations"
    return context.near(name, [*context.groups, *context.stations])


def check_station(value: Any, info: ValidationInfo) -> str:
    """Return a station, a range or a group by its text, after its names have been looked up."""
    item, context = _word(value, "a station, a range or a group"), context_of(info)
    if context.expanded > MOST_NAMED:
        raise fail("groups and ranges of this layout name too many stations", f"at most {MOST_NAMED} in all")
    try:
        context.expanded += len(expand(item, context))
    except KeyError as error:
        if context.stations_complete:
            raise fail(*error.args) from None
    return item


def expand_all(items: Iterable[str], context: Context) -> tuple[str, ...]:
    """Stations of several items in their order, after ``check_station`` has passed each of them."""
    return tuple(station for item in items for station in expand(item, context))


def _as_list(value: Any) -> Any:
    if value is None or isinstance(value, dict):
        raise fail(f"a list of stations, ranges or groups is expected, not {shown(value)}", "for example [grid]")
    if isinstance(value, list) and not value:
        raise fail("the list is empty", "name at least one station, range or group")
    return value if isinstance(value, list) else [value]


SurfaceName: TypeAlias = Annotated[str, BeforeValidator(_surface)]
CarrierName: TypeAlias = Annotated[str, BeforeValidator(_carrier)]
StationItem: TypeAlias = Annotated[str, BeforeValidator(check_station)]
StationList: TypeAlias = Annotated[list[StationItem], BeforeValidator(_as_list), ListOrOne()]
