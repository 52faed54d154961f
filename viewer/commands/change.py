"""``datumray change``: what changed between two visits, with its own uncertainty."""

from __future__ import annotations

from typing import Annotated

import typer

from viewer.commands.options import JsonFile, LayoutFile, ReadingsFiles, Seed

__all__ = ["change"]


def change(
    layout: LayoutFile,
    readings: ReadingsFiles,
    json: JsonFile = "",
    first: Annotated[
        str, typer.Option("--from", metavar="VISIT", help="Earlier visit; the first one where left out.")
    ] = "",
    last: Annotated[str, typer.Option("--to", metavar="VISIT", help="Later visit; the last one where left out.")] = "",
    task: Annotated[
        list[str] | None, typer.Option("--task", metavar="TASK", help="Only this task; may be given more than once.")
    ] = None,
    anew: Annotated[
        list[str] | None,
        typer.Option(
            "--anew", metavar="WORD",
            help="Changed or certified anew in between: mount, target, base ... or the name of a device.",
        ),
    ] = None,
    at_rest: Annotated[
        list[str] | None,
        typer.Option("--at-rest", metavar="STATION", help="A station known not to have moved: it carries the datum."),
    ] = None,
    predicted: Annotated[
        bool,
        typer.Option("--predicted", help="Count from what the moves proposed for the earlier visit should leave."),
    ] = False,
    trials: Annotated[int, typer.Option("--trials", min=1000, max=10_000_000, help="Monte Carlo trials.")] = 20_000,
    seed: Seed = 20_000,
) -> None:  # fmt: skip
    """Compare two visits of a machine: what changed, what is proven of it, and which stations moved."""
    from scenes.errors import GeometryError, InputError, Problem
    from scenes.hints import did_you_mean
    from scenes.layout.read import read_layout
    from scenes.readings.columns import visit_name
    from scenes.readings.read import read_readings
    from scenes.reductions.survey import reduce_survey, visits_of
    from scenes.visits.change import change as change_of
    from viewer.report.change_document import change_value
    from viewer.report.change_forecast import predictions_of
    from viewer.report.change_report import print_change
    from viewer.report.output import console, write_json

    plan = read_layout(layout)
    for name in task or ():
        if name not in plan.tasks:
            raise InputError([Problem("--task", 0, 0, f"there is no task {name!r}", did_you_mean(name, plan.tasks))])
    for name in at_rest or ():
        if name not in plan.stations:
            advice = did_you_mean(name, plan.stations)
            raise InputError([Problem("--at-rest", 0, 0, f"there is no station {name!r}", advice)])
    records = read_readings(readings, plan)
    visits = visits_of(records)
    one, two = (visit_name(first) or visits[0], visit_name(last) or visits[-1]) if visits else ("", "")
    for option, name in (("--from", one), ("--to", two)):
        if name not in visits:
            raise InputError([Problem(option, 0, 0, f"there is no visit {name!r}", f"visits: {', '.join(visits)}")])
    if one == two:
        advice = f"visits: {', '.join(visits)}"
        raise InputError([Problem("readings", 0, 0, "a change needs two visits", advice)])
    survey = reduce_survey(plan, records, trials=trials, seed=seed)
    found, reasons = [], []
    for name in task or plan.tasks:
        before, after = survey.of(name, one), survey.of(name, two)
        if before is None or after is None:
            reasons.append(f"task {name}: {one if before is None else two} does not tell it")
            continue
        try:
            partners = predictions_of(plan, before) if predicted else (before,)
            found += [change_of(partner, after, tuple(anew or ()), tuple(at_rest or ())) for partner in partners]
        except GeometryError as error:
            reasons.append(f"task {name}: {error}")
    if not found:
        raise GeometryError("\n".join(reasons))
    if json:
        write_json({"changes": [change_value(plan, each) for each in found], "not_compared": reasons}, json)
    if json != "-":
        for each in found:
            print_change(each, console())
        for reason in reasons:
            console().print(f"  no change: {reason}", markup=False)
