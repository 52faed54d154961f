"""Findings about windows that only stations themselves can mend: their mounts raised or lowered, or moved aside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from ..errors import GeometryError
from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.survey import Setup, Station
from ..units import PLACE, SIZE, show
from ..vectors import Floats, Indices
from .faults import any_fault, is_off, places, room, telling
from .mends import STILL, rounded
from .plan import Plan, traced_plan
from .saying import names_of, rows_finding, station_name

__all__ = ["station_findings"]

STEEP = 0.02
"""What cannot be mended along the mount and beside it may be this share of the whole."""

Step = tuple[float, float]
"""How far a station has to go up along its mount and to its side, metres."""


def station_findings(plan: Plan, setup: Setup, off: Indices, told: Callable[[int, int], str]) -> list[Finding]:
    """One finding for all stations of a group that need the same change; ``told`` describes a row and its channel."""
    number = plan.geometry.rows.station[off]
    steps = {station_name(plan, int(off[number == k][0])): _step(plan, off[number == k]) for k in np.unique(number)}
    helps = _helps(plan, {name: step for name, step in steps.items() if step is not None})
    groups: dict[tuple[str, Step | None], list[int]] = {}  # those that no step of their mount helps are one group
    for row in off.tolist():
        name = station_name(plan, row)
        station, step = plan.layout.stations[name], steps[name]
        able = step is not None and _in_travel(station, step)
        groups.setdefault((station.group if able else station.mount.kind, step), []).append(row)
    found = []
    for (_, step), mine in groups.items():
        past = np.where(telling(plan), np.abs(places(plan)) - room(plan), -np.inf)[mine]
        worst, channel = np.unravel_index(int(np.argmax(past)), past.shape)
        names = names_of(plan, mine)
        count = f"; {len(names)} stations are off by the same" if len(names) > 1 else ""
        advice = _advice(plan.layout, plan.layout.stations[names[0]], setup, step, helps)
        found.append(rows_finding(
            plan, np.array(mine), Severity.ERROR, "off-window", told(mine[worst], int(channel)) + count, advice,
        ))  # fmt: skip
    return found


def _step(plan: Plan, mine: Indices) -> Step | None:
    """What brings the spots of one station to the middle; None where its mount cannot, or its rows differ too much."""
    geometry, unit = plan.geometry, plan.layout.units.length
    station = plan.layout.stations[station_name(plan, int(mine[0]))]
    if station.clocks or station.mount.kind == "discs" or station.is_datum:
        return None
    reads = geometry.reads
    spot = np.stack([np.where(reads[c], getattr(plan.spots, c), 0.0)[mine] for c in ("h", "v")], axis=1)
    ways = spot[:, :1] * geometry.axis_h[mine] + spot[:, 1:] * geometry.axis_v[mine]
    up = np.einsum("ij,ij->i", ways, geometry.normal[mine])
    aside = np.einsum("ij,ij->i", ways, geometry.beside[mine])
    rest = ways - up[:, None] * geometry.normal[mine] - aside[:, None] * geometry.beside[mine]
    differ = max(float(np.ptp(up)), float(np.ptp(aside)))
    if np.abs(rest).max() > STEEP * np.abs(ways).max() or differ > 0.5 * float(geometry.window[mine].max()):
        return None
    steps = [rounded(0.5 * float(part.min() + part.max()), unit) for part in (up, aside)]
    return steps[0] if abs(steps[0]) >= STILL else 0.0, steps[1] if abs(steps[1]) >= STILL else 0.0


def _changed(station: Station, step: Step) -> Station:
    """The station with its mount set to another height and its foot moved aside."""
    side = np.cross(station.normal, station.along)
    mount = replace(station.mount, height=station.mount.height + step[0])
    return replace(station, mount=mount, at=station.at + step[1] * side)


def _in_travel(station: Station, step: Step) -> bool:
    height, mount = station.mount.height + step[0], station.mount
    return step[0] == 0.0 or mount.lowest - STILL <= height <= mount.highest + STILL


def _helps(plan: Plan, steps: dict[str, Step]) -> bool:
    """Whether these steps, where mounts can make them, bring all their spots back and spoil no other reading."""
    layout = plan.layout
    stations = dict(layout.stations)
    for name, step in steps.items():
        if _in_travel(stations[name], step):
            stations[name] = _changed(stations[name], step)
    try:
        trial = traced_plan(replace(layout, stations=stations))
    except GeometryError:
        return False
    changed = _rows_of(plan, [name for name in steps if stations[name] is not layout.stations[name]])
    return not is_off(trial)[changed].any() and not np.any(any_fault(trial) & ~any_fault(plan))


def _rows_of(plan: Plan, names: list[str]) -> Floats:
    rows = plan.geometry.rows
    wanted = np.array([name in names for name in rows.stations], dtype=bool)
    return wanted[rows.station]


def _advice(layout: Layout, station: Station, setup: Setup, step: Step | None, helps: bool) -> str:
    unit, mount = layout.units.length, station.mount
    if step is None:
        return "bring the beam and the middle of the target together: move the emitter, or take another mount"
    if not _in_travel(station, step):
        reach = f"{show(mount.lowest, unit, to=PLACE)} to {show(mount.highest, unit, to=PLACE)}"
        wanted, by = show(mount.height + step[0], unit, to=SIZE), show(abs(step[0]), unit, to=SIZE)
        verb = "lower" if step[0] > 0.0 else "raise"
        return f"the {mount.kind} goes from {reach}, not to {wanted}: take another one, or {verb} the emitter by {by}"
    parts = []
    if step[0]:
        verb = "raise" if step[0] > 0.0 else "lower"
        to = show(mount.height + step[0], unit, to=SIZE)
        parts.append(f"{verb} the {mount.kind} by {show(abs(step[0]), unit, to=SIZE)} to {to}")
    if step[1]:
        side = np.cross(station.normal, station.along) * np.sign(step[1])
        parts.append(f"move the target {show(abs(step[1]), unit, to=SIZE)} {_toward(side, station.surface)}")
    words = " and ".join(parts)
    return words if helps else f"{words} for {setup.name} alone: other readings need it where it is"


def _toward(direction: Floats, surface: str) -> str:
    axis = int(np.argmax(np.abs(direction)))
    return f"toward {'+' if direction[axis] > 0.0 else '-'}{'xyz'[axis]} of {surface}"
