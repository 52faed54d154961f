"""Stations of a task: those named, or all that tell of its features; and whether they are enough."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from ..model.machine import Plate, Surface
from ..model.survey import Setup
from .context import Context
from .features import AXIS, TRAVEL, surface_of
from .names import expand_all
from .strict_yaml import Place

__all__ = ["Asked", "task_stations"]


class _Least(NamedTuple):
    """How many stations a quantity needs on each of its features, in words, and why."""

    number: int
    words: str
    why: str


_LINE = _Least(2, "two stations", "a direction needs two places")
_LEAST: dict[str, _Least] = {
    "flatness": _Least(4, "four stations", "a plane goes through any three"),
    "straightness": _Least(3, "three stations", "a line goes through any two"),
    "parallelism": _LINE,
    "squareness": _LINE,
    "direction": _LINE,
    "coaxiality": _Least(1, "one station", "the place of an axis is read there"),
    "bore position": _Least(1, "one station", "the place of an axis is read there"),
    "spacing": _Least(1, "one station", "a distance goes from one surface to the other"),
    "cross level": _Least(1, "one station", "a difference goes from one surface to the other"),
    "levelness": _LINE,
    "twist": _Least(4, "four stations", "a plane goes through any three"),
    "run out": _Least(2, "two stations", "the surface is read at two turns or more"),
    "slope": _Least(2, "two stations", "a profile is the sum of several steps"),
}
_TWIST_OF_TWO = _Least(2, "two stations", "a cross level is compared along the rails")
_PLANE = _Least(3, "three stations", "a plane goes through three")


class Asked(NamedTuple):
    """What a task asks of which features, in the words of the layout."""

    quantity: str
    of: tuple[str, ...]
    to: str


def task_stations(
    asked: Asked, named: list[str] | None, here: Place, surfaces: Mapping[str, Surface], setups: Mapping[str, Setup],
    context: Context,
) -> tuple[str, ...]:  # fmt: skip
    """Stations of the task, each once; empty where they do not suit it, which is then reported.

    Where none are named they are all stations that tell of its features, then those of its datum.
    """
    features = [*asked.of, *([asked.to] if surface_of(asked.to, context) else [])]
    telling = {feature: _telling(feature, setups, context) for feature in features}
    of_setup = _of_setup(asked.to, setups) if asked.to and not surface_of(asked.to, context) else ()
    if named is None:
        names = tuple(dict.fromkeys(name for feature in features for name in telling[feature]))
    else:
        names = tuple(dict.fromkeys(expand_all(named, context)))
        allowed = {name for each in telling.values() for name in each} | set(of_setup)
        for name in names:
            if name not in allowed:
                message = f"station '{name}' is {_whereabouts(name, context)}, the task is about '{asked.of[0]}'"
                context.say(here, message, "leave it out")
                return ()
    for feature in features:
        if not telling[feature] and len(setups) < len(context.setups):
            return ()  # a set-up that could not be read may read them
        if not _enough(asked, feature, [name for name in names if name in telling[feature]], here, surfaces, context):
            return ()
    return names


def _telling(feature: str, setups: Mapping[str, Setup], context: Context) -> tuple[str, ...]:
    """Stations that tell of a feature: on its surface, carried by it for a travel, read from it for a spindle."""
    surface, stations = surface_of(feature, context), context.stations
    if feature == surface + TRAVEL:
        return tuple(name for name, station in stations.items() if station.carried_by == surface)
    on_it = tuple(name for name, station in stations.items() if station.surface == surface)
    if on_it or feature != surface + AXIS:
        return on_it
    return tuple(name for setup in setups.values() if setup.on == surface and setup.clocks for name in setup.reads)


def _of_setup(name: str, setups: Mapping[str, Setup]) -> tuple[str, ...]:
    return setups[name].reads if name in setups else ()


def _whereabouts(name: str, context: Context) -> str:
    return f"on '{context.stations[name].surface}'"


def _enough(
    asked: Asked, feature: str, names: list[str], here: Place, surfaces: Mapping[str, Surface], context: Context
) -> bool:
    """Whether these stations tell enough of one feature."""
    is_datum = feature == asked.to
    surface = surface_of(feature, context)
    least = _LINE if is_datum else _LEAST[asked.quantity]
    if asked.quantity == "twist" and len(asked.of) > 1:
        least = _TWIST_OF_TWO
    if (
        is_datum
        and asked.quantity not in ("coaxiality", "bore position")
        and isinstance(surfaces[surface].shape, Plate)
    ):
        least = _PLANE
    if feature == surface + TRAVEL:
        return _moves_enough(asked, feature, surface, names, here, context)
    if len(names) >= least.number:
        return True
    where = "" if len(asked.of) == 1 and not asked.to else f" on '{surface}'"
    counted = f"here {'is' if len(names) == 1 else 'are'} {len(names) or 'none'}"
    needs = f"{asked.quantity} needs {least.words} or more{where}"
    context.say(here, f"{needs}, {counted}: {least.why}", "add stations")
    return False


def _moves_enough(asked: Asked, feature: str, surface: str, names: list[str], here: Place, context: Context) -> bool:
    """Whether a travel is read at enough positions."""
    wanted = 3 if asked.quantity == "straightness" and feature != asked.to else 2
    found = len({context.stations[name].position for name in names})
    if found < wanted:
        words = "three positions" if wanted == 3 else "two positions"
        counted = f"here {'is' if found == 1 else 'are'} {found or 'none'}"
        message = f"{asked.quantity} of a travel needs stations at {words} or more of '{surface}', {counted}"
        context.say(here, message, "add positions: [low, top] to its stations")
        return False
    return True
