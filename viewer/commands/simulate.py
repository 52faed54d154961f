"""``datumray simulate``: readings of a machine whose truth is known, with hidden faults on request."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from viewer.commands.options import LayoutFile

if TYPE_CHECKING:
    from scenes.checks.plan import Plan
    from scenes.uncertainty.simulate import Simulated
    from scenes.vectors import Indices

__all__ = ["simulate"]

FINE = 1e-9  # metres; what perfect readings are written to
USUAL = 1e-7  # metres; what a display shows
LARGEST = 0.1  # metres; no machine is off by more


def simulate(
    layout: LayoutFile,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Seed: the same one gives the same readings.")],
    visit: Annotated[
        str, typer.Option("--visit", metavar="NAME", help="Visit: as found, as left, a name.")
    ] = "as found",
    truth: Annotated[
        str,
        typer.Option("--truth", metavar="FILE", help="What the machine is: CSV with station, up [um], aside [um] ..."),
    ] = "",
    size: Annotated[
        str, typer.Option("--size", metavar="LENGTH", help="Peak to valley of drawn surfaces; a third of the limit.")
    ] = "",
    fault: Annotated[
        list[str] | None,
        typer.Option("--fault", metavar="KIND[=WHERE,AMOUNT]", help="Hide a fault: drift, wrong-mount=A3,5 mm ..."),
    ] = None,
    perfect: Annotated[
        bool, typer.Option("--perfect", help="Readings without any error of devices, air or crew.")
    ] = False,
    output: Annotated[
        str, typer.Option("--output", "-o", metavar="FILE", help="Readings file (CSV); standard output where left out.")
    ] = "",
    answers: Annotated[
        str, typer.Option("--answers", metavar="FILE", help="Write truth, drawn errors and faults (JSON) to FILE.")
    ] = "",
) -> None:
    """Simulate the readings of a plan, for rehearsals, training and tests; the truth stays hidden without --answers."""
    import sys

    import numpy as np

    from scenes.checks.plan import traced_plan
    from scenes.layout.read import read_layout
    from scenes.readings.columns import visit_name
    from scenes.readings.truth_file import read_truth
    from scenes.readings.write import readings_text, replace_text
    from scenes.uncertainty.faults import faults_of_texts
    from scenes.uncertainty.simulate import simulated
    from viewer.report.answers_document import answers_document
    from viewer.report.output import write_json

    span, named = _checked(size, truth, visit_name(visit), output, answers)
    plan = traced_plan(read_layout(layout))
    known = read_truth(truth, plan.layout) if truth else None
    faults = faults_of_texts(fault or (), plan.layout, plan.geometry)
    rng = np.random.Generator(np.random.PCG64(seed))
    made = simulated(plan.layout, rng, known, faults, visit=named, size=span, perfect=perfect)
    written, notes = _readable(plan, made)
    text = readings_text(made.readings.chosen(written), plan.layout, FINE if perfect else USUAL)
    if answers:
        write_json(answers_document(plan.layout, made, written, seed, truth, perfect), answers)
    if output in ("", "-"):
        sys.stdout.write(text)
    else:
        replace_text(output, text)
        print(f"{len(written)} readings, {named}, written to {output}", file=sys.stderr)
    for note in notes:
        print(f"note: {note}", file=sys.stderr)


def _checked(size: str, truth: str, visit: str, output: str, answers: str) -> tuple[float | None, str]:
    """Size of drawn surfaces [m] and visit; everything wrong with the options is told at once."""
    from scenes.errors import InputError, Problem
    from scenes.units import UnitError, parse_quantity

    problems, span = [], None
    if size and truth:
        advice = "leave one of them out"
        problems.append(Problem("--size", 0, 0, "it is the size of a drawn truth, but the truth is stated", advice))
    elif size:
        try:
            span = parse_quantity(size, "length")
            if not 0.0 <= span <= LARGEST:
                problems.append(Problem("--size", 0, 0, f"{size} is no deviation of a machine", "for example 20 um"))
        except UnitError as error:
            problems.append(Problem("--size", 0, 0, str(error), "for example 20 um"))
    if not visit:
        problems.append(Problem("--visit", 0, 0, "a visit needs a name", "for example --visit 'as left'"))
    if answers == "-" and output in ("", "-"):
        advice = "name a file for one of them"
        problems.append(Problem("--answers", 0, 0, "readings and answers cannot both go to the terminal", advice))
    if problems:
        raise InputError(problems)
    return span, visit


def _readable(plan: Plan, made: Simulated) -> tuple[Indices, list[str]]:
    """Numbers of the readings that a crew could take, and notes on the others."""
    import numpy as np

    from scenes.errors import GeometryError
    from scenes.hints import listed
    from scenes.tracing.sight import Sight

    blocked, off = plan.sight.sight == Sight.BLOCKED, made.off_window
    notes = []
    for lost, why in ((blocked, "something stands in the beam"), (off & ~blocked, "the spot is off the detector")):
        names = list(dict.fromkeys(made.readings.station[i] for i in np.nonzero(lost)[0]))
        if names:
            count = int(lost.sum())
            notes.append(f"{count} reading{'s' * (count != 1)} left out, since {why}: {listed(names)}")
    written = np.nonzero(~(blocked | off))[0]
    if not len(written):
        raise GeometryError("no reading can be taken: " + "; ".join(notes))
    return written, notes
