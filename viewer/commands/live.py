"""``datumray live``: readings while they are taken, with running mean, scatter and the next station."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated, Any

import typer

from viewer.commands.options import LayoutFile

if TYPE_CHECKING:
    from scenes.errors import Problem
    from scenes.live.follow import Follower
    from scenes.live.listen import Listener
    from scenes.live.reader import LiveReadings
    from scenes.live.taken import Taken
    from scenes.live.watch import Watch
    from scenes.model.layout import Layout

__all__ = ["live"]

WAIT_SECONDS = 0.2
MOST_PORT = 65_535


def live(
    layout: LayoutFile,
    follow: Annotated[
        str, typer.Option("--follow", metavar="FILE", help="Read on in a growing readings file (text).")
    ] = "",
    listen: Annotated[
        int | None,
        typer.Option(
            "--listen", metavar="PORT", min=0, max=MOST_PORT, help="Take JSON lines at 127.0.0.1; 0: any port."
        ),
    ] = None,
    journal: Annotated[
        str, typer.Option("--journal", metavar="FILE", help="Add every record to this readings file as it is taken.")
    ] = "",
    visit: Annotated[str, typer.Option("--visit", metavar="NAME", help="Visit of the records that state none.")] = "",
    json: Annotated[bool, typer.Option("--json", help="Print one JSON object per line.")] = False,
) -> None:
    """Take readings as they come, until Ctrl-C: each with running mean, scatter and the next station."""
    from scenes.errors import InputError, Problem
    from scenes.layout.read import read_layout
    from scenes.live.reader import LiveReadings
    from scenes.live.record_file import RecordFile

    if bool(follow) == (listen is not None):
        message = "readings come either from a file that grows or from senders"
        raise InputError([Problem("datumray live", 0, 0, message, "state --follow FILE or --listen PORT")])
    if follow == "-":
        advice = "let it write to a file, or send its records to --listen PORT"
        raise InputError([Problem("--follow", 0, 0, "what another program prints is not followed", advice)])
    plan = read_layout(layout)
    written = RecordFile(journal, plan) if journal else None
    try:
        said = _Said(plan, LiveReadings(plan, visit=visit, record_file=written), json)
        if follow and written is not None:
            written.expect_again()
        elif written is not None:
            said.tell_all(said.live.take_earlier())
        watch = _run(said, follow, listen, visit)
    finally:
        if written is not None:
            written.close()
    if watch.missing or watch.disagreements:
        raise typer.Exit(1)


def _run(said: _Said, follow: str, listen: int | None, visit: str) -> Watch:
    """Take and tell until Ctrl-C; what was told at the end."""
    from scenes.live.follow import follow as follow_file
    from scenes.live.listen import listen as listen_at

    source: Follower | Listener
    if listen is None:
        source = follow_file(follow, said.live, said.news.put, visit=visit)
        said.begin({"following": follow}, f"following {follow}; Ctrl-C ends")
    else:
        source = listen_at(said.live, listen, said.news.put)
        where = {"host": source.host, "port": source.port}
        said.begin({"listening": where}, f"listening at {source.host}, port {source.port}; Ctrl-C ends")
    try:
        with _asked_to_end() as end:
            while not end.is_set():
                said.tell_news(WAIT_SECONDS)
    finally:
        source.close()
    said.tell_news(0.0)
    return said.end()


@contextmanager
def _asked_to_end() -> Iterator[threading.Event]:
    """Set by Ctrl-C or a request to end the process, so that what is being told is told to its end.

    A second Ctrl-C ends at once.
    """
    import signal

    asked = threading.Event()
    before: dict[int, Any] = {}

    def end(number: int, _: object) -> None:
        asked.set()
        signal.signal(number, before[number])

    for number in (signal.SIGINT, signal.SIGTERM):
        before[number] = signal.signal(number, end)
    try:
        yield asked
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)


class _Said:
    """What is printed: a line or a JSON object for each record and problem."""

    def __init__(self, layout: Layout, readings: LiveReadings, json: bool) -> None:
        self.layout = layout
        self.live = readings
        self.json = json
        self.news: queue.SimpleQueue[Taken | Problem] = queue.SimpleQueue()
        self._remarks = 0

    def begin(self, document: dict[str, object], text: str) -> None:
        """Say where readings are taken from, and what comes first."""
        from scenes.live.watch import watch
        from viewer.report.live_document import json_line

        print(json_line(document) if self.json else text, flush=True)
        first = watch(self.layout, self.live.readings).next
        if not self.json and first is not None:
            print(f"      next: {first}", flush=True)

    def tell_news(self, wait: float) -> None:
        """Tell what has come; wait for it at most so many seconds."""
        try:
            found = [self.news.get(timeout=wait) if wait else self.news.get_nowait()]
        except queue.Empty:
            return
        while not self.news.empty():
            found.append(self.news.get_nowait())
        self.tell_all(tuple(found))

    def tell_all(self, found: tuple[Taken | Problem, ...]) -> None:
        """Tell some records and problems; means are those after all of them."""
        from scenes.errors import Problem
        from scenes.live.watch import watch
        from viewer.report.live_document import json_line, problem_document, record_document
        from viewer.report.live_report import problem_line, record_lines, station_of

        readings = self.live.readings
        seen: dict[str, Watch] = {}
        lines: list[str] = []
        for each in found:
            if isinstance(each, Problem):
                lines.append(json_line(problem_document(each)) if self.json else problem_line(each))
                continue
            visit = readings.visit[each.number - 1]
            if visit not in seen:
                seen[visit] = watch(self.layout, readings, visit)
            look = station_of(seen[visit], each.number - 1).look
            if self.json:
                lines.append(json_line(record_document(self.layout, each, seen[visit], look)))
            else:
                lines += record_lines(self.layout, each, seen[visit], look)
        if seen and not self.json:
            following = list(seen.values())[-1].next
            lines.append(f"      next: {following}" if following else "      all that is planned has been read")
        remarks = self.live.remarks
        lines += [] if self.json else [f"note: {remark}" for remark in remarks[self._remarks :]]
        self._remarks = len(remarks)
        print("\n".join(lines), flush=True)

    def end(self) -> Watch:
        """Tell what is missing."""
        from scenes.live.watch import watch
        from viewer.report.live_document import ending_document, json_line
        from viewer.report.live_report import ending

        last = watch(self.layout, self.live.readings)
        print(
            json_line(ending_document(self.layout, last)) if self.json else "\n".join(ending(self.layout, last)),
            flush=True,
        )
        return last
