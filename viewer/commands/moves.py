"""``datumray moves``: what to shim, jack and push, in which order, and what that should leave."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from viewer.commands.options import JsonFile, LayoutFile, ReadingsFiles, Seed

if TYPE_CHECKING:
    from scenes.model.layout import Layout
    from scenes.reductions.quantities.measured import Measured
    from scenes.reductions.survey import SurveyResult

__all__ = ["moves"]


class Goal(StrEnum):
    """What the moves make small."""

    MINIMAX = "minimax"
    LEAST_SQUARES = "least squares"


def moves(
    layout: LayoutFile,
    readings: ReadingsFiles,
    task: Annotated[
        str, typer.Option("--task", metavar="NAME", help="One task; all that can be mended by moves.")
    ] = "",
    visit: Annotated[str, typer.Option("--visit", metavar="NAME", help="Visit to start from; the last one read.")] = "",
    goal: Annotated[
        Goal, typer.Option("--goal", help="Least value, or least squares of all deviations.")
    ] = Goal.MINIMAX,
    most_feet: Annotated[
        int | None, typer.Option("--most-feet", min=1, max=12, help="Most feet, or parts on bearings, to touch.")
    ] = None,
    most_pieces: Annotated[
        int | None, typer.Option("--most-pieces", min=1, max=20, help="Most shims under one foot.")
    ] = None,
    soft_foot: Annotated[
        str, typer.Option("--soft-foot", metavar="FILE", help="Gaps under the feet: CSV with foot, gap [um].")
    ] = "",
    datum: Annotated[
        str, typer.Option("--datum", metavar="DATUM", help="Of bearings: task, free, or a part that must not move.")
    ] = "task",
    influence_out: Annotated[
        str,
        typer.Option("--influence-out", metavar="FILE", help="Write the influence read in visits 'lift F1 0.5 mm'."),
    ] = "",
    json: JsonFile = "",
    seed: Seed = 20_000,
) -> None:
    """Moves of feet and bearings from readings: lifts, shims, the order of the steps, and the predicted as-left."""
    import numpy as np

    from scenes.corrections.planned_moves import moves_of
    from scenes.corrections.soft_foot_file import read_gaps
    from scenes.errors import GeometryError, InputError, Problem
    from scenes.layout.read import read_layout
    from scenes.readings.read import read_readings
    from scenes.reductions.survey import reduce_survey
    from viewer.report.moves_document import moves_document
    from viewer.report.moves_report import print_moves
    from viewer.report.output import console, write_json

    plan = read_layout(layout)
    if task and task not in plan.tasks:
        raise InputError([Problem("--task", 0, 0, f"the layout has no task {task!r}: {', '.join(plan.tasks)}")])
    survey = reduce_survey(plan, read_readings(readings, plan), trials=1000, seed=seed)
    if influence_out:
        _write_influence(plan, survey, task, visit, influence_out)
        return
    gaps = read_gaps(soft_foot) if soft_foot else {}
    found, remarks = [], list(_remarks(plan, survey))
    for measured in _chosen(survey, task, visit):
        try:
            made = moves_of(plan, measured, goal=str(goal), most_feet=most_feet, most_pieces=most_pieces, gaps=gaps,
                            datum=datum, rng=np.random.default_rng(seed))  # fmt: skip
        except GeometryError as error:
            remarks.append(f"{measured.evidence.task.name}, {measured.evidence.visit}: no moves. {error}")
            continue
        if made is not None:
            found.append(made)
    if json:
        write_json(moves_document(plan, found, remarks), json)
    if json != "-":
        print_moves(plan, found, remarks, console())
    if not found:
        raise GeometryError(
            "no moves: name feet, or the bearings of rolls and bores, in the layout, and read a task of them"
        )


def _chosen(survey: SurveyResult, task: str, visit: str) -> list[Measured]:
    """Measured tasks to start from: those of the named visit, or of the last one in which no foot was lifted."""
    from scenes.corrections.influence_readings import is_lift
    from scenes.errors import InputError, Problem

    visits = [name for name in survey.visits if not is_lift(name)]
    if visit and visit not in visits:
        raise InputError([Problem("--visit", 0, 0, f"no reading is of the visit {visit!r}: {', '.join(visits)}")])
    last = visit or (visits[-1] if visits else "")
    return [each for each in survey.measured
            if each.evidence.visit == last and task in ("", each.evidence.task.name)]  # fmt: skip


def _write_influence(plan: Layout, survey: SurveyResult, task: str, visit: str, target: str) -> None:
    from scenes.corrections.bed_feet import feet_of
    from scenes.corrections.influence_file import influence_text
    from scenes.corrections.influence_readings import influence_from_lifts
    from scenes.errors import GeometryError
    from scenes.readings.write import replace_text
    from viewer.report.output import console

    for measured in _chosen(survey, task, visit):
        asked = measured.evidence.task
        feet = feet_of(plan, asked.surface)
        if feet is None:
            continue
        found = influence_from_lifts(plan, survey, feet, asked.name, measured.evidence.visit)
        replace_text(target, influence_text(feet, found.stations, found.matrix))
        console().print(f"{target}: {len(found.stations)} stations, {len(feet.names)} feet; standard uncertainty "
                        f"{100 * found.known_to:.1f} % of what bends. In the layout write influence: {{measured: ...}} "
                        f"and influence known to: {100 * found.known_to:.1f} %.")  # fmt: skip
        return
    raise GeometryError("no influence: no task that was read has feet in the layout")


def _remarks(plan: Layout, survey: SurveyResult) -> list[str]:
    """What else can be moved, and by which command."""
    staged = [name for name, setup in plan.setups.items() if setup.stage]
    said = [f"{failure.task}, {failure.visit}: no result. {failure.message}" for failure in survey.failures]
    if staged:
        listed = ", ".join(f"--setup '{name}'" for name in staged)
        said.append(f"the screws of the stage that carries the emitter are told by 'datumray aim' ({listed})")
    return said
