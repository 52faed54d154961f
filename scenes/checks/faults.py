"""What is wrong with each planned reading, as flags: no sight, off the window, out of range, at a slant."""

from __future__ import annotations

import numpy as np

from ..tracing.places import pose_of
from ..tracing.sight import Sight
from ..vectors import Flags, Floats
from .allowances import channel_travel
from .plan import Plan

__all__ = [
    "ROUNDING", "any_fault", "base_tilts", "farthest", "is_astray", "is_lost", "is_missed", "is_off", "is_overtilted",
    "is_too_far", "is_too_near", "nearest", "places", "room", "telling", "usable",
]  # fmt: skip

ROUNDING = 1e-9
"""Ways that differ by less than this [m] count as equal."""


ASTRAY = 0.1
"""A beam goes elsewhere where its spot is farther off than this share of its length, 6 degrees, ..."""

ASTRAY_LEAST = 0.1
"""... and farther than this [m]."""


def usable(plan: Plan) -> Floats:
    """How far ``(m, 2)`` [m] a spot may stand from the centre along h and v with its whole width on the window."""
    result: Floats = 0.5 * plan.geometry.window - plan.spots.radius[:, None]
    return result


def room(plan: Plan) -> Floats:
    """The same less what the limits of the tasks allow the surface to move the spot, ``(m, 2)``, metres."""
    result: Floats = usable(plan) - channel_travel(plan.layout, plan.geometry)
    return result


def telling(plan: Plan) -> Flags:
    """Which of h and v carry information, ``(m, 2)``; the crew brings the spot to the middle along the other one."""
    return np.stack([plan.geometry.reads["h"], plan.geometry.reads["v"]], axis=1)


def places(plan: Plan) -> Floats:
    """Spots ``(m, 2)`` on the detectors, metres."""
    return np.stack([plan.spots.h, plan.spots.v], axis=1)


def is_lost(plan: Plan) -> Flags:
    """Rows ``(m,)`` whose beam never meets the detector."""
    result: Flags = np.isnan(plan.spots.path)
    return result


def is_missed(plan: Plan) -> Flags:
    """Rows ``(m,)`` through a prism that never meet their detector, or of whose stop no light lands on a window."""
    rows, lost = plan.geometry.rows, is_lost(plan)
    with np.errstate(invalid="ignore"):
        on = np.all(~telling(plan) | (np.abs(places(plan)) <= 0.5 * plan.geometry.window), axis=1) & ~lost
    stop = (rows.setup + 1) * (int(rows.stop.max(initial=0)) + 2) + rows.stop
    result: Flags = (rows.stop >= 0) & (lost | ~np.isin(stop, stop[on]))
    return result


def is_astray(plan: Plan) -> Flags:
    """Rows ``(m,)`` whose beam goes somewhere else altogether: its length and its angle say nothing then."""
    with np.errstate(invalid="ignore"):
        off = np.where(telling(plan), np.abs(places(plan)), 0.0).max(axis=1)
        past = off > np.maximum(ASTRAY * plan.spots.path, ASTRAY_LEAST)
    result: Flags = is_lost(plan) | is_missed(plan) | (past & ~plan.geometry.sweeps)
    return result


def is_off(plan: Plan) -> Flags:
    """Which of h and v ``(m, 2)`` leave the sensitive area, or would within the limit of a task."""
    with np.errstate(invalid="ignore"):
        result: Flags = telling(plan) & (np.abs(places(plan)) > room(plan) + ROUNDING)
    return result


def _of_emitters(plan: Plan, field: str) -> Floats:
    layout, rows = plan.layout, plan.geometry.rows
    values = [getattr(layout.emitters[layout.setups[name].emitter], field) for name in rows.setups]
    return np.array(values, dtype=np.float64)[rows.setup]


def nearest(plan: Plan) -> Floats:
    """Least use ``(m,)`` of the emitter of each row, metres."""
    return _of_emitters(plan, "nearest")


def farthest(plan: Plan) -> Floats:
    """Farthest use ``(m,)`` of the emitter of each row, metres."""
    return _of_emitters(plan, "farthest")


def is_too_near(plan: Plan) -> Flags:
    """Rows ``(m,)`` whose way of the light is shorter than the emitter can be used."""
    result: Flags = (plan.spots.path < nearest(plan) - ROUNDING) & ~is_astray(plan)
    return result


def is_too_far(plan: Plan) -> Flags:
    """Rows ``(m,)`` whose way of the light is longer than the emitter can be used."""
    result: Flags = (plan.spots.path > farthest(plan) + ROUNDING) & ~is_astray(plan)
    return result


def base_tilts(plan: Plan) -> Floats:
    """How far ``(m,)`` [rad] the base of each row has to be tilted from what it stands on; 0 without a base."""
    rows, layout = plan.geometry.rows, plan.layout
    up = np.array([pose_of(layout, layout.setups[name].on).rotation[:, 2] for name in rows.setups]).reshape(-1, 3)
    axis = plan.geometry.launch_rotation[:, :, 2]
    tilt = np.arccos(np.clip(np.einsum("ij,ij->i", axis, up[rows.setup]), -1.0, 1.0))
    return np.where(plan.geometry.sweeps, tilt, 0.0)


def is_overtilted(plan: Plan) -> Flags:
    """Rows ``(m,)`` whose base would have to be tilted farther than its screws allow."""
    setups = [plan.layout.setups[name] for name in plan.geometry.rows.setups]
    most = np.array([plan.layout.bases[setup.base].tilt_range if setup.base else np.inf for setup in setups])
    result: Flags = base_tilts(plan) > most[plan.geometry.rows.setup]
    return result


def any_fault(plan: Plan) -> Flags:
    """Rows ``(m,)`` with any of these faults, or without free sight."""
    result: Flags = (
        is_lost(plan) | is_off(plan).any(axis=1) | is_too_near(plan) | is_too_far(plan)
        | is_overtilted(plan) | (plan.sight.sight > Sight.CLEAR)
    )  # fmt: skip
    return result
