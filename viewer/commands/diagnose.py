"""``datumray diagnose``: which errors would explain what the readings do not agree on."""

from __future__ import annotations

from typing import Annotated

import typer

from viewer.commands.options import JsonFile, LayoutFile, ReadingsFiles, Seed

__all__ = ["diagnose"]


def diagnose(
    layout: LayoutFile,
    readings: ReadingsFiles,
    json: JsonFile = "",
    visit: Annotated[str, typer.Option("--visit", metavar="VISIT", help="Only this visit.")] = "",
    trials: Annotated[int, typer.Option("--trials", min=1000, max=10_000_000, help="Monte Carlo trials.")] = 2_000,
    seed: Seed = 20_000,
) -> None:
    """Look for errors that explain what remains after the reduction; nothing is corrected."""
    from scenes.diagnosis.surveys import diagnose_survey
    from scenes.errors import InputError, Problem
    from scenes.layout.read import read_layout
    from scenes.readings.columns import visit_name
    from scenes.readings.read import read_readings
    from scenes.reductions.survey import reduce_survey, visits_of
    from viewer.report.diagnosis_document import diagnosis_value
    from viewer.report.diagnosis_report import print_diagnosis
    from viewer.report.output import console, write_json

    plan = read_layout(layout)
    records = read_readings(readings, plan)
    visits, wanted = visits_of(records), visit_name(visit)
    if wanted and wanted not in visits:
        raise InputError([Problem("--visit", 0, 0, f"there is no visit {wanted!r}", f"visits: {', '.join(visits)}")])
    survey = reduce_survey(plan, records, trials=trials, seed=seed)
    found = diagnose_survey(survey, wanted)
    if json:
        document = {
            "layout": plan.file,
            "title": plan.title,
            "diagnoses": [diagnosis_value(plan, each) for each in found],
            "failures": [
                {"task": failure.task, "visit": failure.visit, "message": failure.message}
                for failure in survey.failures
            ],
        }
        write_json(document, json)
    if json != "-":
        out = console()
        for failure in survey.failures:
            out.print(f"{failure.task}, {failure.visit}: no result: {failure.message}", markup=False)
        for each in found:
            print_diagnosis(plan, each, out)
