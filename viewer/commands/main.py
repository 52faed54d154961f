"""The command ``datumray``: errors become one message on standard error and exit code 2, never a traceback."""

from __future__ import annotations

import os
import sys

import typer

from scenes.errors import DatumrayError, InputError
from viewer.commands.aim import aim
from viewer.commands.change import change
from viewer.commands.check import check
from viewer.commands.diagnose import diagnose
from viewer.commands.example import example
from viewer.commands.form import form
from viewer.commands.history import history
from viewer.commands.live import live
from viewer.commands.moves import moves
from viewer.commands.picture import picture
from viewer.commands.predict import predict
from viewer.commands.reduce import reduce
from viewer.commands.schema import schema
from viewer.commands.simulate import simulate
from viewer.commands.trace import trace
from viewer.commands.view import view

__all__ = ["app", "run"]

app = typer.Typer(
    name="datumray",
    help="Design laser alignment surveys in 3D, reduce readings to a verdict, and look at the result.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for command in (
    check, trace, predict, simulate, reduce, diagnose, moves, change, history, live, form, aim, view, picture, schema,
    example,
):  # fmt: skip
    app.command()(command)


MOST_PROBLEMS = 20
"""Problems of one input that are listed; a wrong unit in a header can make one of every row."""


def _told(error: DatumrayError) -> str:
    """Text of an error for a person: its first problems, and how many more there are."""
    if not isinstance(error, InputError) or len(error.problems) <= 1:
        return str(error)
    listed = "\n".join(str(problem) for problem in error.problems[:MOST_PROBLEMS])
    more = len(error.problems) - MOST_PROBLEMS
    return f"{len(error.problems)} problems\n{listed}" + (f"\n... and {more} more" if more > 0 else "")


def run() -> None:
    """Run the command line."""
    try:
        app()
    except DatumrayError as error:
        print(f"datumray: {_told(error)}", file=sys.stderr)
        raise SystemExit(2) from None
    except BrokenPipeError:
        # The reader of a pipe has gone (datumray ... | head): nobody is left to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(1) from None


if __name__ == "__main__":
    run()
