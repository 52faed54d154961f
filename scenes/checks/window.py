"""Check of the detector window: whether the spot stays on the detector within the limit, and what helps if not."""

from __future__ import annotations

import numpy as np

from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.mounts import Mount
from ..units import PLACE, SIZE, SPOT, show
from ..vectors import Flags, Floats, Indices
from .plan import Plan

__all__ = ["check_window", "usable_half_window", "wanted_travel"]

NEAR_EDGE = 0.2
"""Less than this share of the usable half window left gives a warning (common practice: stay in the middle)."""


def wanted_travel(layout: Layout, names: tuple[str, ...]) -> Floats:
    """How far ``(n,)`` [m] a spot may wander at each station while the surface keeps its limits."""
    travel = dict.fromkeys(names, 0.0)
    for task in layout.tasks.values():
        for name in task.stations:
            if name in travel:
                travel[name] = max(travel[name], task.limit)
    return np.array(list(travel.values()))


def usable_half_window(plan: Plan) -> Floats:
    """How far ``(m,)`` [m] a spot may stand from the centre of its detector, up or down, with its whole width on it."""
    result: Floats = 0.5 * plan.geometry.window[:, 1] - plan.spots.radius
    return result


def check_window(plan: Plan) -> list[Finding]:
    """Spots off the sensitive area: one finding per set-up where one move of its mount mends all, else per station."""
    rows = plan.geometry.rows
    usable = usable_half_window(plan)
    need = wanted_travel(plan.layout, rows.stations)[rows.station]
    found: list[Finding] = []
    for number in range(len(rows.setups)):
        mine = np.nonzero((rows.setup == number) & np.isfinite(plan.spots.v) & (usable > 0.0))[0]
        if len(mine) == 0:
            continue
        v, room = plan.spots.v[mine], usable[mine] - need[mine]
        if np.any(room <= 0.0):
            found.append(_too_small(plan, number, int(mine[int(np.argmin(room))]), float(need[mine].max())))
            continue
        out = np.abs(v) > room
        if out.any():
            found += _off_window(plan, number, mine, out, v, room)
        elif np.any(np.abs(v) > (1.0 - NEAR_EDGE) * room):
            worst = mine[int(np.argmax(np.abs(v) / room))]
            found.append(_near_edge(plan, number, int(worst)))
    return found


def _too_small(plan: Plan, number: int, row: int, need: float) -> Finding:
    setup = plan.layout.setups[plan.geometry.rows.setups[number]]
    unit = plan.layout.units.length
    can = show(float(usable_half_window(plan)[row]), unit, to=SPOT)
    return Finding(
        Severity.ERROR, "off-window", "set-up", setup.name,
        f"the surface may move the spot by the limit of the task, {show(need, unit, to=SPOT)} up or down; the detector "
        f"has room for {can}",
        "take a target with a larger window, or read in steps with mounts of other heights",
        setup=setup.name, line=setup.line,
    )  # fmt: skip


def _described(plan: Plan, row: int) -> str:
    """Where the spot of one row stands, in words."""
    unit = plan.layout.units.length
    v = float(plan.spots.v[row])
    usable = float(usable_half_window(plan)[row])
    name = plan.geometry.rows.stations[plan.geometry.rows.station[row]]
    side = "above" if v > 0.0 else "below"
    stands, can = show(abs(v), unit, to=SPOT), show(usable, unit, to=SPOT)
    return f"the spot at {name} stands {stands} {side} the centre; {can} can be used"


def _travel_words(layout: Layout, need: float) -> str:
    return f", of which the limit of the task takes {show(need, layout.units.length, to=SPOT)}" if need else ""


def _move_words(mount: Mount, by: float, unit: str) -> str | None:
    """Advice to move a mount by ``by`` metres, or None where it cannot go there."""
    to = mount.height + by
    if not mount.lowest <= to <= mount.highest:
        return None
    verb = "raise" if by > 0.0 else "lower"
    return f"{verb} the {mount.kind} by {show(abs(by), unit, to=SIZE)} to {show(to, unit, to=SIZE)}"


def _off_window(plan: Plan, number: int, mine: Indices, out: Flags, v: Floats, room: Floats) -> list[Finding]:
    layout, rows, unit = plan.layout, plan.geometry.rows, plan.layout.units.length
    setup = layout.setups[rows.setups[number]]
    need = wanted_travel(layout, rows.stations)[rows.station[mine]]
    middle = 0.5 * float(v.max() + v.min())
    worst = mine[int(np.argmax(np.abs(v) - room))]
    one_move = bool(np.all(np.abs(v - middle) <= room))
    advice = _move_words(setup.mount, -middle, unit) if one_move else None
    names = list(dict.fromkeys(rows.stations[rows.station[row]] for row in mine[out]))
    if advice:
        message = f"{_described(plan, worst)}{_travel_words(layout, float(need.max()))}; {len(names)} stations are off"
        return [Finding(Severity.ERROR, "off-window", "set-up", setup.name, message, advice,
                        setup=setup.name, line=setup.line)]  # fmt: skip
    found = []
    for name in names:
        station = layout.stations[name]
        row = next(int(r) for r in mine if rows.stations[rows.station[r]] == name)
        by = float(plan.spots.v[row])
        move = _move_words(station.mount, by, unit)
        reach = f"{show(station.mount.lowest, unit, to=PLACE)} to {show(station.mount.highest, unit, to=PLACE)}"
        advice = move or f"the {station.mount.kind} goes from {reach}: take another one, or move the emitter up or down"
        message = _described(plan, row) + _travel_words(layout, float(need.max()))
        found.append(Finding(Severity.ERROR, "off-window", "station", name, message, advice,
                             setup=setup.name, line=station.line))  # fmt: skip
    return found


def _near_edge(plan: Plan, number: int, row: int) -> Finding:
    setup = plan.layout.setups[plan.geometry.rows.setups[number]]
    by = -float(plan.spots.v[row])
    advice = _move_words(setup.mount, by, plan.layout.units.length) or "bring emitter and targets to one height"
    return Finding(Severity.WARNING, "near-edge", "set-up", setup.name, _described(plan, row), advice,
                   setup=setup.name, line=setup.line)  # fmt: skip
