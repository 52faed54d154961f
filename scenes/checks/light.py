"""Checks of single beams: sight, range, spot size."""

from __future__ import annotations

import numpy as np

from ..model.finding import Finding, Severity
from ..tracing.sight import Sight
from ..units import PLACE, SIZE, SPOT, show
from .plan import Plan

__all__ = ["check_range", "check_sight", "check_spot_size"]


def _station_finding(plan: Plan, row: int, severity: Severity, code: str, message: str, advice: str) -> Finding:
    rows = plan.geometry.rows
    name = rows.stations[rows.station[row]]
    return Finding(
        severity, code, "station", name, message, advice,
        setup=rows.setups[rows.setup[row]], line=plan.layout.stations[name].line,
    )  # fmt: skip


def _first_rows(plan: Plan, bad: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[int]:
    """Rows where ``bad`` holds, one for each set-up and station (re-readings tell nothing new)."""
    rows = plan.geometry.rows
    chosen = np.nonzero(bad)[0]
    keys = rows.setup[chosen] * len(rows.stations) + rows.station[chosen]
    return [int(chosen[i]) for i in np.sort(np.unique(keys, return_index=True)[1])]


def check_sight(plan: Plan) -> list[Finding]:
    """Beams that a machine surface blocks or clips, and detectors that cannot see the beam at all."""
    length = plan.layout.units.length
    rows, sight = plan.geometry.rows, plan.sight
    found = []
    for row in _first_rows(plan, np.isnan(plan.spots.path)):
        found.append(_station_finding(
            plan, row, Severity.ERROR, "wrong-side",
            "the detector does not face the beam", "turn the mount, or move the emitter to its other side",
        ))  # fmt: skip
    for row in _first_rows(plan, sight.sight > Sight.CLEAR):
        name, by = rows.stations[rows.station[row]], plan.obstacles.names[sight.by[row]]
        line = plan.layout.surfaces[by].line
        where = f" (line {line})" if line else ""
        reach = show(float(sight.reach[row]), length, to=PLACE)
        if sight.sight[row] == Sight.BLOCKED:
            found.append(_station_finding(
                plan, row, Severity.ERROR, "blocked",
                f"{name} is hidden by {by}{where}, {reach} from the emitter",
                "move the emitter, or read this station from a second set-up",
            ))  # fmt: skip
        else:
            inside = show(float(plan.spots.radius[row] - sight.clearance[row]), length, to=SIZE)
            found.append(_station_finding(
                plan, row, Severity.WARNING, "clipped",
                f"{by}{where} cuts {inside} into the edge of the beam to {name}, {reach} from the emitter",
                "a cut beam reads off centre: move the emitter a little sideways",
            ))  # fmt: skip
    return found


def check_range(plan: Plan) -> list[Finding]:
    """Targets that stand nearer or farther than the emitter can be used."""
    length, layout, rows = plan.layout.units.length, plan.layout, plan.geometry.rows
    emitters = [layout.emitters[layout.setups[name].emitter] for name in rows.setups]
    nearest = np.array([emitter.nearest for emitter in emitters])[rows.setup]
    farthest = np.array([emitter.farthest for emitter in emitters])[rows.setup]
    found = []
    for code, bad, limit, word in (
        ("too-near", plan.spots.path < nearest, nearest, "nearer than"),
        ("too-far", plan.spots.path > farthest, farthest, "farther than"),
    ):
        for row in _first_rows(plan, bad):
            name = rows.stations[rows.station[row]]
            emitter = emitters[rows.setup[row]].name
            path = show(float(plan.spots.path[row]), length, to=PLACE)
            allowed = show(float(limit[row]), length, to=PLACE)
            found.append(_station_finding(
                plan, row, Severity.ERROR, code,
                f"{name} is {path} from the emitter, {word} {emitter} can be used ({allowed})",
                "move the emitter, or read this station from another set-up",
            ))  # fmt: skip
    return found


def check_spot_size(plan: Plan) -> list[Finding]:
    """Beams that are wider at their target than the target reads properly."""
    rows, length = plan.geometry.rows, plan.layout.units.length
    found = []
    for row in _first_rows(plan, plan.spots.radius > plan.geometry.largest_spot):
        name = rows.stations[rows.station[row]]
        radius = show(float(plan.spots.radius[row]), length, to=SPOT)
        allowed = show(float(plan.geometry.largest_spot[row]), length, to=SPOT)
        found.append(_station_finding(
            plan, row, Severity.WARNING, "spot-too-large",
            f"the beam radius at {name} is {radius}; its target reads up to {allowed} properly",
            "shorten the beam, or take an emitter with a wider waist",
        ))  # fmt: skip
    return found
