"""``datumray reduce``: from readings to deviations, verdicts and shims."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from viewer.commands.options import JsonFile, LayoutFile, ReadingsFiles, Seed
from viewer.commands.references import DecisionRule, TaskReference

__all__ = ["reduce"]


def reduce(
    layout: LayoutFile,
    readings: ReadingsFiles,
    json: JsonFile = "",
    reference: Annotated[
        TaskReference | None,
        typer.Option("--reference", help="Use this reference in place of that of the layout, where a task knows it."),
    ] = None,
    rule: Annotated[
        DecisionRule | None, typer.Option("--rule", help="Use this rule for every verdict in place of the layout's.")
    ] = None,
    compare: Annotated[
        bool, typer.Option("--compare", help="Show what every other reference and rule says, side by side.")
    ] = False,
    columns: Annotated[
        str, typer.Option("--columns", metavar="HEADERS", help="Headers of a table that has none: 'station, v [um]'.")
    ] = "",
    trials: Annotated[int, typer.Option("--trials", min=1000, max=10_000_000, help="Monte Carlo trials.")] = 20_000,
    seed: Seed = 20_000,
    fail_on_verdict: Annotated[
        bool, typer.Option("--fail-on-verdict", help="Exit with code 1 unless every verdict is 'conforms'.")
    ] = False,
) -> None:
    """Reduce readings to every quantity asked for: deviations with their uncertainty, verdicts, shims for the feet."""
    from scenes.errors import InputError, Problem
    from scenes.layout.read import read_layout
    from scenes.readings.columns import with_headers
    from scenes.readings.read import read_readings
    from scenes.reductions.quantities.references import known_references
    from scenes.reductions.survey import reduce_survey
    from scenes.reductions.verdict import Word
    from viewer.commands.references import reference_of, rule_of
    from viewer.logic.proposals import proposals_of
    from viewer.report.compared_document import compared_value
    from viewer.report.compared_report import print_compared
    from viewer.report.comparison import comparison
    from viewer.report.json_documents import reduce_document
    from viewer.report.output import console, write_json
    from viewer.report.reduction import print_reduction

    plan, wanted = with_headers(read_layout(layout), columns), reference_of(reference)
    if wanted is not None and not any(wanted in known_references(task) for task in plan.tasks.values()):
        advice = "leave --reference out; lines know end points, planes three points, axes the smallest cylinder"
        raise InputError([Problem("--reference", 0, 0, f"no task of the layout can count from {wanted}", advice)])
    if rule is not None:
        plan = replace(plan, tasks={name: replace(task, rule=rule_of(rule)) for name, task in plan.tasks.items()})
    survey = reduce_survey(plan, read_readings(readings, plan), reference=wanted, trials=trials, seed=seed)
    proposals, remarks = proposals_of(survey)
    told = comparison(survey, trials, seed) if compare else []
    if json:
        document = reduce_document(survey, proposals, remarks)
        if compare:
            document["compared"] = [compared_value(plan, *each) for each in told]
        write_json(document, json)
    if json != "-":
        print_reduction(survey, proposals, remarks, console())
        for each in told:
            print_compared(*each, plan, console())
    words = [each.word for each in survey.measured]
    if fail_on_verdict and (survey.failures or any(word is not Word.CONFORMS for word in words)):
        raise typer.Exit(1)
