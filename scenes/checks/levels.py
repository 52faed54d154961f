"""Checks of what refers to gravity, vials and the round Earth, and of reversal that reverses nothing."""

from __future__ import annotations

import numpy as np

from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.survey import LevelBy, Method, Setup, Task
from ..tracing.earth import level_drop
from ..tracing.places import station_places
from ..units import PLACE, show
from ..vectors import length
from .allowances import PART, allowed, extent, stations_of_features
from .plan import Plan
from .saying import setup_finding, station_name

__all__ = ["check_level_surface", "check_reversal", "check_vials", "refers_to_gravity"]

_BY_GRAVITY = ("levelness", "cross level")


def refers_to_gravity(task: Task, setup: Setup) -> bool:
    """Whether a task takes its level from ``setup``, whose plane a vial sets."""
    if setup.level_by is not LevelBy.VIAL:
        return False
    reads = set(setup.reads) & set(task.stations)
    by_gravity = task.quantity in _BY_GRAVITY or task.reference == "gravity"
    return bool(reads) and (by_gravity or task.to == setup.name)


def _tasks_by(layout: Layout, setup: Setup) -> list[Task]:
    return [task for task in layout.tasks.values() if refers_to_gravity(task, setup)]


def check_vials(layout: Layout) -> list[Finding]:
    """Vials whose zero stays in the result, since they are not turned about."""
    found = []
    for setup in layout.setups.values():
        if setup.level_by is not LevelBy.VIAL or setup.reversed:
            continue
        vial, tasks = layout.vials.get(setup.vial), _tasks_by(layout, setup)
        if vial is None:
            if tasks:
                found.append(setup_finding(
                    setup, Severity.WARNING, "level-unreversed",
                    f"{tasks[0].name} refers to gravity, but the vial is not named, so how far its zero may be off is "
                    "not counted", "name the vial, and turn it about: reversed: true",
                ))  # fmt: skip
        elif vial.zero_known_to > 0.0:
            found.append(_unreversed(layout, setup, vial.zero_known_to, tasks))
    return found


def _unreversed(layout: Layout, setup: Setup, zero: float, tasks: list[Task]) -> Finding:
    shown = show(zero, layout.units.angle, "angle")
    head = f"{setup.vial} is read one way round only, so its zero, known to {shown}, stays in the plane"
    advice = "turn the vial about and level to the mean: reversed: true takes its zero out"
    if not tasks:
        return setup_finding(setup, Severity.NOTE, "level-unreversed", f"{head}; no task here asks for level", advice)
    task = max(tasks, key=lambda each: _lever(layout, each) / allowed(layout, each))
    over = _lever(layout, task)
    unit = layout.units.deviation
    return setup_finding(
        setup, Severity.WARNING, "level-unreversed",
        f"{head}: {show(zero * over, unit)} over the {show(over, layout.units.length, to=PLACE)} of {task.name}, whose "
        f"limit allows {show(allowed(layout, task), unit)}", advice,
    )  # fmt: skip


def _lever(layout: Layout, task: Task) -> float:
    """Length [m] over which a tilt tells on a task: from one surface to the other, else over all of its stations."""
    names = stations_of_features(layout, task)
    if task.quantity != "cross level" or len(task.of) != 2:
        return extent(layout, names)
    foot = station_places(layout, names)[0]
    first = np.array([layout.stations[name].surface == task.of[0] for name in names], dtype=bool)
    if first.all() or not first.any():
        return extent(layout, names)
    return float(length(foot[first][:, None] - foot[~first][None]).min(axis=1).max())


def check_reversal(layout: Layout) -> list[Finding]:
    """Set-ups that are to be reversed although nothing in them can be, or whose two lines have nothing in common."""
    found = []
    for setup in layout.setups.values():
        if not setup.reversed:
            continue
        if setup.method is Method.BASE_PLANE and setup.level_by is not LevelBy.VIAL:
            message, advice = "a base is not reversed, only a vial on it is, and none levels it", "level by: vial"
        elif setup.method is Method.SPINDLE:
            message, advice = "a spindle turns the emitter already; nothing else is reversed", "name turns under clock"
        elif setup.prism is not None and not (setup.near and setup.far):
            message = (
                "reversed, the beam comes from the other end, but no near and far targets make that the same line: the "
                "two sides then have nothing in common"
            )
            found.append(setup_finding(
                setup, Severity.WARNING, "reversal-untied", message, "set both lines on the same near and far targets",
            ))  # fmt: skip
            continue
        else:
            continue
        found.append(setup_finding(
            setup, Severity.WARNING, "nothing-reversed", message, f"remove reversed, or write {advice}",
        ))  # fmt: skip
    return found


def check_level_surface(plan: Plan) -> list[Finding]:
    """Planes levelled by a vial that are read so far out that the Earth falls away below them by a part of a limit."""
    found, rows = [], plan.geometry.rows
    for number, name in enumerate(rows.setups):
        setup = plan.layout.setups[name]
        tasks = _tasks_by(plan.layout, setup)
        if not tasks:
            continue
        task = min(tasks, key=lambda each: allowed(plan.layout, each))
        asked = np.array([station in task.stations for station in rows.stations], dtype=bool)
        mine = np.nonzero((rows.setup == number) & asked[rows.station])[0]
        off = plan.geometry.detector_centres()[mine] - plan.geometry.beam_origins()[mine]
        away = length(off * [1.0, 1.0, 0.0])
        worst = int(np.argmax(away))
        drop, limit = float(level_drop(away[worst])), allowed(plan.layout, task)
        if drop > PART * limit:
            unit = plan.layout.units
            found.append(setup_finding(
                setup, Severity.NOTE, "earth-curvature",
                f"the level surface lies {show(drop, unit.deviation)} below the plane at "
                f"{station_name(plan, int(mine[worst]))}, {show(float(away[worst]), unit.length, to=PLACE)} away, the "
                f"Earth being round: {drop / limit:.0%} of what {task.name} allows ({show(limit, unit.deviation)})",
                f"stand the emitter within {show(_within(PART * limit), unit.length, to=PLACE)} of the stations, or in "
                "their middle, where it cancels",
            ))  # fmt: skip
    return found


def _within(drop: float) -> float:
    """Distance [m] at which the level surface has fallen away by ``drop`` [m], rounded down."""
    ways = np.linspace(0.0, 1e3, 100_001)
    return float(ways[int(np.searchsorted(level_drop(ways), drop)) - 1]) if drop > 0.0 else 0.0
