"""Check of the way to the targets: beams that never come, that something hides, or whose edge something cuts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..hints import listed
from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.survey import Method, Setup
from ..tracing.places import pose_of
from ..tracing.sight import LARGE, Sight
from ..units import PLACE, SIZE, show
from ..vectors import Floats, Indices, length
from .faults import ROUNDING, is_lost, is_missed, nearest
from .mends import Mend, first_that_helps, moved, traced_with
from .plan import Plan
from .saying import counted, names_of, row_finding, rows_finding, rows_of_setups, station_name
from .window_mends import window_mends

__all__ = ["check_lost", "check_sight"]

NAMED = 12
"""Hidden stations that a message names."""

MOVES = (0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
"""Ways [m] that a base is tried at."""

TRIED = 24
"""About so many hidden and so many other stations are tried at each place before all are."""

LIFTS = (0.005, 0.01, 0.02, 0.03, 0.05, 0.08, 0.12, 0.2)
"""Heights [m] by which a line and its targets are tried higher."""


def check_lost(plan: Plan) -> list[Finding]:
    """Beams that never meet their detector, other than those out of a prism."""
    found = []
    for setup, mine in rows_of_setups(plan, is_lost(plan) & (plan.geometry.rows.stop < 0)):
        names, geometry = counted(names_of(plan, mine)), plan.geometry
        off = geometry.detector_centres()[mine] - geometry.beam_origins()[mine]
        ahead = np.einsum("ij,ij->i", off, geometry.launch_rotation[mine][:, :, 0])
        if setup.base or np.any(ahead > 0.0):
            found.append(rows_finding(
                plan, mine, Severity.ERROR, "wrong-side", f"the detector at {names} does not face the beam",
                "turn the mount, or move the emitter to its other side",
            ))  # fmt: skip
            continue
        back = show(-float(ahead.min()), plan.layout.units.length, to=PLACE)
        mend = first_that_helps(plan, _ways_back(plan, setup, mine, ahead), lambda trial: not is_lost(trial).any())
        found.append(rows_finding(
            plan, mine, Severity.ERROR, "wrong-side",
            f"{names} stand{'s' * (len(mine) == 1)} behind the emitter, up to {back} against the way of the beam",
            mend.words if mend else "move the emitter behind them, or aim the beam the other way",
        ))  # fmt: skip
    return found


def _ways_back(plan: Plan, setup: Setup, mine: Indices, ahead: Floats) -> Iterator[Mend]:
    """The emitter moved back along its beam, else its beam laid through the stations."""
    along = plan.geometry.launch_rotation[int(mine[0])][:, 0]
    step = (float(ahead.min()) - float(nearest(plan)[mine].max()) - SIZE) * along
    mend = moved(plan.layout, setup, pose_of(plan.layout, setup.on).inverse().directions(step))
    if mend is not None:
        yield mend
    rows = np.nonzero(plan.geometry.rows.setup == plan.geometry.rows.setups.index(setup.name))[0]
    yield from window_mends(plan, setup, rows)


def check_sight(plan: Plan) -> list[Finding]:
    """Beams that a machine surface blocks or clips: one finding for all that one surface does to one set-up."""
    found = []
    elsewhere = is_missed(plan) & (length(plan.stopped_from - plan.geometry.beam_origins()) > ROUNDING)
    for setup, mine in rows_of_setups(plan, (plan.sight.sight > Sight.CLEAR) & ~elsewhere):
        by, sight = plan.sight.by[mine], plan.sight.sight[mine]
        advice = _advice(plan, setup, mine)
        for surface in dict.fromkeys(by.tolist()):
            blocked = mine[(by == surface) & (sight == Sight.BLOCKED)]
            clipped = mine[(by == surface) & (sight == Sight.CLIPPED)]
            found.append(_blocked(plan, blocked, clipped, advice) if len(blocked) else _clipped(plan, clipped, advice))
    return found


def _obstacle(plan: Plan, row: int) -> str:
    name = plan.obstacles.names[plan.sight.by[row]]
    line = plan.layout.surfaces[name].line
    return f"{name} (line {line})" if line else name


def _reach(plan: Plan, row: int) -> str:
    return f"{show(float(plan.sight.reach[row]), plan.layout.units.length, to=PLACE)} from the emitter"


def _blocked(plan: Plan, mine: Indices, clipped: Indices, advice: str) -> Finding:
    first, names = int(mine[0]), names_of(plan, mine)
    verb = "is" if len(names) == 1 else "are"
    where = _reach(plan, first) + ("" if len(names) == 1 else f" on the way to {names[0]}")
    also = f"; it also cuts into the beam to {counted(names_of(plan, clipped))}" if len(clipped) else ""
    message = f"{listed(names, NAMED)} {verb} hidden by {_obstacle(plan, first)}, {where}{also}"
    return row_finding(plan, first, Severity.ERROR, "blocked", message, advice)


def _clipped(plan: Plan, mine: Indices, advice: str) -> Finding:
    inside = plan.spots.radius[mine] - plan.sight.clearance[mine]
    worst, names = int(mine[int(np.argmax(inside))]), names_of(plan, mine)
    cut = show(float(inside.max()), plan.layout.units.length, to=SIZE)
    others = [name for name in names if name != station_name(plan, worst)]
    also = f"; it also cuts into the beam to {counted(others)}" if others else ""
    message = (
        f"{_obstacle(plan, worst)} cuts {cut} into the edge of the beam to {station_name(plan, worst)}, "
        f"{_reach(plan, worst)}{also}"
    )
    return row_finding(plan, worst, Severity.WARNING, "clipped", message, f"a cut beam reads off centre: {advice}")


def _advice(plan: Plan, setup: Setup, mine: Indices) -> str:
    """The least move that frees all beams of a set-up, or a place from where those are seen that are not now."""
    if setup.method is Method.BASE_PLANE:
        if len(plan.geometry.rows) * len(plan.obstacles.owner) > LARGE:
            return "move the emitter, or read these stations from a second set-up"
        return _other_place(plan, setup, mine)
    lift = _lifted(plan, setup)
    return lift or "move what stands in the way, or take another line: its targets have to move with it"


def _some_of(setup: Setup, hidden: tuple[str, ...]) -> tuple[str, ...]:
    """Stations that are tried first at each place: the hidden ones and some of the others, in the order of reading."""
    others = [name for name in setup.reads if name not in hidden]
    chosen = {*hidden[:: max(1, len(hidden) // TRIED)], *others[:: max(1, len(others) // TRIED)]}
    return tuple(name for name in setup.reads if name in chosen)


def _sees(trial: Plan, names: tuple[str, ...]) -> bool:
    rows = trial.geometry.rows
    wanted = np.array([name in names for name in rows.stations], dtype=bool)
    return bool(np.all(trial.sight.sight[wanted[rows.station]] == Sight.CLEAR))


def _is_free(trial: Plan) -> bool:
    return bool(np.all(trial.sight.sight == Sight.CLEAR))


def _other_place(plan: Plan, setup: Setup, mine: Indices) -> str:
    """The least way that frees all beams, else one from whose end those are free that are hidden now."""
    hidden, second = names_of(plan, mine), ""
    some = _some_of(setup, hidden)
    for way in MOVES:
        for x, y in ((way, 0.0), (-way, 0.0), (0.0, way), (0.0, -way)):
            mend = moved(plan.layout, setup, np.array([x, y, 0.0]))
            if mend is None:
                continue
            trial = traced_with(plan, replace(mend.setup, reads=some, again=()))
            if trial is None:
                continue
            if _is_free(trial) and first_that_helps(plan, [mend], _is_free) is not None:
                return mend.words
            if not second and _sees(trial, hidden):
                every = tuple(name for name in setup.reads if name in hidden or name in some)
                whole = traced_with(plan, replace(mend.setup, reads=every, again=()))
                second = mend.words if whole is not None and _sees(whole, hidden) else ""
    if second:
        return f"read these stations from a second set-up, {second.removeprefix('move the emitter ')} from this one"
    return "move the emitter, or read these stations from a second set-up"


def _lifted(plan: Plan, setup: Setup) -> str:
    """A line that is free once it and its targets stand higher, in words; empty where no height is found."""
    for way in LIFTS:
        trial = _higher(plan.layout, setup, way)
        if trial is None:
            return ""
        layout, mend = trial
        if first_that_helps(replace(plan, layout=layout), [mend], _is_free) is not None:
            size = show(way, plan.layout.units.length, to=SIZE)
            return f"{mend.words}, and raise the mounts of its targets by {size} as well"
    return ""


def _higher(layout: Layout, setup: Setup, way: float) -> tuple[Layout, Mend] | None:
    """A layout whose targets in the beam of ``setup`` stand higher, and the emitter raised by as much."""
    stations = dict(layout.stations)
    for name in setup.reads:
        station = stations[name]
        mount = replace(station.mount, height=station.mount.height + way)
        if station.mount.kind == "discs" or mount.height > mount.highest:
            return None
        if not station.is_datum:
            stations[name] = replace(station, mount=mount)
    mend = moved(layout, setup, np.array([0.0, 0.0, way]))
    return None if mend is None else (replace(layout, stations=stations), mend)
