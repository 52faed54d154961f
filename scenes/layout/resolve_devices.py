"""Devices of the model: values of a kind, with those that the layout overrides."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..hints import near_names
from ..model.devices import Device, Emitter, Origins, Prism, RotaryBase, Stage, Target, Vial
from .catalogue import Kind
from .context import Context, place_of
from .entries import named_entries, read_entry
from .keys import Keys
from .kind_values import kind_values
from .schema_devices import BaseKeys, EmitterKeys, PrismKeys, StageKeys, VialKeys
from .schema_targets import TargetKeys
from .strict_yaml import Block, Place

__all__ = ["ROLES", "Devices", "device_roles", "read_devices"]

ROLES: dict[str, type[Keys]] = {
    "emitter": EmitterKeys, "rotary base": BaseKeys, "target": TargetKeys, "prism": PrismKeys, "stage": StageKeys,
    "vial": VialKeys,
}  # fmt: skip
"""Role -> keys of its entries."""

_MAKERS: dict[str, Callable[..., Device]] = {
    "emitter": Emitter, "rotary base": RotaryBase, "target": Target, "prism": Prism, "stage": Stage, "vial": Vial,
}  # fmt: skip


def device_roles(section: Block) -> dict[str, str]:
    """Name -> role for each device; empty where its entry names none or several."""
    roles = {}
    for name, raw in section.items():
        present = [role for role in ROLES if isinstance(raw, dict) and role in raw]
        roles[name] = present[0] if len(present) == 1 else ""
    return roles


class Devices:
    """Devices of the layout by role; a kind of the catalogue that is named directly becomes one of them."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self.by_role: dict[str, dict[str, Any]] = {role: {} for role in ROLES}

    def add(self, device: Device) -> None:
        """Keep a device under its role."""
        self.by_role[_role_of(device)][device.name] = device

    def find(self, role: str, name: str) -> Device | None:
        """Device of this name, made from the catalogue where the layout has none; None where its entry is wrong."""
        if name not in self.by_role[role] and name not in self._context.roles:
            kind: Kind | None = self._context.kinds.get(role, {}).get(name)
            if kind is not None and kind.data is not None:
                self.add(_make(role, name, name, *kind_values(kind, None, None), line=0))
        found: Device | None = self.by_role[role].get(name)
        return found

    def only(self, role: str, place: Place, key: str) -> str | None:
        """Name of the only device of this role; where there is no such thing, the key that names it is asked for."""
        names = [name for name, its_role in self._context.roles.items() if its_role == role]
        if len(names) == 1:
            return names[0]
        article = "an" if role[0] in "aeiou" else "a"
        choice = f"for example {key}: {names[0]}" if names else f"name {article} {role} under devices"
        many = f"the layout has {len(names)}" if names else "the layout has none"
        self._context.say(place, f"the key '{key}' must say which {role} is meant; {many}", choice)
        return None


def _role_of(device: Device) -> str:
    return next(role for role, maker in _MAKERS.items() if maker is type(device))


def read_devices(section: Block, context: Context) -> Devices:
    """Read every entry under ``devices``."""
    devices = Devices(context)
    for name, raw, place in named_entries(section, context):
        if not isinstance(raw, Block):
            context.say(place_of(section, (name,), place), f"device '{name}' is a mapping such as {{emitter: block}}")
            continue
        present = [role for role in ROLES if role in raw]
        if len(present) != 1:
            _say_role(name, raw, present, context)
            continue
        entry = read_entry(ROLES[present[0]], raw, place, context)
        kind: Kind | None = context.kinds[present[0]].get(str(raw[present[0]]))
        if entry is None or kind is None or kind.data is None:
            continue
        device = _make(present[0], name, str(raw[present[0]]), *kind_values(kind, entry, raw), line=place.line)
        _check_device(device, raw, place, context)
        devices.add(device)
    return devices


def _say_role(name: str, raw: Block, present: list[str], context: Context) -> None:
    choices = ", ".join(ROLES)
    if present:
        both = " and ".join(f"'{role}'" for role in present)
        place = max(raw.keys_at[role] for role in present)
        context.say(place, f"device '{name}' cannot be {both} at the same time", f"keep one of: {choices}")
        return
    for key in raw:
        if near := near_names(key, ROLES, most=1):
            context.say(raw.keys_at[key], f"a device has no key '{key}'", f"did you mean {near[0]}?")
            return
    context.say(raw.place, f"device '{name}' does not say what it is", f"one key is needed: {choices}")


def _make(role: str, name: str, kind: str, values: dict[str, Any], origins: Origins, line: int) -> Device:
    return _MAKERS[role](name=name, kind=kind, line=line, origins=origins, **values)


def _check_device(device: Device, raw: Block, place: Place, context: Context) -> None:
    """Report values that do not go together."""

    def say(keys: tuple[str, ...], message: str, advice: str) -> None:
        context.say(place_of(raw, (next((key for key in keys if key in raw), ""),), place), message, advice)

    if isinstance(device, Emitter) and device.nearest >= device.farthest:
        say(("nearest", "farthest"), "the nearest usable distance must be smaller than the farthest", "exchange them")
    if isinstance(device, Target):
        if device.reads_angles and device.angle_window <= 0.0:
            message = f"'{device.name}' reads angles, but nothing says how large ones"
            say(("reads angles",), message, "add angle window: 15 arcmin")
        if device.passes > 0.0 and device.thickness <= 0.0:
            message = f"'{device.name}' passes light on, but nothing says how thick its plate is"
            say(("passes",), message, "add thickness: 3 mm and index: 1.515")
