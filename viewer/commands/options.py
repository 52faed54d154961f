"""Arguments and options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["JsonFile", "LayoutFile", "ReadingsFiles", "Seed"]

LayoutFile = Annotated[Path, typer.Argument(metavar="LAYOUT", help="Layout file (YAML).")]
ReadingsFiles = Annotated[
    list[Path], typer.Argument(metavar="READINGS...", help="Readings files (CSV, XLSX); - reads standard input.")
]
JsonFile = Annotated[
    str, typer.Option("--json", metavar="FILE", help="Write JSON to FILE; - writes only JSON to standard output.")
]
Seed = Annotated[int, typer.Option("--seed", min=0, help="Seed of the Monte Carlo trials.")]
