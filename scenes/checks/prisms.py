"""Checks of prisms: beams wider than their faces, and directions that a fixed prism cannot give."""

from __future__ import annotations

import numpy as np

from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.survey import Method, Setup, Task
from ..tracing.places import pose_of
from ..units import PLACE, SIZE, SPOT, show
from ..vectors import Flags, Floats, Indices, length
from .allowances import allowed
from .distances import length_of_width
from .mends import first_that_helps, moved
from .plan import Plan
from .saying import counted, names_of, rows_of_setups, setup_finding

__all__ = ["check_out_of_plane", "check_prism_faces"]

OUT = 0.5
"""A direction counts as out of the plane of a prism from this share on: 30 degrees."""


UPRIGHT = 0.9
"""A direction counts as upright from this share on."""


def _widths(plan: Plan) -> Floats:
    """Beam radius ``(m,)`` [m] where the light leaves the prism; nan without one."""
    places, radius = plan.paths.places, plan.paths.radius
    result: Floats = radius[:, places.index("exit")] if "exit" in places else np.full(len(radius), np.nan)
    return result


def _is_cut(plan: Plan) -> Flags:
    with np.errstate(invalid="ignore"):
        result: Flags = plan.spots.train.margin < _widths(plan)
    return result


def check_prism_faces(plan: Plan) -> list[Finding]:
    """Beams into which the faces of a prism cut."""
    found, unit = [], plan.layout.units.length
    margin, width = plan.spots.train.margin, _widths(plan)
    for setup, mine in rows_of_setups(plan, _is_cut(plan)):
        assert setup.prism is not None
        worst = int(mine[int(np.argmax((width - margin)[mine]))])
        prism = plan.layout.prisms[setup.prism.prism]
        cut = show(float(width[worst] - margin[worst]), unit, to=SPOT)
        if margin[worst] < 0.0:
            said = f"the axis of the beam misses {prism.name} by {show(-float(margin[worst]), unit, to=SPOT)}"
            severity = Severity.ERROR
        else:
            said = (
                f"the faces of {prism.name} cut {cut} into the edge of the beam, whose radius is "
                f"{show(float(width[worst]), unit, to=SPOT)} there"
            )
            severity = Severity.WARNING
        found.append(setup_finding(
            setup, severity, "clipped", f"{said}, on the way to {counted(names_of(plan, mine))}",
            _face_words(plan, setup, worst),
        ))  # fmt: skip
    return found


def _face_words(plan: Plan, setup: Setup, row: int) -> str:
    unit = plan.layout.units.length
    exits = int(plan.paths.places.index("exit"))
    way, width = float(plan.paths.way[row, exits]), float(plan.paths.radius[row, exits])
    larger = show(2.0 * (width + 0.5 * SIZE), unit, to=SIZE)
    otherwise = f"take a prism with faces of {larger} or more"
    clear = length_of_width(plan, row, float(plan.spots.train.margin[row]))
    if clear > 0.0:
        along = pose_of(plan.layout, setup.on).inverse().directions(plan.geometry.launch_rotation[row][:, 0])
        sign = 1.0 if plan.geometry.rows.side[row] == 0 else -1.0
        mend = moved(plan.layout, setup, sign * (way - clear + PLACE) * along)
        if mend is not None and first_that_helps(plan, [mend], lambda trial: not _is_cut(trial).any()):
            return f"{mend.words}, or {otherwise}"
    return otherwise


def check_out_of_plane(plan: Plan) -> list[Finding]:
    """Tasks that ask for a direction out of the plane of a fixed prism, which only the turn of its nose gives.

    The light leaves square to the beam whatever the nose does; how it is turned about the beam is known from its mark.
    """
    found, rows, noses = [], plan.geometry.rows, plan.geometry.noses
    for setup, mine in rows_of_setups(plan, (rows.stop >= 0) & (rows.side == 0)):
        if setup.method is not Method.PRISM_LINE:
            continue
        k = np.nonzero(np.isin(noses.rows, mine))[0]
        out = _out_of_plane(plan, int(k[0]))
        for task in plan.layout.tasks.values():
            asked = set(task.stations)
            used = mine[[rows.stations[rows.station[row]] in asked for row in mine.tolist()]]
            if len(used) and _asks_for(plan.layout, task, out) and not _is_given(plan, setup, used, out):
                found.append(_out_finding(plan, setup, task, used, out))
    return found


