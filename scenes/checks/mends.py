"""Changes of a set-up that may mend a finding, each tried by tracing the changed plan before it is advised."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.survey import Setup, Station, Stop
from ..tracing.launches import launch_of
from ..tracing.places import pose_of
from ..units import SIZE, decimals, from_si, show, to_si
from ..vectors import Floats
from .faults import any_fault
from .plan import Plan, traced_plan

__all__ = ["TURN", "Mend", "first_that_helps", "moved", "rounded", "stops_words", "traced_with", "with_setup"]

TURN = 1e-3
"""Turns are advised to this [deg]."""

STILL = 0.5 * SIZE
"""Moves below this [m] are none."""

AXES = ("x", "y", "z")


@dataclass(frozen=True, slots=True, eq=False)
class Mend:
    """A changed set-up, and the change in words."""

    words: str
    setup: Setup


def rounded(value: float, unit: str, to: float = SIZE) -> float:
    """A length as it will be printed, metres: what is tried is what is said."""
    return to_si(round(from_si(value, unit, "length"), decimals(unit, "length", to)), unit, "length")


def with_setup(layout: Layout, setup: Setup) -> Layout:
    """The layout with ``setup`` as its only set-up; near and far targets that stand in its beam move with it."""
    stations = dict(layout.stations)
    for name in (setup.near, setup.far):
        if name and stations[name].is_datum:
            stations[name] = _carried(layout, stations[name], layout.setups[setup.name], setup)
    return replace(layout, setups={setup.name: setup}, stations=stations)


def _carried(layout: Layout, station: Station, old: Setup, new: Setup) -> Station:
    """A target that stands in the beam of ``old``, as far from the emitter in that of ``new``."""
    before, after = launch_of(layout, old), launch_of(layout, new)
    pose = pose_of(layout, station.surface)
    turn = after.rotation @ before.rotation.T
    at = pose.inverse().points(after.origin + turn @ (pose.points(station.at) - before.origin))
    normal, along = (
        pose.inverse().directions(turn @ pose.directions(axis)) for axis in (station.normal, station.along)
    )
    return replace(station, at=at, normal=normal, along=along)


def traced_with(plan: Plan, setup: Setup) -> Plan | None:
    """The plan of ``setup`` alone in place of the one of that name; None where it cannot be traced."""
    try:
        return traced_plan(with_setup(plan.layout, setup))
    except GeometryError:
        return None


def first_that_helps(plan: Plan, mends: Iterable[Mend], cures: Callable[[Plan], bool]) -> Mend | None:
    """The first of the ``mends`` that cures its finding and makes no other reading worse."""
    rows, faults = plan.geometry.rows, any_fault(plan)
    for mend in mends:
        trial = traced_with(plan, mend.setup)
        before = faults[rows.setup == rows.setups.index(mend.setup.name)]
        if trial is not None and cures(trial) and not np.any(any_fault(trial) & ~before):
            return mend
    return None


def moved(layout: Layout, setup: Setup, by: Floats) -> Mend | None:
    """The emitter moved by about ``by`` (3,) [m, in the frame of what it stands on]; None where its mount cannot.

    The prism, if there is one, keeps its place along the beam.
    """
    unit = layout.units.length
    step = np.array([rounded(float(part), unit) for part in by])
    step[np.abs(step) < STILL] = 0.0
    words, mount = [], setup.mount
    at = setup.at + step * [1.0, 1.0, 0.0]
    if step[2]:
        verb, size = "raise" if step[2] > 0.0 else "lower", show(abs(float(step[2])), unit, to=SIZE)
        if mount.lowest < mount.highest:
            height = mount.height + float(step[2])
            if not mount.lowest - STILL <= height <= mount.highest + STILL:
                return None
            mount = replace(mount, height=height)
            words.append(f"{verb} the {mount.kind} by {size} to {show(height, unit, to=SIZE)}")
        else:
            at = at + step * [0.0, 0.0, 1.0]
            words.append(f"{verb} the emitter by {size}")
    sideways = [
        f"{show(abs(float(part)), unit, to=SIZE)} toward {'+' if part > 0.0 else '-'}{AXES[axis]}"
        for axis, part in enumerate(step[:2]) if part
    ]  # fmt: skip
    if sideways:
        words.append(f"move the emitter {' and '.join(sideways)}{_frame_words(setup)}")
    if not words:
        return None
    changed = replace(setup, at=at, mount=mount)
    if setup.prism is not None:
        along = float(pose_of(layout, setup.on).directions(step) @ launch_of(layout, setup).rotation[:, 0])
        stops = tuple(replace(stop, distance=stop.distance - along) for stop in setup.prism.stops)
        if min(stop.distance for stop in stops) <= 0.0:
            return None
        changed = replace(changed, prism=replace(setup.prism, stops=stops))
        if abs(along) >= STILL:
            words.append(f"leave the prism where it is ({stops_words(stops, unit)} along the beam then)")
    return Mend(" and ".join(words), changed)


def stops_words(stops: tuple[Stop, ...], unit: str) -> str:
    """Distances of the stops of a prism in words, with their names where there are several."""
    said = [(stop.name, show(stop.distance, unit, to=SIZE)) for stop in stops]
    return said[0][1] if len(said) == 1 else ", ".join(f"{name} {distance}" for name, distance in said)


def _frame_words(setup: Setup) -> str:
    return "" if setup.on == "floor" else f" of {setup.on}"
