"""Check of the angles at which beams meet their detectors."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..model.devices import Target
from ..model.finding import Finding, Severity
from ..model.survey import LevelBy, Setup
from ..units import show
from ..vectors import Flags, Floats, Indices
from .faults import is_astray
from .mends import Mend, first_that_helps, traced_with
from .plan import Plan
from .saying import counted, names_of, rows_finding, rows_of_setups, station_name
from .window_mends import window_mends

__all__ = ["check_slants"]

WAYS = (("to the left", "to the right"), ("down", "up"))
"""Where a beam goes that swings and rises, negative and positive."""


def _of_targets(plan: Plan, field: str) -> Floats:
    rows = plan.geometry.rows
    targets: list[Target] = [plan.layout.targets[name] for name in rows.targets]
    return np.array([getattr(target, field) for target in targets], dtype=np.float64)[rows.target]


def _is_slanted(plan: Plan) -> Flags:
    """Rows ``(m,)`` whose beam comes at a larger angle to the detector's normal than it reads properly."""
    with np.errstate(invalid="ignore"):
        result: Flags = (plan.spots.incidence > _of_targets(plan, "angular_range")) & ~is_astray(plan)
    return result


def _past_angles(plan: Plan) -> Floats:
    """How far ``(m,)`` [rad] pitch or yaw, the larger one, goes beyond what a target can read of it; 0 where not."""
    reads, window = plan.geometry.reads, _of_targets(plan, "angle_window")
    size = np.maximum(
        np.where(reads["pitch"], np.abs(plan.spots.pitch), 0.0), np.where(reads["yaw"], np.abs(plan.spots.yaw), 0.0)
    )
    result: Floats = np.where(is_astray(plan), 0.0, np.nan_to_num(np.maximum(0.0, size - window)))
    return result


def _is_past(plan: Plan) -> Flags:
    result: Flags = (_past_angles(plan) > 0.0) & ~_is_slanted(plan)
    return result


def check_slants(plan: Plan) -> list[Finding]:
    """Beams at a larger slant than their target reads properly, and angles that it cannot tell."""
    found = []
    limit = _of_targets(plan, "angular_range")
    for setup, mine in rows_of_setups(plan, _is_slanted(plan)):
        worst = int(mine[int(np.argmax((plan.spots.incidence - limit)[mine]))])
        message = (
            f"the beam comes to {station_name(plan, worst)} {_angle(plan.spots.incidence[worst])} off the normal of "
            f"its detector{_where(plan, worst)}; {_target(plan, worst)} reads up to {_angle(limit[worst])}"
        )
        found.append(_finding(plan, setup, mine, worst, "angular-range", message, limit[worst]))
    window = _of_targets(plan, "angle_window")
    for setup, mine in rows_of_setups(plan, _is_past(plan)):
        worst = int(mine[int(np.argmax(_past_angles(plan)[mine]))])
        size = window[worst] + _past_angles(plan)[worst]
        message = (
            f"{_target(plan, worst)} at {station_name(plan, worst)} would have to read an angle of {_angle(size)}"
            f"{_where(plan, worst)}; it tells angles up to {_angle(window[worst])}"
        )
        found.append(_finding(plan, setup, mine, worst, "angle-window", message, window[worst]))
    return found


def _angle(value: float) -> str:
    return show(float(value), "deg", "angle", 3)


def _target(plan: Plan, row: int) -> str:
    rows = plan.geometry.rows
    name: str = rows.targets[rows.target[row]]
    return name


def _where(plan: Plan, row: int) -> str:
    """Which way the beam goes off the normal, in words."""
    yaw, pitch = float(plan.spots.yaw[row]), float(plan.spots.pitch[row])
    channel, value = (1, pitch) if abs(pitch) >= abs(yaw) else (0, yaw)
    return f", {WAYS[channel][int(value > 0.0)]}"


def _finding(plan: Plan, setup: Setup, mine: Indices, worst: int, code: str, message: str, limit: float) -> Finding:
    names = [name for name in names_of(plan, mine) if name != station_name(plan, worst)]
    also = f"; also {counted(names)}" if names else ""
    mend = first_that_helps(plan, _ways(plan, setup), lambda trial: not (_is_slanted(trial) | _is_past(trial)).any())
    least = _angle(float(plan.spots.incidence[worst]) - float(limit))
    otherwise = f"turn the mount of the target by {least} or more toward the light"
    return rows_finding(plan, mine, Severity.ERROR, code, message + also, mend.words if mend else otherwise)


def _ways(plan: Plan, setup: Setup) -> Iterator[Mend]:
    """The plane set by the stations themselves, at their height, or the line laid through them."""
    if setup.base and setup.level_by is not LevelBy.BEST_FIT:
        follows = replace(setup, level_by=LevelBy.BEST_FIT, level_stations=())
        words = "level by: best fit, so that the plane follows the surface"
        yield Mend(words, follows)
        trial = traced_with(plan, follows)
        if trial is not None:
            for mend in window_mends(trial, follows, np.arange(len(trial.geometry.rows))):
                yield Mend(f"{words}, and {mend.words}", mend.setup)
    rows = plan.geometry.rows
    yield from window_mends(plan, setup, np.nonzero(rows.setup == rows.setups.index(setup.name))[0])
