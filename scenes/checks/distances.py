"""Checks of distances: the range of emitters, the reach of cables and radios, and the width of the beam."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from ..model.finding import Finding, Severity
from ..model.survey import Setup
from ..tracing.beam import beam_radius
from ..tracing.places import pose_of
from ..units import PLACE, SPOT, show
from ..vectors import Flags, Floats, Indices, length
from .faults import ROUNDING, farthest, is_astray, is_too_far, is_too_near, nearest
from .mends import Mend, first_that_helps, moved
from .plan import Plan
from .saying import counted, names_of, rows_finding, rows_of_setups, station_name

__all__ = ["check_range", "check_reach", "check_spot_size", "length_of_width"]

MORE = (1.0, 1.1, 1.3, 1.6, 2.0)
"""A move may have to be longer than the way that lacks, since it does not point straight at every target."""


WAYS = 2_000
"""Lengths at which the width of a beam is looked up."""


def _toward(plan: Plan, setup: Setup, row: int, way: float) -> Iterator[Mend]:
    """The emitter moved by ``way`` [m] and more toward the target of ``row``, away from it where negative.

    A base moves in the plane that it stands on, a line along itself.
    """
    geometry, pose = plan.geometry, pose_of(plan.layout, setup.on)
    if setup.base:
        toward = geometry.detector_centres()[row] - geometry.beam_origins()[row]
    else:
        toward = geometry.launch_rotation[row][:, 0] * (1.0 if geometry.rows.side[row] == 0 else -1.0)
    local = pose.inverse().directions(toward)
    if setup.base:
        local = local * [1.0, 1.0, 0.0]
    size = float(length(local))
    if size < ROUNDING:
        return
    for more in MORE:
        mend = moved(plan.layout, setup, (np.copysign(PLACE, way) + more * way) * local / size)
        if mend is not None:
            yield mend


def _finding(
    plan: Plan, setup: Setup, mine: Indices, severity: Severity, code: str, message: str, lacks: Floats,
    bad: Callable[[Plan], Flags], otherwise: str,
) -> Finding:  # fmt: skip
    """A finding whose advice is the least move of the emitter; ``lacks`` (k,) is positive where it must come nearer."""
    worst = int(mine[int(np.argmax(np.abs(lacks)))])
    names = [name for name in names_of(plan, mine) if name != station_name(plan, worst)]
    also = f"; also {counted(names)}" if names else ""
    way = float(lacks[int(np.argmax(np.abs(lacks)))])
    mend = first_that_helps(plan, _toward(plan, setup, worst, way), lambda trial: not bad(trial).any())
    return rows_finding(plan, mine, severity, code, message + also, mend.words if mend else otherwise)


def check_range(plan: Plan) -> list[Finding]:
    """Targets that stand nearer or farther than the emitter can be used, along the way of the light."""
    found = []
    unit, path = plan.layout.units.length, plan.spots.path
    for code, bad, limit, word in (
        ("too-near", is_too_near, nearest(plan), "nearer than"),
        ("too-far", is_too_far, farthest(plan), "farther than"),
    ):
        for setup, mine in rows_of_setups(plan, bad(plan)):
            lacks = (path - limit)[mine]
            worst = int(mine[int(np.argmax(np.abs(lacks)))])
            message = (
                f"{station_name(plan, worst)} is {show(float(path[worst]), unit, to=PLACE)} from the emitter, {word} "
                f"{setup.emitter} can be used ({show(float(limit[worst]), unit, to=PLACE)})"
            )
            otherwise = "read these stations from a second set-up that stands nearer to them"
            if code == "too-near":
                otherwise = "move the emitter back, or read these stations from another set-up"
            found.append(_finding(plan, setup, mine, Severity.ERROR, code, message, lacks, bad, otherwise))
    return found


def _straight(plan: Plan) -> Floats:
    """Distances ``(m,)`` of the targets from their emitters, in a straight line, metres."""
    return length(plan.geometry.detector_centres() - plan.geometry.beam_origins())


def _reach(plan: Plan) -> Floats:
    rows = plan.geometry.rows
    return np.array([plan.layout.targets[name].reach for name in rows.targets], dtype=np.float64)[rows.target]


def _is_out_of_reach(plan: Plan) -> Flags:
    result: Flags = _straight(plan) > _reach(plan) + ROUNDING
    return result


def check_reach(plan: Plan) -> list[Finding]:
    """Targets that stand farther from the emitter than their cable or radio reaches."""
    found = []
    unit, straight, reach = plan.layout.units.length, _straight(plan), _reach(plan)
    for setup, mine in rows_of_setups(plan, _is_out_of_reach(plan)):
        lacks = (straight - reach)[mine]
        worst = int(mine[int(np.argmax(lacks))])
        rows = plan.geometry.rows
        message = (
            f"{station_name(plan, worst)} is {show(float(straight[worst]), unit, to=PLACE)} from the emitter in a "
            f"straight line; {rows.targets[rows.target[worst]]} reaches {show(float(reach[worst]), unit, to=PLACE)}"
        )
        otherwise = f"take a cable or a radio of {show(float(straight[worst]), unit, to=PLACE)} or more"
        found.append(_finding(
            plan, setup, mine, Severity.ERROR, "out-of-reach", message, lacks, _is_out_of_reach, otherwise,
        ))  # fmt: skip
    return found


def _is_wide(plan: Plan) -> Flags:
    result: Flags = (plan.spots.radius > plan.geometry.largest_spot) & ~is_astray(plan)
    return result


def check_spot_size(plan: Plan) -> list[Finding]:
    """Beams that are wider at their target than the target reads properly."""
    found = []
    unit, radius, most = plan.layout.units.length, plan.spots.radius, plan.geometry.largest_spot
    for setup, mine in rows_of_setups(plan, _is_wide(plan)):
        worst = int(mine[int(np.argmax((radius - most)[mine]))])
        limit = float(most[worst])
        message = (
            f"the beam radius at {station_name(plan, worst)} is {show(float(radius[worst]), unit, to=SPOT)}; its "
            f"target reads up to {show(limit, unit, to=SPOT)} properly"
        )
        way, advice = length_of_width(plan, worst, limit), "take an emitter with a narrower beam at its waist"
        lacks = np.full(len(mine), float(plan.spots.path[worst]) - way)
        if way > 0.0:
            advice = f"shorten the beam to {show(way, unit, to=PLACE)}, or take a target that reads wider beams"
        found.append(_finding(
            plan, setup, mine, Severity.WARNING, "spot-too-large", message, lacks, _is_wide, advice,
        ))  # fmt: skip
    return found


def length_of_width(plan: Plan, row: int, radius: float) -> float:
    """Length [m] of the beam of ``row`` at which it has that radius; 0 where it is wider from the start."""
    ways = np.linspace(0.0, float(plan.spots.path[row]), WAYS)
    narrow = beam_radius(ways, plan.geometry.waist_radius[row], plan.geometry.wavelength[row]) <= radius
    return float(ways[int(np.count_nonzero(narrow)) - 1]) if narrow[0] else 0.0
