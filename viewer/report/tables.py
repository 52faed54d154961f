"""Tables for the terminal."""

from __future__ import annotations

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from scenes.checks.certainty import Prediction
from scenes.checks.check import CheckResult
from scenes.corrections.proposal import ShimProposal
from scenes.model.finding import Finding, Severity
from scenes.model.layout import Layout
from scenes.model.survey import Feet
from scenes.reductions.verdict import Word
from scenes.tracing.sight import Sight
from scenes.units import DEVIATION, PLACE, SPOT, from_si, show

__all__ = ["SHAPES", "is_plain", "print_check", "print_findings", "print_shims", "table_of"]

STYLES = {Severity.ERROR: "bold red", Severity.WARNING: "yellow", Severity.NOTE: "dim"}
SHAPES = {Word.CONFORMS: ("●", "o", "green"), Word.NOT_PROVEN: ("▲", "^", "yellow"),
          Word.DOES_NOT_CONFORM: ("■", "#", "red")}  # fmt: skip


def table_of(*headers: str, title: str = "") -> Table:
    """A table without lines; the first column stands to the left."""
    table = Table(title=title or None, title_justify="left", title_style="bold", box=None, pad_edge=False)
    for number, header in enumerate(headers):
        table.add_column(header, justify="left" if number == 0 else "right", no_wrap=True)
    return table


def _number(value: float, unit: str, to: float = DEVIATION, sign: bool = False) -> str:
    """Number alone, for columns whose header names the unit."""
    return show(value, unit, sign=sign, to=to).split(" ")[0]


def is_plain(out: Console) -> bool:
    """Whether an output takes letters only."""
    return (out.encoding or "").lower().replace("-", "") not in ("utf8", "utf16")


def print_findings(findings: tuple[Finding, ...], file: str, out: Console) -> None:
    """Print findings, each with its place in the layout and what to do."""
    for finding in findings:
        place = f" ({file}, line {finding.line})" if finding.line else ""
        setup = f" from set-up {finding.setup}" if finding.setup and finding.kind != "set-up" else ""
        head = Text(f"{finding.severity} ", style=STYLES[finding.severity])
        head.append(finding.code, style="bold")
        head.append(f"  {finding.kind} {finding.name}{setup}{place}", style="default")
        out.print(head)
        out.print(f"    {escape(finding.message)}")
        out.print(f"    -> {escape(finding.advice)}")


def print_check(result: CheckResult, out: Console) -> None:
    """Print the planned readings, what they promise, and all findings."""
    layout = result.layout
    if layout.title:
        out.print(f"[bold]{escape(layout.title)}[/bold]")
    if result.plan is not None:
        _print_plan(result, out)
    for prediction in result.predictions:
        _print_promise(prediction, out)
    out.print()
    errors = sum(finding.severity is Severity.ERROR for finding in result.findings)
    if not result.findings:
        out.print("[green]Nothing found against this plan.[/green]")
        return
    out.print(f"[bold]{len(result.findings)} finding{'s' * (len(result.findings) != 1)}, {errors} of them "
              f"error{'s' * (errors != 1)}[/bold]")  # fmt: skip
    print_findings(result.findings, layout.file, out)


def _print_promise(prediction: Prediction, out: Console) -> None:
    """Print what the plan can tell of one task: of its tightest component, where it has several."""
    scale, surface = prediction.scale, prediction.task.quantity == "flatness"
    part = f", {prediction.component}" if prediction.component else ""
    out.print()
    out.print(f"[bold]{escape(prediction.task.name + part)}[/bold], limit {scale.told(prediction.limit)}: "
              f"what this plan can tell")  # fmt: skip
    if len(prediction.station_u):
        largest = prediction.station_scale.told(float(prediction.station_u.max()))
        out.print(f"  deviation of a station: standard uncertainty up to {largest}")
    thing = "surface" if surface else "machine"
    empty = f"a perfect {thing} would read {scale.told(prediction.empty_value)} from errors alone; "
    out.print(f"  {empty if prediction.is_zone else ''}limits from {scale.told(prediction.provable)} can be proven")
    parts = ", ".join(f"{name} {scale.told(u, whole=False).split(' ')[0]}" for name, u in prediction.budget[:5])
    where = " at a station" if surface else ""
    out.print(f"  largest error sources{where} [{scale.unit}{scale.behind}]: {parts}", markup=False)


