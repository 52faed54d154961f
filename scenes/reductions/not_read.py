"""Stations that a task asks for and nobody has read."""

from __future__ import annotations

from collections.abc import Iterable

from ..hints import listed
from ..model.finding import Finding, Severity
from ..model.survey import Task

__all__ = ["stations_not_read"]


def stations_not_read(task: Task, absent: Iterable[str]) -> list[Finding]:
    """The finding that these stations of a task were not read, if there are any."""
    names = list(absent)
    if not names:
        return []
    return [
        Finding(
            Severity.WARNING, "station-not-read", "task", task.name,
            f"{len(names)} of {len(task.stations)} stations were not read: {listed(names)}",
            "the verdict speaks only of the stations that were read; read the others",
            line=task.line,
        )
    ]  # fmt: skip
