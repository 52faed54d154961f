"""``datumray reduce``: from readings to deviations, verdicts and shims."""

from __future__ import annotations

from typing import Annotated

import typer

from viewer.commands.options import JsonFile, LayoutFile, ReadingsFiles, Seed
from viewer.commands.references import FlatnessReference

__all__ = ["reduce"]


def reduce(
    layout: LayoutFile,
    readings: ReadingsFiles,
    json: JsonFile = "",
    reference: Annotated[
        FlatnessReference | None, typer.Option("--reference", help="Use this reference in place of that of the layout.")
    ] = None,
    trials: Annotated[int, typer.Option("--trials", min=1000, max=10_000_000, help="Monte Carlo trials.")] = 20_000,
    seed: Seed = 20_000,
    fail_on_verdict: Annotated[
        bool, typer.Option("--fail-on-verdict", help="Exit with code 1 unless every verdict is 'conforms'.")
    ] = False,
) -> None:
    """Reduce readings to deviations with their uncertainty, a verdict, and shims for the feet."""
    from scenes.layout.read import read_layout
    from scenes.readings.read import read_readings
    from scenes.reductions.survey import reduce_survey
    from scenes.reductions.verdict import Word
    from viewer.commands.references import reference_of
    from viewer.logic.proposals import proposals_of
    from viewer.report.json_documents import reduce_document
    from viewer.report.output import console, write_json
    from viewer.report.reduction import print_reduction

    plan = read_layout(layout)
    survey = reduce_survey(
        plan, read_readings(readings, plan), reference=reference_of(reference), trials=trials, seed=seed
    )
    proposals, remarks = proposals_of(survey)
    if json:
        write_json(reduce_document(survey, proposals, remarks), json)
    if json != "-":
        print_reduction(survey, proposals, remarks, console())
    if fail_on_verdict and (survey.failures or any(each.verdict.word is not Word.CONFORMS for each in survey.results)):
        raise typer.Exit(1)
