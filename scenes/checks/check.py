"""The check of a layout: all findings of the plan, the worst first, and what the plan promises."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import GeometryError
from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..reductions.network import LOST
from .base_lines import check_datum_ends, check_emitter_on_line
from .bending import check_bending
from .blocking import check_lost, check_sight
from .certainty import Prediction, check_tasks
from .distances import check_range, check_reach, check_spot_size
from .levels import check_level_surface, check_reversal, check_vials
from .placement import check_base_tilt, check_mounts, check_places, check_reads
from .plan import Plan, traced_plan
from .prisms import check_out_of_plane, check_prism_faces
from .radii import check_radii
from .sampling import check_waviness
from .shared_beams import check_light, check_shared_beams
from .slants import check_slants
from .ties import check_ties
from .window import check_window

__all__ = ["CheckResult", "check_layout"]

LAYOUT_CHECKS = (check_places, check_mounts, check_reads, check_reversal, check_vials, check_waviness)
PLAN_CHECKS = (
    check_base_tilt, check_emitter_on_line, check_lost, check_sight, check_shared_beams, check_light, check_range,
    check_reach, check_window, check_slants, check_spot_size, check_prism_faces, check_datum_ends, check_out_of_plane,
    check_radii, check_level_surface, check_bending,
)  # fmt: skip
UNTRACEABLE = {
    "level-without-reference": "level by stations that are not on one line, or by a vial",
    "no-material": "state the material of the surface, or leave its temperature out",
    "no-line": "name near and far stations that stand apart, or give the emitter an aim",
    "target-at-emitter": "move the emitter, or read that station from another set-up",
}
"""What to do about a plan that cannot be traced, by code."""

EXPLAINS = {"not-read": "no set-up reads any", "out-of-plane": "turn of the prism"}
"""Findings that say why a task is open, and the words of the same cause when a task is found open: it is told once."""

LOSES = ("wrong-side", "prism-misses", "too-near")
"""Findings about beams that never come; that no task can be solved with them goes without saying."""

TIES = " tie"
"""These words in what leaves a task open speak of set-ups that are not tied to each other."""

_ORDER = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


@dataclass(frozen=True, slots=True, eq=False)
class CheckResult:
    """Findings (errors first, else in the order of the checks), the traced plan and the predictions.

    ``plan`` is None where a set-up cannot even be levelled; a finding says why.
    """

    layout: Layout
    plan: Plan | None
    findings: tuple[Finding, ...]
    predictions: tuple[Prediction, ...]

    @property
    def failed(self) -> bool:
        """True where any finding is an error."""
        return any(finding.severity is Severity.ERROR for finding in self.findings)


def check_layout(layout: Layout, rng: np.random.Generator) -> CheckResult:
    """Check everything that can be checked before the first reading; ``rng`` draws the trials of the predictions."""
    found = [finding for check in LAYOUT_CHECKS for finding in check(layout)]
    try:
        plan = traced_plan(layout)
    except GeometryError as error:
        said = [setup for setup in layout.setups if str(error).startswith(f"set-up {setup}")]
        name = max(said, key=len, default="")
        line = layout.setups[name].line if name else 0
        code = error.code or "level-without-reference"
        found.append(Finding(
            Severity.ERROR, code, "set-up", name, str(error), UNTRACEABLE[code], setup=name, line=line,
        ))  # fmt: skip
        return CheckResult(layout, None, _sorted(found), ())
    found += [finding for check in PLAN_CHECKS for finding in check(plan)]
    open_tasks, predictions = check_tasks(layout, rng)
    return CheckResult(layout, plan, _sorted(_explained(plan, found, open_tasks)), tuple(predictions))


def _explained(plan: Plan, found: list[Finding], of_tasks: list[Finding]) -> list[Finding]:
    """All findings; what a task leaves open is told once, by the finding that says why where there is one."""
    known = {(finding.name, EXPLAINS[finding.code]) for finding in found if finding.code in EXPLAINS}
    told: dict[tuple[str, str, str], Finding] = {}
    unsolved = set()
    for finding in of_tasks:
        if finding.code == "task-open" and LOST in finding.message and any(each.code in LOSES for each in found):
            continue
        words = [phrase for name, phrase in known if name == finding.name and phrase in finding.message]
        if finding.code == "task-open" and words:
            unsolved |= {(finding.name, phrase) for phrase in words}
            continue
        if finding.code == "task-open" and TIES in finding.message:
            finding = check_ties(plan, plan.layout.tasks[finding.name]) or finding
        told[finding.code, finding.name, finding.message] = finding
    return [
        replace(finding, severity=Severity.ERROR)
        if (finding.name, EXPLAINS.get(finding.code, "-")) in unsolved else finding
        for finding in found
    ] + list(told.values())  # fmt: skip


def _sorted(findings: list[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: _ORDER[finding.severity]))
