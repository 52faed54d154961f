"""``datumray trace``: every beam of a plan, corner by corner, with its spot on the detector."""

from __future__ import annotations

from typing import Annotated

import typer

from viewer.commands.options import JsonFile, LayoutFile

__all__ = ["trace"]


def trace(
    layout: LayoutFile,
    station: Annotated[
        str, typer.Option("--station", metavar="NAMES", help="Only these: stations, ranges A1..A7 or groups, by comma.")
    ] = "",
    setup: Annotated[str, typer.Option("--setup", metavar="NAME", help="Only the readings from this set-up.")] = "",
    json: JsonFile = "",
) -> None:
    """Trace the planned readings: corners and length of every beam, its radius and light, its spot with its margin."""
    from scenes.checks.plan import traced_plan
    from scenes.layout.read import read_layout
    from viewer.commands.chosen_beams import chosen_beams
    from viewer.report.output import console, write_json
    from viewer.report.trace_document import trace_document
    from viewer.report.trace_report import print_trace
    from viewer.report.traced_beams import traced_beams

    plan = traced_plan(read_layout(layout))
    beams = chosen_beams(plan.layout, traced_beams(plan), station, setup)
    if json:
        write_json(trace_document(plan.layout, beams), json)
    if json != "-":
        print_trace(plan.layout, beams, bool(station), console())
