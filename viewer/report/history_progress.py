"""Progress of work whose size shows only after it has begun, on standard error and only where a person is looking."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

from viewer.report.progress import progress_of

__all__ = ["growing_progress"]


@contextmanager
def growing_progress(what: str) -> Iterator[Callable[[int, int], object]]:
    """Takes how many of how many are done; the bar appears with the first."""
    with ExitStack() as stack:
        bars: list[Callable[[int], object]] = []
        last = 0

        def tell(done: int, total: int) -> None:
            nonlocal last
            if not bars:
                bars.append(stack.enter_context(progress_of(what, total)))
            bars[0](done - last)
            last = done

        yield tell
