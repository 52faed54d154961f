"""Checks of targets that stand in one beam at once: what the ones in front leave to those behind."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..model.finding import Finding, Severity
from ..model.survey import Setup
from ..tracing.state import MOST_PLATES
from ..vectors import Flags, Floats, Indices
from .mends import traced_with
from .plan import Plan
from .saying import counted, names_of, rows_finding, rows_of_setups, setup_finding, station_name

__all__ = ["check_light", "check_shared_beams"]


def _passes(plan: Plan) -> Floats:
    """Share of light ``(m, K)`` that every target lets through which stands before another one."""
    return np.where(plan.geometry.plates.row >= 0, plan.geometry.plates.passes, 1.0)


def _is_dark(plan: Plan) -> Flags:
    """Rows ``(m,)`` behind a target that lets no light through."""
    result: Flags = np.any(_passes(plan) <= 0.0, axis=1)
    return result


def _is_dim(plan: Plan) -> Flags:
    """Rows ``(m,)`` whose target gets less light than it reads properly, behind targets that all let some through."""
    rows = plan.geometry.rows
    least = np.array([plan.layout.targets[name].least_light for name in rows.targets])[rows.target]
    result: Flags = (plan.geometry.light() < least) & ~_is_dark(plan)
    return result


def check_shared_beams(plan: Plan) -> list[Finding]:
    """Targets hidden by another target, and more targets in a beam than can be read at once."""
    found = []
    for setup, mine in rows_of_setups(plan, _is_dark(plan)):
        plates, passes = plan.geometry.plates.row[mine], _passes(plan)[mine]
        first = plates[np.arange(len(mine)), np.argmax(passes <= 0.0, axis=1)]
        for target in dict.fromkeys(plan.geometry.rows.target[first].tolist()):
            behind = plan.geometry.rows.target[first] == target
            found.append(_hidden(plan, setup, mine[behind], first[behind]))
    at_once = np.count_nonzero(plan.geometry.plates.row >= 0, axis=1) + 1
    for setup, mine in rows_of_setups(plan, at_once > MOST_PLATES):
        found.append(setup_finding(
            setup, Severity.ERROR, "too-many-targets",
            f"{int(at_once[mine].max())} targets stand in the beam at once; {MOST_PLATES} can be read together",
            f"name at most {MOST_PLATES} of them under through; the stations are then read in batches",
        ))  # fmt: skip
    return found


def _hidden(plan: Plan, setup: Setup, behind: Indices, by: Indices) -> Finding:
    """One target that hides others in every batch, such as a plain one that is not the last in the beam."""
    target = plan.geometry.rows.targets[plan.geometry.rows.target[int(by[0])]]
    names = counted(names_of(plan, behind))
    return rows_finding(
        plan, behind, Severity.ERROR, "blocked",
        f"{target} at {counted(names_of(plan, by))} lets no light through to {names} behind it",
        _order_words(plan, setup) or f"take a see-through target instead of {target}",
    )  # fmt: skip


def _order_words(plan: Plan, setup: Setup) -> str:
    """The order of reading in which no target hides another, in words; empty where there is none."""
    rows, geometry = plan.geometry.rows, plan.geometry
    mine = np.nonzero((rows.setup == rows.setups.index(setup.name)) & (rows.side == 0))[0]
    way = np.einsum(
        "ij,ij->i", geometry.detector_centres()[mine] - geometry.beam_origins()[mine],
        geometry.launch_rotation[mine][:, :, 0],
    )  # fmt: skip
    order = names_of(plan, mine[np.argsort(way, kind="stable")])
    reads = tuple(name for name in order if name in setup.reads)
    trial = traced_with(plan, replace(setup, reads=reads))
    if trial is None or _is_dark(trial).any():
        return ""
    return f"read the stations from the nearest to the farthest, {reads[0]} to {reads[-1]}, so that it stands last"


def check_light(plan: Plan) -> list[Finding]:
    """Targets that get too little light behind others."""
    found = []
    light, rows = plan.geometry.light(), plan.geometry.rows
    for setup, mine in rows_of_setups(plan, _is_dim(plan)):
        worst = int(mine[int(np.argmin(light[mine]))])
        target = plan.layout.targets[rows.targets[rows.target[worst]]]
        passed = int(np.count_nonzero(plan.geometry.plates.row[worst] >= 0))
        parts = [f"{passed} see-through target{'s' * (passed != 1)}"] if passed else []
        parts += [setup.prism.prism] if setup.prism is not None and rows.stop[worst] >= 0 else []
        names = names_of(plan, mine)
        count = f"; {len(names)} stations get too little" if len(names) > 1 else ""
        found.append(rows_finding(
            plan, mine, Severity.ERROR, "too-little-light",
            f"after {' and '.join(parts) or 'the air alone'} {light[worst]:.1%} of the light is left at "
            f"{station_name(plan, worst)}; {target.name} reads from {target.least_light:.1%} on{count}",
            _fewer_words(plan, setup) or "take a target that reads with less light",
        ))  # fmt: skip
    return found


def _fewer_words(plan: Plan, setup: Setup) -> str:
    """How many targets may stand in the beam at once, in words; empty where even one gets too little light."""
    for count in range(len(setup.through) - 1, 0, -1):
        trial = traced_with(plan, replace(setup, through=setup.through[:count]))
        if trial is not None and not _is_dim(trial).any() and not _is_dark(trial).any():
            names = ", ".join(setup.through[:count])
            return f"let at most {count} target{'s' * (count != 1)} stand in the beam at once: through: [{names}]"
    return ""