def _out_of_plane(plan: Plan, k: int) -> Floats:
    """Direction ``(3,)`` square to the beam and to the light that leaves the nose ``k``."""
    noses = plan.geometry.noses
    c, s = np.cos(noses.turned[k]), np.sin(noses.turned[k])
    result: Floats = c * noses.frame[k][:, 1] + s * noses.frame[k][:, 2]
    return result


def _asks_for(layout: Layout, task: Task, out: Floats) -> bool:
    """Whether a task counts the direction ``out`` (3,) of this prism."""
    if task.quantity not in ("squareness", "parallelism", "direction", "coaxiality", "bore position"):
        return False
    if task.plane == "out of plane":
        return True
    if task.plane in ("vertical", "horizontal"):
        upright = abs(float(out[2]))
        share = upright if task.plane == "vertical" else float(np.sqrt(max(0.0, 1.0 - upright**2)))
        return share > OUT
    wanted = ["xy".index(name) for name in task.limits if name in ("x", "y")]
    if task.quantity != "squareness" or not wanted or task.to not in layout.surfaces:
        return False
    frame = pose_of(layout, task.to).rotation
    return any(abs(float(frame[:, axis] @ out)) > OUT for axis in wanted)


def _is_given(plan: Plan, setup: Setup, used: Indices, out: Floats) -> bool:
    """Whether readings of the same stations from other set-ups tell the direction ``out``."""
    geometry, rows = plan.geometry, plan.geometry.rows
    tells = np.zeros(len(rows), dtype=bool)
    for channel, axis in (("h", geometry.axis_h), ("v", geometry.axis_v)):
        tells |= geometry.reads[channel] & (np.abs(axis @ out) > OUT)
    through = geometry.noses.rows
    tells[through] &= np.abs(geometry.noses.frame[:, :, 0] @ out) > OUT
    other = rows.setup != rows.setups.index(setup.name)
    return bool(np.all(np.isin(rows.station[used], rows.station[tells & other])))


def _out_finding(plan: Plan, setup: Setup, task: Task, used: Indices, out: Floats) -> Finding:
    assert setup.prism is not None
    units, prism = plan.layout.units, plan.layout.prisms[setup.prism.prism]
    legs = plan.geometry.detector_centres()[used] - plan.geometry.sources()[used]
    ways = length(legs)
    span = float(np.ptp(ways)) if len(used) > 1 and np.ptp(ways) > SIZE else float(ways.max())
    off = show(prism.turn_known_to * span, units.deviation)
    return Finding(
        Severity.WARNING, "out-of-plane", "task", task.name,
        f"{task.name} asks for a direction out of the plane of {prism.name} in {setup.name}: square to it the light is "
        f"only as the nose is turned, known to {show(prism.turn_known_to, units.angle, 'angle')}, which is {off} over "
        f"{show(span, units.length, to=PLACE)}; {show(allowed(plan.layout, task, span), units.deviation)} is allowed",
        _other_words(out), setup=setup.name, line=task.line,
    )  # fmt: skip


def _other_words(out: Floats) -> str:
    """What gives the direction ``out`` (3,) instead, in words."""
    if abs(out[2]) > UPRIGHT:
        return "read the heights of these stations from a plane swept by a rotary base as well"
    return (
        f"read these stations from another set-up as well, whose beam runs along {_axis_words(out)}, so that the light "
        "is square to that"
    )


def _axis_words(direction: Floats) -> str:
    axis = int(np.argmax(np.abs(direction)))
    if abs(direction[axis]) > 0.999:
        return f"the {'xyz'[axis]} of the world"
    return f"[{', '.join(f'{part:.2f}' for part in direction)}]"
