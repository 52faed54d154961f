"""Where live readings come in: one source in the server's process, whatever pages are open.

The socket, or the file that is followed, belongs to the process of the server, since pages come and go and each has a
process of its own: a page that closes takes no reading with it, one that opens later gets all there is, and means and
tests are worked out once for all pages. What the pages get is plain data (``live_document``), a few times a second.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

from scenes.errors import GeometryError, InputError, Problem
from scenes.layout.read import read_layout
from scenes.live.follow import Follower, follow
from scenes.live.listen import Listener, listen
from scenes.live.reader import LiveReadings
from scenes.live.record_file import RecordFile
from scenes.live.taken import Taken
from scenes.live.watch import watch
from viewer import text
from viewer.logic.live import SKIPPED_SHOWN, live_document, skipped_document

__all__ = ["LiveSource"]

SHORTEST_PAUSE = 0.15
"""Seconds between two looks at the readings; the first after a pause is at once."""
PAUSE_SHARE = 0.5
"""And so much of the time that the last look took, so that long lists leave room for everything else."""

Tell = Callable[[dict[str, Any]], None]


class LiveSource:
    """Takes readings from a growing file or from senders, and tells what is to be shown whenever that changes.

    Raises
    ------
    InputError
        Where layout or journal cannot be used, the port is taken, or not exactly one source is named.
    """

    def __init__(
        self, layout: str, *, follow_file: str = "", port: int | None = None, journal: str = "", visit: str = ""
    ) -> None:
        if bool(follow_file) == (port is not None):
            message = "readings come either from a file that grows or from senders"
            raise InputError([Problem("datumray view", 0, 0, message, "state --follow FILE or --listen PORT")])
        if follow_file == "-":
            advice = "let it write to a file, or send its records to --listen PORT"
            raise InputError([Problem("--follow", 0, 0, "what another program prints is not followed", advice)])
        self._layout = read_layout(layout)
        self._follow_file, self._port, self._visit = follow_file, port, visit
        self._file = RecordFile(journal, self._layout) if journal else None
        self.readings = LiveReadings(self._layout, visit=visit, record_file=self._file)
        self._problems: deque[Problem] = deque(maxlen=SKIPPED_SHOWN)
        self._skipped = 0
        self._lock = threading.Lock()
        self._news, self._stop = threading.Event(), threading.Event()
        self._source: Follower | Listener | None = None
        self._worker: threading.Thread | None = None
        self.where = ""

    def begin(self, tell: Tell) -> str:
        """Begin to take readings; ``tell`` is called from another thread. Returns where they are taken from."""
        if self._file is not None and self._follow_file:
            self._file.expect_again()
        else:
            for each in self.readings.take_earlier():
                self._heard(each)
        if self._port is None:
            self.where = f"Following {self._follow_file}"
            self._source = follow(self._follow_file, self.readings, self._heard, visit=self._visit)
        else:
            listening = listen(self.readings, self._port, self._heard)
            self.where = f"Listening at {listening.host}, port {listening.port}"
            self._source = listening
        self._news.set()
        self._worker = threading.Thread(target=self._work, args=(tell,), name="live readings", daemon=True)
        self._worker.start()
        return self.where

    def _heard(self, said: Taken | Problem) -> None:
        if isinstance(said, Problem):
            with self._lock:
                self._problems.append(said)
                self._skipped += 1
        self._news.set()

    def _work(self, tell: Tell) -> None:
        while not self._stop.is_set():
            self._news.wait()
            self._news.clear()
            if self._stop.is_set():
                return
            start = time.monotonic()
            tell(self.document())
            self._stop.wait(max(SHORTEST_PAUSE, PAUSE_SHARE * (time.monotonic() - start)))

    def document(self) -> dict[str, Any]:
        """What is to be shown now; what cannot be worked out is told, and readings go on being taken."""
        with self._lock:
            skipped = skipped_document(self._skipped, list(self._problems))
        try:
            seen = watch(self._layout, self.readings.readings)
        except GeometryError as error:
            return {"failed": text.plain_message(str(error)), "source": self.where, "skipped": skipped}
        return live_document(
            self._layout, seen, source=self.where, skipped=skipped, remarks=self.readings.remarks
        )  # fmt: skip

    def close(self) -> None:
        """End; what has come by now is taken and stands in the journal."""
        if self._source is not None:
            self._source.close()
        self._stop.set()
        self._news.set()
        if self._worker is not None:
            self._worker.join()
        if self._file is not None:
            self._file.close()
