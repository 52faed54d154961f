"""``datumray predict``: how sure the answers will be, and which limits the plan can prove."""

from __future__ import annotations

from typing import Annotated

import typer

from viewer.commands.options import JsonFile, LayoutFile, Seed

__all__ = ["predict"]


def predict(
    layout: LayoutFile,
    trials: Annotated[
        int, typer.Option("--trials", min=0, max=1_000_000, help="Trials through the traced model; 0: none.")
    ] = 10_000,
    seed: Seed = 20_000,
    json: JsonFile = "",
) -> None:
    """Predict the uncertainty of every task and which limits the plan can prove. Exit code 1: one cannot be proven."""
    import numpy as np

    from scenes.errors import GeometryError
    from scenes.layout.read import read_layout
    from scenes.reductions.planned_tasks import planned_of
    from scenes.reductions.prediction import predict as predicted
    from viewer.report.output import console, write_json
    from viewer.report.predict_document import predict_document
    from viewer.report.predict_report import print_predictions
    from viewer.report.progress import progress_of

    plan = read_layout(layout)
    found, failures = [], []
    networks, errors = {}, {}  # type: ignore[var-annotated]
    with progress_of("trials", trials * len(plan.tasks)) as advance:
        for task in plan.tasks.values():
            try:
                planned = planned_of(plan, task, networks, errors)
            except GeometryError as error:
                failures.append((task.name, str(error)))
                advance(trials)
                continue
            found.append(predicted(planned, np.random.default_rng(seed), trials, progress=advance))
    if json:
        write_json(predict_document(plan, found, failures, trials, seed), json)
    if json != "-":
        print_predictions(plan, found, failures, console())
    if failures or any(each.can_be_proven is False for each in found):
        raise typer.Exit(1)
