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
    follow: Annotated[
        str, typer.Option("--follow", metavar="FILE", help="Show readings live from a file that grows.")
    ] = "",
    listen: Annotated[
        int | None,
        typer.Option("--listen", metavar="PORT", min=0, max=65535, help="Show live what senders send; 0: any port."),
    ] = None,
    journal: Annotated[
        str, typer.Option("--journal", metavar="FILE", help="Add every live record to this readings file.")
    ] = "",
    visit: Annotated[str, typer.Option("--visit", metavar="NAME", help="Visit of live records that state none.")] = "",
) -> None:
    """Show the survey in 3D in the browser: the plan, readings as they come, deviations, verdict and shims."""
    from scenes.errors import InputError, Problem
    from viewer.app import App
    from viewer.logic.live_source import LiveSource
    from viewer.serving import serve

    live = bool(follow) or listen is not None
    if (journal or visit) and not live:
        option = "--journal" if journal else "--visit"
        advice = "state --follow FILE or --listen PORT as well, or leave it out"
        raise InputError([Problem(option, 0, 0, "this option is for live readings", advice)])
    # A wrong file is told here, before a browser opens.
    survey = App(str(layout), tuple(str(path) for path in readings or ()), live)
    feed = LiveSource(str(layout), follow_file=follow, port=listen, journal=journal, visit=visit) if live else None
    serve(survey, port=port, open_browser=browser, feed=feed)
