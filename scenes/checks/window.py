"""Check of the detector windows: whether spots stay on their detectors within the limits, and what helps if not."""

from __future__ import annotations

import numpy as np

from ..model.finding import Finding, Severity
from ..model.survey import Setup
from ..units import SIZE, SPOT, show
from ..vectors import Flags, Floats, Indices
from .allowances import channel_travel, wanted_travel
from .faults import is_lost, is_missed, is_off, places, room, telling, usable
from .mends import first_that_helps
from .plan import Plan
from .saying import counted, names_of, setup_finding, station_name
from .station_mends import station_findings
from .window_mends import off_light, window_mends

__all__ = ["check_window", "usable_half_window", "wanted_travel"]

NEAR_EDGE = 0.2
"""Less than this share of the usable half window left gives a warning (common practice: stay in the middle)."""

SIDES = (("to the left of", "to the right of"), ("below", "above"))
"""Words for a spot off the centre along h and v, negative and positive."""


def usable_half_window(plan: Plan) -> Floats:
    """How far ``(m,)`` [m] a spot may stand from the centre of its detector, up or down, with its whole width on it."""
    result: Floats = usable(plan)[:, 1]
    return result


def check_window(plan: Plan) -> list[Finding]:
    """Spots off the sensitive area, in every channel that tells something.

    One finding per set-up, or per stop of its prism, where one change mends all; else one for all stations that need
    the same.
    """
    rows, found = plan.geometry.rows, []
    for number, name in enumerate(rows.setups):
        setup = plan.layout.setups[name]
        mine = np.nonzero(rows.setup == number)[0]
        missed = mine[is_missed(plan)[mine]]
        found += _misses(plan, setup, missed)
        kept = mine[~np.isin(mine, missed) & ~is_lost(plan)[mine]]
        if len(kept):
            found += _of_setup(plan, setup, kept)
    return found


def _of_setup(plan: Plan, setup: Setup, mine: Indices) -> list[Finding]:
    """Findings about the rows ``mine`` of one set-up, all of which meet the plane of their detector."""
    left = np.where(telling(plan), room(plan), np.inf)[mine]
    if np.any(left <= 0.0):
        return [_too_small(plan, setup, int(mine[int(np.argmin(left.min(axis=1)))]))]
    out = is_off(plan)[mine]
    if out.any():
        return _off_window(plan, setup, mine, out)
    share = np.where(telling(plan), np.abs(places(plan)) / room(plan), 0.0)[mine]
    if np.any(share > 1.0 - NEAR_EDGE):
        return [_near_edge(plan, setup, mine, share)]
    return []


def _misses(plan: Plan, setup: Setup, missed: Indices) -> list[Finding]:
    """Light of a prism that goes past all stations that are read from a stop."""
    if not len(missed):
        return []
    assert setup.prism is not None
    off = off_light(plan, missed)
    worst, names = int(np.argmax(off)), names_of(plan, missed)
    mend = first_that_helps(plan, window_mends(plan, setup, missed), _all_come)
    return [setup_finding(
        setup, Severity.ERROR, "prism-misses",
        f"the light of {setup.prism.prism} misses the windows at {counted(names)}: it passes "
        f"{station_name(plan, int(missed[worst]))} {show(float(off[worst]), plan.layout.units.length, to=SIZE)} off",
        mend.words if mend else "no turn of the nose and no place along the beam brings it there: move the base line "
        "or the stations",
    )]  # fmt: skip


def _all_come(trial: Plan) -> bool:
    return not (is_off(trial)[trial.geometry.rows.stop >= 0].any() or is_lost(trial).any())


def _too_small(plan: Plan, setup: Setup, row: int) -> Finding:
    """A window with no room for what the limits allow, wherever the spot stands."""
    unit, name = plan.layout.units.length, station_name(plan, row)
    channel = int(np.argmin(np.where(telling(plan)[row], room(plan)[row], np.inf)))
    can = float(usable(plan)[row, channel])
    radius = show(float(plan.spots.radius[row]), unit, to=SPOT)
    if can <= 0.0:
        message = f"the beam at {name} has a radius of {radius}: it is as wide as the window of its target"
        return setup_finding(setup, Severity.ERROR, "off-window", message, "take a target with a larger window")
    need = float(channel_travel(plan.layout, plan.geometry)[row, channel])
    way = ("left or right", "up or down")[channel]
    return setup_finding(
        setup, Severity.ERROR, "off-window",
        f"the surface may move the spot at {name} by the limit of the task, {show(need, unit, to=SPOT)} {way}; the "
        f"detector has room for {show(can, unit, to=SPOT)}",
        f"take a target with a window of {show(2.0 * (need + float(plan.spots.radius[row])), unit, to=SPOT)} or more, "
        "or read in steps with mounts of other heights",
    )  # fmt: skip


def _described(plan: Plan, row: int, channel: int) -> str:
    """Where the spot of one row stands, in words."""
    unit = plan.layout.units.length
    spot, can = float(places(plan)[row, channel]), float(usable(plan)[row, channel])
    side = SIDES[channel][int(spot > 0.0)]
    need = float(channel_travel(plan.layout, plan.geometry)[row, channel])
    takes = f", of which the limit of the task takes {show(need, unit, to=SPOT)}" if need else ""
    return (
        f"the spot at {station_name(plan, row)} stands {show(abs(spot), unit, to=SPOT)} {side} the centre; "
        f"{show(can, unit, to=SPOT)} can be used{takes}"
    )


def _behind(plan: Plan, off: Indices) -> str:
    """What the rows ``off`` cut from the light of targets behind them, in words."""
    behind = np.nonzero(np.isin(plan.geometry.plates.row, off).any(axis=1))[0]
    behind = behind[~np.isin(behind, off)]
    return f"; their windows also cut the light to {counted(names_of(plan, behind))}" if len(behind) else ""


def _off_window(plan: Plan, setup: Setup, mine: Indices, out: Flags) -> list[Finding]:
    past = np.where(out, np.abs(places(plan)[mine]) - room(plan)[mine], -np.inf)
    worst, channel = np.unravel_index(int(np.argmax(past)), past.shape)
    off = mine[out.any(axis=1)]
    mend = first_that_helps(plan, window_mends(plan, setup, mine), lambda trial: not is_off(trial).any())
    if mend is None:
        return station_findings(plan, setup, off, lambda row, c: _described(plan, row, c) + _behind(plan, off))
    names = names_of(plan, off)
    count = f"; {len(names)} stations are off" if len(names) > 1 else ""
    message = _described(plan, int(mine[worst]), int(channel)) + count + _behind(plan, off)
    return [setup_finding(setup, Severity.ERROR, "off-window", message, mend.words)]


def _near_edge(plan: Plan, setup: Setup, mine: Indices, share: Floats) -> Finding:
    worst, channel = np.unravel_index(int(np.argmax(share)), share.shape)
    mend = first_that_helps(plan, window_mends(plan, setup, mine), _in_the_middle)
    return setup_finding(
        setup, Severity.WARNING, "near-edge", _described(plan, int(mine[worst]), int(channel)),
        mend.words if mend else "bring the beam and the middles of the targets together: other mounts, or other places",
    )  # fmt: skip


def _in_the_middle(trial: Plan) -> bool:
    with np.errstate(invalid="ignore"):
        share = np.where(telling(trial), np.abs(places(trial)) / room(trial), 0.0)
    return bool(np.all(np.nan_to_num(share) <= 1.0 - NEAR_EDGE))
