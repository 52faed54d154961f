"""Rows: the readings of a survey in order, as planned or as taken."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..model.readings import Readings
from ..vectors import Floats, Indices

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


def planned_rows(layout: Layout, only: tuple[str, ...] | None = None) -> Rows:
    """Rows that the set-ups of ``layout`` ask for, re-readings last, at their pace; ``only`` keeps some stations."""
    setup: list[str] = []
    station: list[str] = []
    times: list[Floats] = []
    for name, plan in layout.setups.items():
        order = [*plan.reads, *plan.again]
        time = plan.seconds_per_reading * np.arange(len(order))
        kept = [i for i, read in enumerate(order) if only is None or read in only]
        setup += [name] * len(kept)
        station += [order[i] for i in kept]
        times.append(np.asarray(time[kept], dtype=np.float64))
    return _rows(setup, station, np.concatenate(times) if times else np.zeros(0), np.zeros(len(setup)))


def rows_of_readings(layout: Layout, readings: Readings, chosen: Indices) -> Rows:
    """Rows of the ``chosen`` records of ``readings``; records without a time get the planned pace of their set-up."""
    setup = [readings.setup[i] for i in chosen]
    pace = np.array([layout.setups[name].seconds_per_reading for name in setup])
    place = np.zeros(len(chosen))
    for name in dict.fromkeys(setup):
        mine = np.array([other == name for other in setup])
        place[mine] = np.arange(mine.sum())
    time = readings.time[chosen]
    time = np.where(np.isnan(time), pace * place, time)
    return _rows(setup, [readings.station[i] for i in chosen], time, readings.mount_offset[chosen])
