"""``datumray example``: copies of the examples that come with the program."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Annotated

import typer

from scenes.errors import InputError, Problem
from scenes.hints import did_you_mean

__all__ = ["example", "examples_folder"]

PACKAGE = Path(__file__).resolve().parents[2]


def examples_folder() -> Path:
    """Folder of the examples: beside the packages in a checkout, inside ``scenes`` when installed."""
    installed = PACKAGE / "scenes" / "examples"
    return installed if installed.is_dir() else PACKAGE / "examples"


def example(
    name: Annotated[str, typer.Argument(help="Example to copy; without it the examples are listed.")] = "",
    folder: Annotated[Path | None, typer.Argument(help="Where to; default: a new folder of that name here.")] = None,
) -> None:
    """Copy an example to a folder of your own, or list the examples."""
    source = examples_folder()
    names = sorted(path.parent.name for path in source.glob("*/layout.yaml"))
    if not name:
        typer.echo("\n".join(names))
        return
    if name not in names:
        raise InputError([Problem("example", 0, 0, f"there is no example {name!r}", did_you_mean(name, names))])
    target = folder or Path(name)
    if target.exists():
        raise InputError([Problem(str(target), 0, 0, "exists already", "name another folder: nothing is overwritten")])
    try:
        shutil.copytree(source / name, target, ignore=shutil.ignore_patterns("__pycache__"))
    except (OSError, shutil.Error) as error:
        raise InputError([Problem(str(target), 0, 0, f"cannot be written: {error}", "name another folder")]) from None
    typer.echo(f"copied to {target}; try: datumray check {target / 'layout.yaml'}")
