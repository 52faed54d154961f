"""``datumray history``: the visits of many machines, from an index that follows from their folders."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from viewer.commands.options import JsonFile

__all__ = ["history"]


def history(
    folders: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[FOLDERS...]", help="Folders of machines, or a folder above them; here if left out."),
    ] = None,
    index: Annotated[
        Path | None,
        typer.Option("--index", metavar="FILE", help="Index file; datumray.sqlite in the first folder if left out."),
    ] = None,
    machine: Annotated[str, typer.Option("--machine", metavar="TEXT", help="Machines whose name holds this.")] = "",
    task: Annotated[str, typer.Option("--task", metavar="TEXT", help="Tasks whose name holds this.")] = "",
    since: Annotated[str, typer.Option("--since", metavar="DATE", help="Visits on or after this date.")] = "",
    json: JsonFile = "",
    rebuild: Annotated[bool, typer.Option("--rebuild", help="Work out everything anew from the files.")] = False,
) -> None:
    """Show the latest verdicts of all machines, what got worse, and where their trends lead."""
    from importlib.metadata import version

    from scenes.errors import InputError, Problem
    from scenes.visits.index import build_index
    from scenes.visits.index_file import INDEX
    from scenes.visits.visit_notes import date_of_text
    from viewer.report.history_document import history_document
    from viewer.report.history_progress import growing_progress
    from viewer.report.history_report import print_history
    from viewer.report.history_selection import selected
    from viewer.report.output import console, write_json

    if since:
        try:
            date_of_text(since)
        except ValueError as error:
            raise InputError([Problem("--since", 0, 0, str(error), "write 2026-03-14")]) from None
    roots = folders or [Path()]
    with growing_progress("visits") as progress:
        found = build_index(roots, index or roots[0] / INDEX, version("datumray"), rebuild, progress)
    told = selected(found.machines, machine, task, since)
    if (machine or task or since) and not any(rows.results for rows in told.values()):
        advice = f"machines: {', '.join(found.machines)}"
        raise InputError([Problem("history", 0, 0, "no result is left by --machine, --task and --since", advice)])
    if json:
        write_json(history_document(told, found.computed, found.remarks), json)
    if json != "-":
        print_history(told, found.computed, found.remarks, console())