def _print_plan(result: CheckResult, out: Console) -> None:
    plan, layout = result.plan, result.layout
    assert plan is not None
    rows, unit = plan.geometry.rows, layout.units.length
    table = table_of(
        "station", "set-up", f"range \\[{unit}]", f"spot v \\[{unit}]", f"beam radius \\[{unit}]", "sight",
        title=f"{len(rows)} planned readings",
    )  # fmt: skip
    shown: set[tuple[int, int]] = set()
    for i in range(len(rows)):
        key = (int(rows.setup[i]), int(rows.station[i]))
        if key in shown:
            continue
        shown.add(key)
        sight = Sight(int(plan.sight.sight[i]))
        by = "" if sight is Sight.CLEAR else f"{sight.name.lower()} by {plan.obstacles.names[plan.sight.by[i]]}"
        table.add_row(
            escape(rows.stations[rows.station[i]]), escape(rows.setups[rows.setup[i]]),
            _number(float(plan.spots.path[i]), unit, PLACE), _number(float(plan.spots.v[i]), unit, SPOT, sign=True),
            _number(float(plan.spots.radius[i]), unit, SPOT),
            Text(by or "clear", style="" if not by else "bold red" if sight is Sight.BLOCKED else "yellow"),
        )  # fmt: skip
    out.print(table)


def print_shims(proposal: ShimProposal, feet: Feet, layout: Layout, task: str, visit: str, out: Console) -> None:
    """Print what to put under each foot, and what that should leave."""
    unit, length = layout.units.deviation, layout.units.length
    u = proposal.predicted_uncertainty
    known = "" if u is None else f" (standard uncertainty of the readings {show(u, unit)}; moves adds that of the feet)"
    out.print(f"[bold]Shims for {escape(feet.surface)}, from {escape(task)}, {escape(visit)}[/bold]: flatness "
              f"{show(proposal.as_found, unit)} -> {show(proposal.predicted, unit)} predicted{known}; "
              f"the best that these feet can do is {show(proposal.bound, unit)}")  # fmt: skip
    headers = ("foot", f"x \\[{length}]", f"y \\[{length}]", f"lift \\[{unit}]", f"shims \\[{length}]", "load after")
    table = table_of(*headers)
    lowered = bool(np.any(proposal.lifts < 0))
    for i, name in enumerate(feet.names):
        pieces = (
            "-"
            if proposal.stacks is None
            else " + ".join(f"{from_si(piece, length, 'length'):.3g}" for piece in proposal.stacks[i])
        )
        load = "-" if proposal.loads_after is None else f"{proposal.loads_after[i] / 1e3:.0f} kN"
        table.add_row(
            escape(name), _number(float(feet.at[i, 0]), length, PLACE), _number(float(feet.at[i, 1]), length, PLACE),
            _number(float(proposal.lifts[i]), unit, 1e-6, sign=lowered), pieces or "none", load,
        )  # fmt: skip
    out.print(table)
    about_x, about_y = (show(float(angle), "mm/m", "angle", 3, sign=True) for angle in proposal.tilt)
    out.print(f"  the bed as a whole: raised by {show(proposal.mean_lift, unit)}, tilted by {about_x} about x and "
              f"{about_y} about y")  # fmt: skip
    for warning in proposal.warnings:
        out.print(f"  note: {escape(warning)}")
    out.print("  Block and lock out the machine before lifting; local rules for jacking come first.", style="dim")
