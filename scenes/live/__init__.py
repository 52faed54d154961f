"""Readings while they are taken: a growing file, a line protocol on this machine, and what to tell the crew.

::

    live = LiveReadings(layout)
    with follow("readings.csv", live, print):         # or listen(live, port=0, tell=print)
        ...
        seen = watch(layout, live.readings)           # means, scatter, drift, the next station
"""

from __future__ import annotations

from .follow import Follower, follow
from .listen import Listener, listen
from .reader import LiveReadings, LiveTable
from .record_file import RecordFile
from .taken import Taken
from .watch import Watch, watch

__all__ = [
    "Follower",
    "Listener",
    "LiveReadings",
    "LiveTable",
    "RecordFile",
    "Taken",
    "Watch",
    "follow",
    "listen",
    "watch",
]
