"""``datumray view``: the web viewer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from viewer.commands.options import LayoutFile

__all__ = ["view"]


def view(
    layout: LayoutFile,
    readings: Annotated[list[Path] | None, typer.Argument(metavar="[READINGS]...", help="Readings (CSV).")] = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port on 127.0.0.1; 0 takes a free one.")] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the browser.")] = True,
) -> None:
    """Show the survey in 3D in the browser: the plan, the measured deviations, verdict and shims."""
    from viewer.app import App
    from viewer.serving import serve

    # A wrong file is told here, before a browser opens.
    survey = App(str(layout), tuple(str(path) for path in readings or ()))
    serve(survey, port=port, open_browser=browser)
