"""Tasks of the model: the quantity, its features, stations and limits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ..hints import near_names
from ..model.devices import Target
from ..model.machine import Bore, Face, Roll, Surface
from ..model.survey import Limit, Rule, Setup, Task
from .context import Context, place_of
from .entries import named_entries, read_entry
from .features import AXIS, TRAVEL, surface_of
from .limits import Limits, upper_of
from .names import expand_all
from .resolve_devices import Devices
from .schema_tasks import QUANTITIES, TaskKeys
from .strict_yaml import Block, Place
from .task_stations import Asked, task_stations

__all__ = ["read_tasks"]

CYLINDER = "minimum circumscribed cylinder"


def read_tasks(
    section: Block, surfaces: Mapping[str, Surface], devices: Devices, setups: Mapping[str, Setup], context: Context
) -> dict[str, Task]:
    """Tasks by name; entries that are wrong are reported and left out."""
    tasks = {}
    for name, raw, place in named_entries(section, context):
        word = _quantity(raw, place, section, name, context)
        entry = None if word is None else read_entry(QUANTITIES[word], raw, place, context)
        if word is None or entry is None or not context.stations_complete:
            continue
        task = _task(name, word, entry, raw, place, surfaces, devices, setups, context)
        if task is not None:
            tasks[name] = task
    return tasks


def _quantity(raw: Any, place: Place, section: Block, name: str, context: Context) -> str | None:
    """Key that says the quantity; None where none or several do, which is then reported."""
    if not isinstance(raw, Block):
        message = f"task '{name}' is a mapping such as {{flatness: bed, limit: 60 um}}"
        context.say(place_of(section, (name,), place), message)
        return None
    present = [word for word in QUANTITIES if word in raw]
    if len(present) == 1:
        return present[0]
    choices = ", ".join(QUANTITIES)
    if present:
        both = " and ".join(f"'{word}'" for word in present)
        here = max(raw.keys_at[word] for word in present)
        context.say(here, f"a task cannot be {both} at the same time", f"keep one of: {choices}")
        return None
    for key in raw:
        if near := near_names(key, QUANTITIES, most=1):
            context.say(raw.keys_at[key], f"a task has no key '{key}'", f"did you mean {near[0]}?")
            return None
    context.say(raw.place, "a task does not say what is asked for", f"one key is needed: {choices}")
    return None


def _task(
    name: str, word: str, entry: TaskKeys, raw: Block, place: Place, surfaces: Mapping[str, Surface], devices: Devices,
    setups: Mapping[str, Setup], context: Context,
) -> Task | None:  # fmt: skip
    features = getattr(entry, QUANTITIES[word].key_names()[word])
    of = (features,) if isinstance(features, str) else tuple(features)
    quantity, to = word, getattr(entry, "to", None) or ""
    if not all(surface_of(feature, context) in surfaces for feature in of if feature):
        return None
    if surface_of(to, context) not in (*surfaces, ""):
        return None
    fits = _features_fit(word, of, to, raw, surfaces, context) and _parts_fit(entry, raw, context)
    if not fits:
        return None
    here = place_of(raw, ("from",), place)
    stations = task_stations(Asked(quantity, of, to), entry.from_, here, surfaces, setups, context)
    datum = _datum(entry, raw, place, stations, context)
    tape = _tape(entry, of, raw, context)
    if not stations or datum is None or tape is None or not _steps(word, stations, raw, devices, context):
        return None
    limits = _limits(entry)
    local = getattr(entry, "local", None)
    return Task(
        name=name, quantity=quantity, surface=surface_of(of[0], context), stations=stations,
        reference=_reference(entry, stations, context), datum=datum,
        limit=upper_of(next(iter(limits.values()))), rule=Rule(entry.rule), fitted=tuple(entry.fitted or ()),
        coverage_factor=entry.coverage, line=place.line, of=of, to=to, plane=_plane(entry, limits), limits=limits,
        local=None if local is None else (local.limit, local.over), nominal=getattr(entry, "nominal", 0.0),
        waviness=getattr(entry, "waviness", None) or 0.0, total=getattr(entry, "total", False),
        tape=tape, tape_known_to=getattr(entry, "tape_known_to", 0.0),
    )  # fmt: skip


def _features_fit(
    word: str, of: tuple[str, ...], to: str, raw: Block, surfaces: Mapping[str, Surface], context: Context
) -> bool:
    """Whether the features have what is asked of them, and are not their own datum."""
    for index, feature in enumerate(of):
        here = place_of(raw, (word, index), raw.values_at[word])
        if not _exists(feature, surfaces, here, context):
            return False
        if feature == to:
            context.say(raw.values_at["to"], f"'{to}' cannot be its own datum", "name another surface or a set-up")
            return False
    return not to or _exists(to, surfaces, raw.values_at["to"], context)


def _exists(feature: str, surfaces: Mapping[str, Surface], here: Place, context: Context) -> bool:
    """Whether a surface has the axis or the travel that is spoken of."""
    surface = surface_of(feature, context)
    if feature == surface + TRAVEL and surfaces[surface].moves is None:
        context.say(here, f"'{surface}' does not move, so it has no travel", f"write {surface}, or say how it moves")
        return False
    if feature != surface + AXIS or isinstance(surfaces[surface].shape, (Roll, Bore, Face)):
        return True
    context.say(here, f"'{surface}' has no axis: it is no roll, bore or face", f"write {surface}")
    return False


def _parts_fit(entry: TaskKeys, raw: Block, context: Context) -> bool:
    """Whether keys that say the same, or exclude each other, are not both there."""
    before = context.told
    plane = getattr(entry, "plane", None)
    limit = getattr(entry, "limit", None)
    if plane is not None and getattr(entry, "channel", None) is not None:
        context.say(raw.keys_at["plane"], "both channel and plane say where the deviation counts", "keep one of them")
    if plane not in (None, "space") and isinstance(limit, Limit) and limit.diameter:
        message = f"a round zone counts in space, not in a {plane} plane"
        context.say(raw.values_at["plane"], message, "remove dia from the limit, or write plane: space")
    if plane not in (None, "space") and getattr(entry, "reference", "") == CYLINDER:
        context.say(raw.values_at["plane"], f"a cylinder is round, it has no {plane} plane", "write plane: space")
    if getattr(entry, "directions", None) is not None and isinstance(limit, dict):
        message = "both directions and limit name directions"
        context.say(raw.keys_at["directions"], message, "remove directions: the limits say them")
    local = getattr(entry, "local", None)
    if local is not None and isinstance(limit, Limit) and local.limit > limit.upper:
        message = "the local limit is wider than that of the whole length, so it says nothing"
        context.say(raw["local"].values_at["limit"], message, "make it smaller, or remove local")
    return context.told == before


def _limits(entry: TaskKeys) -> Limits:
    """Limit of each component; one for all under an empty name."""
    limit: Limit | Limits = entry.limit  # type: ignore[attr-defined]
    if isinstance(limit, dict):
        return limit
    directions: list[str] | None = getattr(entry, "directions", None)
    return {direction: limit for direction in directions} if directions else {"": limit}


def _plane(entry: TaskKeys, limits: Limits) -> str:
    """Where the deviation counts; a round zone counts in space."""
    said: str | None = getattr(entry, "plane", None) or getattr(entry, "channel", None)
    if said is not None:
        return said
    is_round = any(limit.diameter for limit in limits.values()) or getattr(entry, "reference", "") == CYLINDER
    return "space" if is_round else ""


def _tape(entry: TaskKeys, of: tuple[str, ...], raw: Block, context: Context) -> dict[str, dict[str, float]] | None:
    """Taped distances by visit; None where one is of no station of the first surface, which is then reported."""
    said: dict[str, Any] | None = getattr(entry, "tape", None)
    if said is None:
        return {}
    by_visit = said if any(isinstance(each, dict) for each in said.values()) else {"": said}
    for told in by_visit.values():
        for name in told:
            if name not in context.stations or context.stations[name].surface != of[0]:
                advice = context.near(name, [each for each, s in context.stations.items() if s.surface == of[0]])
                context.say(raw.keys_at["tape"], f"'{name}' is no station on '{of[0]}', where tapes start", advice)
                return None
    return by_visit


def _reference(entry: TaskKeys, stations: tuple[str, ...], context: Context) -> str:
    """What deviations count from; slopes have end points along one line, and a plane where their lines cross."""
    said: str | None = getattr(entry, "reference", "least squares")
    if said is not None:
        return said
    places = np.array([context.stations[name].at for name in stations])
    size = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    return "minimum zone" if size[1] > ONE_LINE * size[0] else "end points"


ONE_LINE = 1e-3
"""Stations lie on one line where they spread across it by less than this share."""


def _steps(word: str, stations: tuple[str, ...], raw: Block, devices: Devices, context: Context) -> bool:
    """Whether slopes are read by targets that read angles and stand on two feet, and a run-out at several turns."""
    if word == "run out" and len({context.stations[name].turn for name in stations}) < 2:
        message = "run-out is read while the part is turned, and none of its stations is read at several turns"
        advice = "add turned: [0 deg, 90 deg, 180 deg, 270 deg] to its stations"
        if any(context.stations[name].clocks for name in stations):
            advice = (
                "a target that goes round with its shaft sees the light, not the surface, and tells where the axis of "
                "turning is; let the target stand still while the part turns, with turned: in place of clock:"
            )
        context.say(raw.values_at[word], message, advice)
        return False
    if word != "slope":
        return True
    for name in stations:
        target = devices.find("target", context.stations[name].target)
        if isinstance(target, Target) and not (target.reads_angles and target.step > 0.0):
            lacks = "reads no angles" if not target.reads_angles else "has no step, the distance of its two feet"
            message = f"slopes are read at '{name}' by '{target.name}', which {lacks}"
            context.say(raw.values_at[word], message, "use a kind such as two axes and angles, with step: 200 mm")
            return False
    return True


def _datum(
    entry: TaskKeys, raw: Block, place: Place, stations: tuple[str, ...], context: Context
) -> tuple[str, ...] | None:
    """Stations that carry a three-point reference; None where they do not suit it."""
    named: list[str] | None = getattr(entry, "datum", None)
    if getattr(entry, "reference", "") != "three points" or not hasattr(entry, "datum"):
        if named is not None:
            message = "datum stations belong to reference: three points"
            context.say(raw.keys_at["datum"], message, "remove the datum, or name this reference")
            return None
        return ()
    here = place_of(raw, ("datum",), place_of(raw, ("reference",), place))
    datum = tuple(dict.fromkeys(expand_all(named or [], context)))
    if len(datum) != 3:
        message = f"a three-point reference needs three different stations, here are {len(datum)}"
        context.say(here, message, "for example datum: [A1, A7, E4]")
        return None
    for name in datum:
        if stations and name not in stations:
            context.say(here, f"datum station '{name}' is not among the stations of the task", "add it under from")
            return None
    places = np.array([context.stations[name].at for name in datum])
    area = 0.5 * float(np.linalg.norm(np.cross(places[1] - places[0], places[2] - places[0])))
    if area < 1e-3 * float(np.ptp(places, axis=0).max()):  # a triangle less than about 2 mm high
        context.say(here, "the three datum stations stand on one line and carry no plane", "choose one off that line")
        return None
    return datum
