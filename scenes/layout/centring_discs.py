"""Whether centring discs fit the bores that they stand in, and their targets sit on the axis."""

from __future__ import annotations

from collections.abc import Mapping

from ..model.devices import Target
from ..model.machine import Bore, Surface
from ..model.survey import Group
from .context import Context
from .entries import read_key
from .resolve_devices import Devices
from .schema_mounts import MountKeys
from .strict_yaml import Block, Place

__all__ = ["check_discs"]

LOOSEST = 0.5e-3
"""Discs may be smaller than the bore by this, metres."""

TIGHTEST = 1e-9
"""Rounding allowed where they are as large as the bore, metres."""


def check_discs(section: Block, surfaces: Mapping[str, Surface], devices: Devices, context: Context) -> None:
    """Report discs of station groups that do not fit where they stand."""
    for name, group in context.groups.items():
        raw = section.get(name)
        if not isinstance(raw, Block) or not isinstance(raw.get("mount"), Block) or "discs" not in raw["mount"]:
            continue
        diameter: float | None = read_key(MountKeys, "discs", raw["mount"], context)
        if diameter is not None:
            _check_group(group, diameter, raw, surfaces, devices, context)


def _check_group(
    group: Group, diameter: float, raw: Block, surfaces: Mapping[str, Surface], devices: Devices, context: Context
) -> None:
    here = raw["mount"].values_at["discs"]
    for name in group.stations:
        station = context.stations[name]
        shape = surfaces[station.surface].shape
        if not isinstance(shape, Bore):
            message = f"centring discs need a bore to stand in; '{station.surface}' is none"
            context.say(here, message, "use post, magnet or bracket")
            return
        if not _fits(name, shape, float(station.at[2]), diameter, here, context):
            return
        target = devices.find("target", station.target)
        if isinstance(target, Target) and target.centre_height > 0.0:
            above = f"{1e3 * target.centre_height:.6g} mm above its foot"
            message = f"the middle of '{target.name}' is {above}, not on the axis of its discs"
            context.say(here, message, "use the kind bore, or state centre height: 0 mm")
            return


def _fits(name: str, bore: Bore, along: float, diameter: float, here: Place, context: Context) -> bool:
    """Whether the discs fit a section of the bore at ``along`` [m from the entrance]."""
    sections = [wide for wide, start, end in bore.sections if start - TIGHTEST <= along <= end + TIGHTEST]
    if not sections or any(-LOOSEST <= diameter - wide <= TIGHTEST for wide in sections):
        return True
    wide = f"{1e3 * sections[0]:.6g} mm"
    message = f"discs of {1e3 * diameter:.6g} mm do not fit at '{name}', where the bore is {wide}"
    context.say(here, message, f"write discs: {wide}, in a group of their own where others differ")
    return False
