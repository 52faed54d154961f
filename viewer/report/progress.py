"""Progress of long work, on standard error and only where a person is looking."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

__all__ = ["progress_of"]


@contextmanager
def progress_of(what: str, total: int) -> Iterator[Callable[[int], object]]:
    """A bar that grows by what its callable is told; none where standard error is no terminal."""
    err = Console(file=sys.stderr)
    if not err.is_terminal or total <= 0:
        yield lambda _: None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=err, transient=True) as bar:
        task = bar.add_task(what, total=total)
        yield lambda count: bar.advance(task, count)
