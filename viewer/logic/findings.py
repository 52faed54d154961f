"""Findings of a plan and the stations that they are about, in plain data."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes.checks.check import CheckResult
from scenes.checks.detector_view import rows_of_station
from scenes.checks.plan import Plan
from scenes.model.finding import Finding, Severity
from scenes.tracing.sight import Sight
from viewer import text
from viewer.logic.result import finding_row

__all__ = ["FINDINGS_SHOWN", "about_station", "finding_rows", "row_of_finding", "severity_choices"]

Document = dict[str, Any]

FINDINGS_SHOWN = 300
"""Longer lists end here and say so."""

HERE, ITS_SETUP = "this station", "its set-up"


def finding_rows(check: CheckResult) -> tuple[list[Document], str]:
    """Findings ready for the page, and a note where not all are listed."""
    shown = check.findings[:FINDINGS_SHOWN]
    rows = [{**finding_row(each), "number": n, "severity": str(each.severity)} for n, each in enumerate(shown)]
    left = len(check.findings) - len(shown)
    return rows, f"{left} more findings are not listed." if left else ""


def severity_choices(check: CheckResult) -> list[Document]:
    """Severities that occur, with their numbers, to choose what is listed."""
    words = {Severity.ERROR: "errors", Severity.WARNING: "warnings", Severity.NOTE: "notes"}
    choices = []
    for severity, several in words.items():
        count = sum(each.severity is severity for each in check.findings)
        if count:
            choices.append({
                "value": str(severity), "kind": text.SEVERITY_KINDS[severity], "shape": text.SEVERITY_SHAPES[severity],
                "title": f"{count} {several if count != 1 else str(severity)}",
            })  # fmt: skip
    return choices


def _setups_of(plan: Plan | None, station: str) -> set[str]:
    """Set-ups that read a station."""
    if plan is None:
        return set()
    rows = plan.geometry.rows
    return {rows.setups[int(rows.setup[row])] for row in rows_of_station(plan, station)}


def about_station(check: CheckResult, station: str) -> dict[str, str]:
    """Numbers of the findings about a station or a set-up that reads it, with words for which; empty for no station."""
    if not station:
        return {}
    setups = _setups_of(check.plan, station)
    found = {}
    for number, each in enumerate(check.findings[:FINDINGS_SHOWN]):
        if each.kind == "station" and each.name == station:
            found[str(number)] = HERE
        elif each.kind == "set-up" and each.name in setups:
            found[str(number)] = ITS_SETUP
    return found


def row_of_finding(plan: Plan | None, finding: Finding) -> int | None:
    """Planned reading that shows what a finding says: a stopped one where it is about that; None where none does."""
    if plan is None or finding.kind != "station":
        return None
    rows = rows_of_station(plan, finding.name, finding.setup)
    if len(rows) == 0:
        return None
    stopped = rows[plan.sight.sight[rows] > Sight.CLEAR]
    lost = rows[~np.isfinite(plan.spots.path[rows])]
    for some in (stopped, lost, rows):
        if len(some):
            return int(some[0])
    return None
