"""Checks of where things stand: stations on their surface, mounts and bases within their travel."""

from __future__ import annotations

import numpy as np

from ..hints import listed
from ..model.extent import beyond_edges
from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.machine import FLOOR
from ..model.mounts import Mount
from ..model.survey import Station
from ..tracing.places import pose_of
from ..units import SIZE, show
from .faults import base_tilts, is_overtilted
from .plan import Plan
from .saying import rows_of_setups, setup_finding

__all__ = ["check_base_tilt", "check_mounts", "check_places", "check_reads"]

ANGLE_STEP = 1e-4
"""More than what lacks of a tilt, so that what is printed is enough, rad."""

SLACK = 1e-9
"""Rounding allowed at the ends of a mount's travel, metres."""


def check_places(layout: Layout) -> list[Finding]:
    """Stations that lie outside the surface that they are on."""
    places: dict[str, list[Station]] = {}
    told = set()
    for name, station in layout.stations.items():
        place = (station.group, name.partition("@")[0])
        if place not in told and station.surface != FLOOR:  # one place at several positions is told once
            places.setdefault(station.surface, []).append(station)
        told.add(place)
    over: dict[str, float] = {}
    for surface, stations in places.items():
        beyond = beyond_edges(layout.surfaces[surface].shape, np.array([station.at for station in stations]))
        over |= {station.name: far for station, far in zip(stations, beyond.tolist(), strict=True) if far > 0.0}
    return [
        Finding(
            Severity.ERROR, "off-surface", "station", name,
            f"{name} lies {show(over[name], layout.units.length, to=SIZE)} outside {station.surface}",
            "correct its place or the size of the surface", line=station.line,
        )
        for name, station in layout.stations.items() if name in over
    ]  # fmt: skip


def check_mounts(layout: Layout) -> list[Finding]:
    """Mounts that would have to stand higher or lower than they can."""
    found = []
    for setup in layout.setups.values():
        found += _mount_finding(layout, setup.mount, "set-up", setup.name, setup.line)
    seen: set[str] = set()
    for station in layout.stations.values():
        if station.group not in seen:
            here = _mount_finding(layout, station.mount, "station", station.name, station.line)
            if here:
                seen.add(station.group)
            found += here
    return found


def _mount_finding(layout: Layout, mount: Mount, kind: str, name: str, line: int) -> list[Finding]:
    if mount.lowest - SLACK <= mount.height <= mount.highest + SLACK:
        return []
    unit = layout.units.length
    return [Finding(
        Severity.ERROR, "mount-height", kind, name,
        f"the {mount.kind} at {name} is asked to stand at {show(mount.height, unit, to=SIZE)}; it goes from "
        f"{show(mount.lowest, unit, to=SIZE)} to {show(mount.highest, unit, to=SIZE)}",
        f"take another height or another {mount.kind}", line=line,
    )]  # fmt: skip


def check_reads(layout: Layout) -> list[Finding]:
    """Stations that a task asks for and no set-up reads."""
    read = {name for setup in layout.setups.values() for name in setup.reads}
    found = []
    if not layout.tasks:
        found.append(Finding(
            Severity.NOTE, "no-task", "layout", layout.title or layout.file, "the layout asks for nothing",
            "state under tasks what is to be proven, such as flatness with its limit",
        ))  # fmt: skip
    for task in layout.tasks.values():
        absent = [name for name in task.stations if name not in read]
        if absent:
            found.append(Finding(
                Severity.ERROR, "not-read", "task", task.name,
                f"no set-up reads {listed(absent)}", "add them to the reads of a set-up, or take them out of the task",
                line=task.line,
            ))  # fmt: skip
    return found


def check_base_tilt(plan: Plan) -> list[Finding]:
    """Bases that would have to be tilted farther than their screws allow."""
    found = []
    for setup, mine in rows_of_setups(plan, is_overtilted(plan)):
        base, row = plan.layout.bases[setup.base], int(mine[0])
        tilt = float(base_tilts(plan)[row])
        pose = pose_of(plan.layout, setup.on)
        lean = pose.inverse().directions(plan.geometry.launch_rotation[row][:, 2])[:2]
        axis = int(np.argmax(np.abs(lean)))
        more = show(tilt - base.tilt_range + ANGLE_STEP, "deg", "angle", 2)
        found.append(setup_finding(
            setup, Severity.ERROR, "base-tilt",
            f"{base.name} has to be tilted by {show(tilt, 'deg', 'angle', 2)}; its screws allow "
            f"{show(base.tilt_range, 'deg', 'angle', 2)}",
            f"lean the mount below it by {more} or more, mostly toward {'+' if lean[axis] > 0.0 else '-'}{'xy'[axis]}, "
            "or level by other points",
        ))  # fmt: skip
    return found
