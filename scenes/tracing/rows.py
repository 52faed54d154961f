"""Rows: the readings of a survey in order, as planned or as taken."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..model.readings import Readings
from ..vectors import Flags, Floats, Indices

__all__ = ["Rows", "planned_rows", "rows_of_readings"]


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Which station is read from which set-up, when and in which seating; m rows.

    Attributes
    ----------
    setups, stations : tuple of str
        Names; ``setup`` and ``station`` (m,) count into them.
    seat : (m,) int
        Number of the seating: one for neighbouring rows of the same set-up and station, since the target was not moved.
    time : (m,) float
        Seconds since the first row of the set-up.
    mount_offset : (m,) float
        What the mount was higher than the layout says, metres.
    """

    setups: tuple[str, ...]
    stations: tuple[str, ...]
    setup: Indices
    station: Indices
    seat: Indices
    time: Floats
    mount_offset: Floats

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.setup)


def _index(names: list[str]) -> tuple[tuple[str, ...], Indices]:
    """Different names in order of their first row, and the number of each row's name."""
    order = {name: number for number, name in enumerate(dict.fromkeys(names))}
    return tuple(order), np.array([order[name] for name in names], dtype=np.int64)


def _rows(setup: list[str], station: list[str], time: Floats, mount_offset: Floats) -> Rows:
    setups, setup_index = _index(setup)
    stations, station_index = _index(station)
    moved = np.ones(len(setup), dtype=bool)
    moved[1:] = (np.diff(setup_index) != 0) | (np.diff(station_index) != 0) | (np.diff(mount_offset) != 0)
    return Rows(setups, stations, setup_index, station_index, np.cumsum(moved) - 1, time, mount_offset)


def _chosen(rows: Rows, chosen: Indices) -> Rows:
    """Some of the rows, in their seatings and at their times among all of them."""
    setups, setup = _index([rows.setups[i] for i in rows.setup[chosen]])
    stations, station = _index([rows.stations[i] for i in rows.station[chosen]])
    _, seat = np.unique(rows.seat[chosen], return_inverse=True)
    return Rows(setups, stations, setup, station, seat, rows.time[chosen], rows.mount_offset[chosen])


def planned_rows(layout: Layout, only: tuple[str, ...] | None = None) -> Rows:
    """Rows that the set-ups of ``layout`` ask for, re-readings last, at their pace; ``only`` keeps some stations."""
    setup: list[str] = []
    station: list[str] = []
    time: list[float] = []
    for name, plan in layout.setups.items():
        order = [*plan.reads, *plan.again]
        setup += [name] * len(order)
        station += order
        time += [plan.seconds_per_reading * i for i in range(len(order))]
    rows = _rows(setup, station, np.array(time, dtype=np.float64), np.zeros(len(setup)))
    if only is None:
        return rows
    wanted = set(only)
    return _chosen(rows, np.array([i for i, name in enumerate(station) if name in wanted], dtype=np.int64))


def rows_of_readings(layout: Layout, readings: Readings, visit: str, wanted: Flags) -> tuple[Rows, Indices]:
    """Rows of the ``wanted`` (n,) records of one visit, and their numbers among the ``readings``.

    Seatings and, for records without a time, the planned pace follow from all records of the visit.
    """
    mine = np.array([i for i, name in enumerate(readings.visit) if name == visit], dtype=np.int64)
    setup = [readings.setup[i] for i in mine]
    counted: dict[str, int] = {}
    paced = []
    for name in setup:
        counted[name] = counted.get(name, -1) + 1
        paced.append(layout.setups[name].seconds_per_reading * counted[name])
    time = readings.time[mine]
    time = np.where(np.isnan(time), np.array(paced, dtype=np.float64), time)
    rows = _rows(setup, [readings.station[i] for i in mine], time, readings.mount_offset[mine])
    kept = np.nonzero(wanted[mine])[0]
    return _chosen(rows, kept), mine[kept]
