"""``datumray picture``: the plan or the result as a picture file, as the viewer draws it."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from scenes.errors import InputError
from viewer.commands.options import LayoutFile

__all__ = ["Theme", "View", "picture"]


class View(StrEnum):
    """Where the picture is seen from."""

    BED = "bed"
    WHOLE = "whole"
    TOP = "top"
    SIDE = "side"
    END = "end"


class Theme(StrEnum):
    """Colours of the picture."""

    LIGHT = "light"
    DARK = "dark"


def picture(
    layout: LayoutFile,
    readings: Annotated[
        list[str] | None, typer.Argument(help="Readings files; without them the plan is drawn.")
    ] = None,
    out: Annotated[Path, typer.Option("--out", "-o", help="PNG file to write.")] = Path("picture.png"),
    view: Annotated[View | None, typer.Option(help="Where it is seen from.")] = None,
    width: Annotated[int, typer.Option(min=200, max=8000, help="Width in pixels.")] = 1600,
    height: Annotated[int, typer.Option(min=200, max=8000, help="Height in pixels.")] = 1000,
    theme: Annotated[Theme, typer.Option(help="Colours.")] = Theme.LIGHT,
) -> None:
    """Draw the plan, or with readings the result, and write it to a PNG file."""
    from viewer.logic.session import open_session
    from viewer.picture import PictureOptions, render_png

    if out.suffix.lower() != ".png":
        raise InputError(f"{out} does not end in .png; pictures are written as PNG")
    if not out.parent.is_dir():
        raise InputError(f"there is no folder {out.parent} to write {out.name} to")
    session = open_session(str(layout), readings or ())
    options = PictureOptions(view=view or "", dark=theme is Theme.DARK, size=(width, height))
    render_png(session, out, options)
