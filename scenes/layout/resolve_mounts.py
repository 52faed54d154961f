"""Mounts of the model: what carries a target or an emitter."""

from __future__ import annotations

from ..model.devices import Stage
from ..model.mounts import Mount
from .catalogue import Kind
from .context import Context
from .kind_values import DEFAULT, kind_values, stated_at
from .resolve_devices import Devices
from .schema_mounts import MountKeys
from .strict_yaml import Block

__all__ = ["NO_MOUNT", "read_emitter_mount", "read_mount"]

_UNTOUCHED = ("repeatability", "height_known_to", "side_known_to", "side_repeats", "tilts", "arm", "diameter",
              "eccentric_known_to")  # fmt: skip
NO_MOUNT = Mount(
    "none", 0.0, 0.0, 0.0, 0.0, 0.0,
    origins=dict.fromkeys(("height", "lowest", "highest", *_UNTOUCHED), "default: no mount"),
)  # fmt: skip
"""A device that stands on the surface itself."""


def read_mount(keys: MountKeys, raw: Block, context: Context) -> Mount | None:
    """Mount of a target; None where a value does not fit, which is then reported."""
    if keys.stage is not None:
        message = "a stage carries an emitter; this mount carries a target"
        context.say(raw.keys_at["stage"], message, "use post, magnet, bracket or discs")
        return None
    return _mount(keys, raw, context)


def read_emitter_mount(keys: MountKeys, raw: Block, devices: Devices, context: Context) -> Mount | None:
    """Mount of an emitter; None where a value does not fit, which is then reported."""
    if keys.discs is not None:
        message = "centring discs carry a target in a bore; this mount carries an emitter"
        context.say(raw.keys_at["discs"], message, "use tripod, stage, post or magnet")
        return None
    if keys.stage is None:
        return _mount(keys, raw, context)
    own = [key for key in raw if key != "stage"]
    if own:
        message = f"'{own[0]}' does not belong to a stage, whose values stand under devices"
        context.say(raw.keys_at[own[0]], message, "remove it")
        return None
    stage = devices.find("stage", keys.stage)
    if not isinstance(stage, Stage):
        return None
    origin = stage.origins["height"]
    origins = dict.fromkeys(_UNTOUCHED, f"default: {stage.name} is set once")
    origins.update(dict.fromkeys(("height", "lowest", "highest"), origin))
    return Mount("stage", stage.height, stage.height, stage.height, 0.0, 0.0, origins=origins)


def _mount(keys: MountKeys, raw: Block, context: Context) -> Mount | None:
    name = next(key for key in MountKeys.what if getattr(keys, key) is not None)
    kind: Kind | None = context.kinds["mount"].get(name)
    if kind is None or kind.data is None:
        return None
    if keys.arm is not None and name != "bracket":
        context.say(raw.keys_at["arm"], f"an arm belongs to a bracket, this is a {name}", "use bracket, or remove it")
        return None
    values, origins = kind_values(kind, keys, raw)
    values["height"] = 0.0 if name == "discs" else getattr(keys, name)
    origins["height"] = stated_at(raw, name)
    values["arm"], values["diameter"] = keys.arm or 0.0, keys.discs or 0.0
    for key in ("arm", "discs"):
        origins["diameter" if key == "discs" else key] = stated_at(raw, key) if key in raw else DEFAULT
    values["repeatability"], origins["repeatability"] = values.pop("repeats"), origins.pop("repeats")
    mount = Mount(kind=name, origins=origins, **values)
    return mount if name == "discs" or _height_fits(mount, raw, context) else None


def _height_fits(mount: Mount, raw: Block, context: Context) -> bool:
    if mount.lowest > mount.highest:
        context.say(raw.keys_at[mount.kind], "the lowest height of this mount is above its highest", "exchange them")
        return False
    if not mount.lowest <= mount.height <= mount.highest:
        between = f"{1e3 * mount.lowest:.6g} mm to {1e3 * mount.highest:.6g} mm"
        message = f"a {mount.kind} of {1e3 * mount.height:.6g} mm is outside what it can be set to: {between}"
        context.say(raw.values_at[mount.kind], message, "change the height, or state lowest or highest here")
        return False
    return True
