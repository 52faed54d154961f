"""The check of a layout: all findings of the plan, the worst first, and what the plan promises."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..model.finding import Finding, Severity
from ..model.layout import Layout
from .certainty import Prediction, check_tasks
from .light import check_range, check_sight, check_spot_size
from .placement import check_base_tilt, check_mounts, check_places, check_reads
from .plan import Plan, traced_plan
from .radii import check_radii
from .window import check_window

__all__ = ["CheckResult", "check_layout"]

LAYOUT_CHECKS = (check_places, check_mounts, check_reads)
PLAN_CHECKS = (check_base_tilt, check_sight, check_range, check_window, check_spot_size, check_radii)
UNTRACEABLE = {
    "level-without-reference": "level by stations that are not on one line, or by a vial",
    "target-at-emitter": "move the emitter, or read that station from another set-up",
}
"""What to do about a plan that cannot be traced, by code."""

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
        name = next((setup for setup in layout.setups if str(error).startswith(f"set-up {setup}")), "")
        line = layout.setups[name].line if name else 0
        code = error.code or "level-without-reference"
        found.append(Finding(
            Severity.ERROR, code, "set-up", name, str(error), UNTRACEABLE[code], setup=name, line=line,
        ))  # fmt: skip
        return CheckResult(layout, None, _sorted(found), ())
    found += [finding for check in PLAN_CHECKS for finding in check(plan)]
    open_tasks, predictions = check_tasks(layout, rng)
    return CheckResult(layout, plan, _sorted([*found, *open_tasks]), tuple(predictions))


def _sorted(findings: list[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: _ORDER[finding.severity]))
