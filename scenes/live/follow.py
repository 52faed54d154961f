"""A growing file of readings, followed.

The file is looked at a few times a second. That also works on network drives, which tell no changes.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

from ..errors import Problem
from ..readings.columns import visit_of_file
from .reader import LiveReadings
from .tail import Tail
from .taken import Taken

__all__ = ["Follower", "follow"]

INTERVAL = 0.2
"""Seconds between two looks."""
SETTLED = 1.0
"""Seconds for which a file has to be unchanged until its last line counts although it has no end."""

Tell = Callable[[Taken | Problem], None]


def follow(
    path: str | Path, live: LiveReadings, tell: Tell | None = None, *, visit: str = "", interval: float = INTERVAL
) -> Follower:
    """Follower of the file ``path``, at work in a thread of its own until it is closed.

    Parameters
    ----------
    live : LiveReadings
        Where the records go.
    tell : callable, optional
        Called from that thread with each record taken and each problem.
    visit : str
        Visit of the records that state none; as the name of the file says where empty.
    interval : float
        Seconds between two looks at the file.
    """
    return Follower(path, live, tell, visit=visit, interval=interval).start()


class Follower:
    """Feeds what a growing file brings to ``LiveReadings``; a context manager that ends by ``close``."""

    def __init__(
        self, path: str | Path, live: LiveReadings, tell: Tell | None = None, *, visit: str = "",
        interval: float = INTERVAL,
    ) -> None:  # fmt: skip
        self.path = str(path)
        self._table = live.table(self.path, visit or visit_of_file(self.path))
        self._tail = Tail(path)
        self._tell = tell or (lambda _: None)
        self._interval = interval
        self._grown_at = time.monotonic()
        self._trouble = ""
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"follow {self.path}", daemon=True)

    def start(self) -> Follower:
        """Begin, in a thread of its own."""
        self._thread.start()
        return self

    def look(self) -> int:
        """Feed what is new in the file; return how many bytes that were. A thread of its own calls this."""
        count = 0
        while True:
            try:
                grown = self._tail.grown()
            except OSError as error:
                self._say_trouble(f"the file cannot be read: {error.strerror or error}")
                return count
            self._trouble = ""
            if grown.anew:
                self._say(self._table.restart())
            if not grown.data:
                return count
            count += len(grown.data)
            self._grown_at = time.monotonic()
            self._say(self._table.take(grown.data))

    def close(self) -> None:
        """End; the last line counts where it came long enough ago to be whole, else it is told."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()
        self.look()
        self._tail.close()
        if time.monotonic() - self._grown_at >= SETTLED:
            self._say(self._table.finish())
        elif self._table.waiting:
            text = self._table.waiting.decode("utf-8", errors="replace")
            message = f"the last line has no end yet and is left out: {text[:60]!r}"
            self._tell(Problem(self.path, 0, 0, message, "it may still be being written"))

    def _run(self) -> None:
        while not self._stop.is_set():
            self.look()
            self._stop.wait(self._interval)

    def _say(self, said: tuple[Taken | Problem, ...]) -> None:
        for each in said:
            self._tell(each)

    def _say_trouble(self, message: str) -> None:
        if message != self._trouble:
            self._trouble = message
            self._tell(Problem(self.path, 0, 0, message))

    def __enter__(self) -> Follower:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
