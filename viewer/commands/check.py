"""``datumray check``: what stands against a plan before the first reading."""

from __future__ import annotations

import typer

from viewer.commands.options import JsonFile, LayoutFile, Seed

__all__ = ["check"]


def check(layout: LayoutFile, json: JsonFile = "", seed: Seed = 20_000) -> None:
    """Check a layout: sight lines, ranges, windows, and what the plan can prove. Exit code 1: an error was found."""
    import numpy as np

    from scenes.checks.check import check_layout
    from scenes.layout.read import read_layout
    from viewer.report.json_documents import check_document
    from viewer.report.output import console, write_json
    from viewer.report.tables import print_check

    result = check_layout(read_layout(layout), np.random.default_rng(seed))
    if json:
        write_json(check_document(result), json)
    if json != "-":
        print_check(result, console())
    if result.failed:
        raise typer.Exit(1)
