"""``datumray form``: flatness or straightness of any list of points."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from viewer.commands.options import JsonFile
from viewer.commands.references import FormReference, reference_of

__all__ = ["form"]


class Quantity(StrEnum):
    """What is asked of the points."""

    FLATNESS = "flatness"
    STRAIGHTNESS = "straightness"


def form(
    quantity: Annotated[Quantity, typer.Argument(help="What is asked of the points.")],
    points: Annotated[
        Path, typer.Argument(metavar="POINTS", help="CSV with the header 'x [mm], y [mm], z [um]'; -: standard input.")
    ],
    reference: Annotated[
        FormReference, typer.Option("--reference", help="Line or plane that deviations are counted from.")
    ] = FormReference.MINIMUM_ZONE,
    datum: Annotated[
        str, typer.Option("--datum", help="Points that carry the reference, by name or count from 1: 1,5,21.")
    ] = "",
    unit: Annotated[str, typer.Option("--unit", help="Unit of the value.")] = "um",
    json: JsonFile = "",
) -> None:
    """Evaluate the form of a list of points against a reference, with the points that hold it."""
    from scenes.readings.points import read_points
    from viewer.report.form_report import evaluate_points, print_form
    from viewer.report.json_documents import form_document
    from viewer.report.output import console, write_json

    table = read_points(points)
    kind = reference_of(reference)
    assert kind is not None
    result = evaluate_points(table, quantity.value, kind, datum, unit)
    if json:
        write_json(form_document(result, table, unit), json)
    if json != "-":
        print_form(result, table, unit, console())
