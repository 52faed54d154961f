"""Set-ups of the model: devices, where the beam goes, and what is read in which order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from ..model.devices import Target
from ..model.machine import Surface
from ..model.survey import LevelBy, PrismUse, Setup
from .context import Context, place_of
from .datum_targets import ENDS, datum_name, read_datum_targets
from .entries import named_entries, read_entry, read_key
from .method_rules import has_line, parts_go_together
from .names import expand_all
from .placed_emitters import PlacedEmitter, place_emitter
from .prism_turn import prism_turn
from .reading_order import Order, reading_order
from .resolve_devices import Devices
from .resolve_level import read_level, read_vial
from .schema_setups import SetupKeys
from .strict_yaml import Block, Place

__all__ = ["read_setups"]


class _Parts(NamedTuple):
    """Parts of a set-up that could be read."""

    placed: PlacedEmitter
    base: str
    level: tuple[LevelBy, tuple[str, ...]]
    vial: str
    ends: tuple[str, ...]
    order: Order
    prism: PrismUse | None


def read_setups(
    section: Block, surfaces: Mapping[str, Surface], devices: Devices, context: Context
) -> dict[str, Setup]:
    """Set-ups by name; entries that are wrong are reported and left out."""
    read_datum_targets(section, surfaces, devices, context)
    setups = {}
    for name, raw, place in named_entries(section, context):
        entry = read_entry(SetupKeys, raw, place, context)
        if entry is None:
            _look_at_emitter(raw, surfaces, devices, context)
            continue
        parts = _parts(name, entry, raw, place, surfaces, devices, context)
        if parts is not None:
            setups[name] = _setup(name, entry, parts, place)
    return setups


def _look_at_emitter(raw: Any, surfaces: Mapping[str, Surface], devices: Devices, context: Context) -> None:
    """Report what does not fit about the emitter of a set-up in which something else is wrong."""
    emitter = read_key(SetupKeys, "emitter", raw, context) if isinstance(raw, Block) else None
    if emitter is not None:
        place_emitter(emitter, raw["emitter"], surfaces, devices, context)


def _setup(name: str, entry: SetupKeys, parts: _Parts, place: Place) -> Setup:
    placed = parts.placed
    near, far = parts.ends or ("", "")
    return Setup(
        name=name, emitter=entry.emitter.use, base=parts.base, on=placed.on, at=placed.at, mount=placed.mount,
        level_by=parts.level[0], level_stations=parts.level[1], reads=parts.order.reads, again=parts.order.again,
        seconds_per_reading=entry.pace, centred_within=entry.centred_within, line=place.line,
        aim=None if parts.base else placed.aim, near=near, far=far, clocks=placed.turns, reversed=entry.reversed,
        prism=parts.prism, through=tuple(entry.through or ()), stage=placed.stage, vial=parts.vial,
        wander=placed.wander[0], wander_tilt=placed.wander[1],
    )  # fmt: skip


def _parts(
    name: str, entry: SetupKeys, raw: Block, place: Place, surfaces: Mapping[str, Surface], devices: Devices,
    context: Context,
) -> _Parts | None:  # fmt: skip
    """Parts of a set-up; None where any of them does not fit, which is then reported."""
    placed = place_emitter(entry.emitter, raw["emitter"], surfaces, devices, context)
    fits = parts_go_together(entry, raw, context)
    base = "" if has_line(entry) else entry.turned_by or devices.only("rotary base", place, "turned by")
    if base:
        devices.find("rotary base", base)
    fits = _light_goes_through(entry, raw, devices, context) and fits
    vial = read_vial(entry, raw, place, devices, context)
    if not context.stations_complete or not fits:
        return None
    level = read_level(entry, raw, place, surfaces, devices, context)
    if has_line(entry) and level is not None and level[0] is not LevelBy.VIAL:
        level = LevelBy.BEST_FIT, ()  # no plane is set
    ends = _ends(name, entry, raw, context)
    if placed is None or base is None or vial is None or ends is None:
        return None
    order = reading_order(entry, raw, place, ends, context)
    turned = prism_turn(entry, raw, placed, ends, surfaces, devices, context)
    if level is None or order is None or turned is None:
        return None
    prism = None
    if entry.prism is not None:
        devices.find("prism", entry.prism.use)
        prism = PrismUse(entry.prism.use, order.stops, turned, entry.prism.sweeps, entry.prism.centred_within)
    return _Parts(placed, base, level, vial, ends, order, prism)


def _ends(setup: str, entry: SetupKeys, raw: Block, context: Context) -> tuple[str, ...] | None:
    """Names of the near and the far station, none where there is no base line; None where one name is several."""
    found: list[str] = []
    for key, end in zip(ENDS, (entry.near, entry.far), strict=True):
        if end is None:
            continue
        named = expand_all([end], context) if isinstance(end, str) else (datum_name(setup, key),)
        if len(named) != 1:
            context.say(raw.values_at[key], f"'{end}' is {len(named)} stations; {key} is one", "name one of them")
            return None
        found += named
    return tuple(found)


def _light_goes_through(entry: SetupKeys, raw: Block, devices: Devices, context: Context) -> bool:
    """Whether every target that is passed lets light through; the last one need not."""
    names = entry.through or []
    targets = [devices.find("target", name) for name in names]
    for index, target in enumerate(targets[:-1]):
        if isinstance(target, Target) and target.passes <= 0.0:
            here = place_of(raw, ("through", index), raw.place)
            message = f"'{target.name}' lets no light through to the targets behind it"
            context.say(here, message, "use a kind such as see-through, or put it last")
            return False
    return True
