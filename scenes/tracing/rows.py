"""Rows: the readings of a survey in order, as planned or as taken."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from ..model.batches import batch_places, target_at
from ..model.layout import Layout
from ..model.readings import Readings
from ..model.survey import Method, Setup
from ..vectors import Flags, Floats, Indices

__all__ = ["Rows", "planned_rows", "rows_of_readings", "stop_numbers"]


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Which station is read from which set-up, when and in which seating; m rows.

    Attributes
    ----------
    setups, stations, targets : tuple of str
        Names; ``setup``, ``station`` and ``target`` (m,) count into them.
    seat : (m,) int
        Number of the seating: one for neighbouring rows of the same set-up and station (at any position of the part
        that carries it), and for all rows of a station while its batch stands in the beam, since no target was moved.
    time : (m,) float
        Seconds since the first row of the set-up.
    mount_offset : (m,) float
        What the mount was higher than the layout says, metres.
    turn, clock : (m,) float
        Turn of the emitter about its own axis, and of the target about the axis of its station, rad.
    side : (m,) int
        0: as set up, 1: reversed.
    stop : (m,) int
        Number of the prism's stop among those of the set-up; -1: not through the prism.
    batch : (m,) int
        Rows of one set-up with the same number stand in the beam at once, in this order.
    """

    setups: tuple[str, ...]
    stations: tuple[str, ...]
    targets: tuple[str, ...]
    setup: Indices
    station: Indices
    target: Indices
    seat: Indices
    time: Floats
    mount_offset: Floats
    turn: Floats
    clock: Floats
    side: Indices
    stop: Indices
    batch: Indices

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.setup)

    def chosen(self, index: Indices) -> Rows:
        """Some of the rows, or rows repeated; names stay as they are."""
        picked = {
            each.name: getattr(self, each.name)[index]
            for each in fields(self)
            if isinstance(getattr(self, each.name), np.ndarray)
        }
        return replace(self, **picked)


@dataclass(frozen=True, slots=True)
class _Planned:
    """One reading that a set-up asks for."""

    station: str
    target: str
    turn: float
    clock: float
    side: int
    stop: int
    batch: int


def _index(names: list[str]) -> tuple[tuple[str, ...], Indices]:
    """Different names in order of their first row, and the number of each row's name."""
    order = {name: number for number, name in enumerate(dict.fromkeys(names))}
    return tuple(order), np.array([order[name] for name in names], dtype=np.int64)


def _place_of(station: str) -> str:
    """Station without the position of the part that carries it: its target rides along and is seated once."""
    return station.partition("@")[0]


def _paced(layout: Layout, setup: list[str], plan: list[_Planned]) -> Floats:
    """Seconds ``(m,)`` of each reading at the planned pace of its set-up; targets in one beam are read at one look."""
    looks: dict[str, int] = {}
    seen: dict[str, tuple[tuple[float, ...], set[str]]] = {}
    time = []
    for name, each in zip(setup, plan, strict=True):
        look = (each.batch, each.side, each.turn, each.clock)
        if name not in seen or seen[name][0] != look or each.station in seen[name][1]:
            looks[name] = looks.get(name, -1) + 1
            seen[name] = (look, set())
        seen[name][1].add(each.station)
        time.append(layout.setups[name].seconds_per_reading * looks[name])
    return np.array(time, dtype=np.float64)


def _seats(setup: list[str], plan: list[_Planned], mount_offset: Floats) -> Indices:
    """Number of the seating of each reading."""
    seats: list[int] = []
    standing: dict[str, tuple[tuple[float, float], int]] = {}  # place -> how its target stands, and its seating
    last: tuple[tuple[str, int, int], int, str] | None = None
    count = 0
    for name, each, offset in zip(setup, plan, mount_offset.tolist(), strict=True):
        place, how = _place_of(each.station), (offset, each.clock)
        here = ((name, each.side, each.stop), each.batch, place)
        if last is not None and (here[0] != last[0] or (each.batch != last[1] and place != last[2])):
            standing.clear()
        if place not in standing or standing[place][0] != how:
            standing[place] = (how, count)
            count += 1
        seats.append(standing[place][1])
        last = here
    return np.array(seats, dtype=np.int64)


def _rows(setup: list[str], plan: list[_Planned], time: Floats, mount_offset: Floats) -> Rows:
    setups, setup_index = _index(setup)
    stations, station_index = _index([each.station for each in plan])
    targets, target_index = _index([each.target for each in plan])
    clock = np.array([each.clock for each in plan], dtype=np.float64)
    side, stop, batch = (
        np.array([getattr(each, name) for each in plan], dtype=np.int64) for name in ("side", "stop", "batch")
    )
    return Rows(
        setups, stations, targets, setup_index, station_index, target_index, _seats(setup, plan, mount_offset), time,
        mount_offset, np.array([each.turn for each in plan], dtype=np.float64), clock, side, stop, batch,
    )  # fmt: skip


def _named_again(rows: Rows) -> Rows:
    """``rows`` with the names that still occur, in order of their first row, and seatings counted from 0."""
    setups, setup = _index([rows.setups[i] for i in rows.setup])
    stations, station = _index([rows.stations[i] for i in rows.station])
    targets, target = _index([rows.targets[i] for i in rows.target])
    _, seat = np.unique(rows.seat, return_inverse=True)
    return replace(
        rows, setups=setups, stations=stations, targets=targets, setup=setup, station=station, target=target, seat=seat
    )


def stop_numbers(setup: Setup) -> dict[str, int]:
    """Station -> number of the stop of the prism from which it is read."""
    if setup.prism is None:
        return {}
    return {name: number for number, stop in enumerate(setup.prism.stops) for name in stop.stations}


def _sides(setup: Setup) -> tuple[int, ...]:
    return (0, 1) if setup.reversed and setup.method is not Method.BASE_PLANE else (0,)


def _planned_of(layout: Layout, setup: Setup) -> list[_Planned]:
    """Readings of one set-up in their order: both sides, all turns of the emitter, all clock positions."""
    stops, places, batch = stop_numbers(setup), batch_places(setup, layout.stations), 0
    planned = []
    for side in _sides(setup):
        for turn in setup.clocks or (0.0,):
            for number, name in enumerate((*setup.reads, *setup.again)):
                station = layout.stations[name]
                target = target_at(setup, station, places)
                alone = name not in places or number >= len(setup.reads)
                batch += alone or places[name] % len(setup.through) == 0
                stop = stops.get(name, -1)
                planned += [
                    _Planned(name, target, turn, clock, side, stop, batch) for clock in station.clocks or (0.0,)
                ]
    return planned


def planned_rows(layout: Layout, only: tuple[str, ...] | None = None) -> Rows:
    """Rows that the set-ups of ``layout`` ask for, re-readings last, at their pace; ``only`` keeps some stations."""
    setup: list[str] = []
    plan: list[_Planned] = []
    for name, asked in layout.setups.items():
        order = _planned_of(layout, asked)
        setup += [name] * len(order)
        plan += order
    rows = _rows(setup, plan, _paced(layout, setup, plan), np.zeros(len(setup)))
    if only is None:
        return rows
    wanted = set(only)
    return _named_again(rows.chosen(np.array([i for i, p in enumerate(plan) if p.station in wanted], dtype=np.int64)))


def _of_record(
    layout: Layout, readings: Readings, record: int, places: Mapping[str, int], stops: Mapping[str, int]
) -> _Planned:
    """What a record says of its reading; what it leaves out is as planned."""
    setup, name = layout.setups[readings.setup[record]], readings.station[record]
    station = layout.stations[name]
    clock = float(np.nan_to_num(readings.clock[record]))
    turned = bool(setup.clocks)
    return _Planned(
        station=name,
        target=target_at(setup, station, places),
        turn=clock if turned else 0.0,
        clock=0.0 if turned else clock,
        side=int(readings.side[record]),
        stop=stops.get(name, -1),
        batch=places[name] // len(setup.through) if name in places else -1 - record,
    )


def rows_of_readings(layout: Layout, readings: Readings, visit: str, wanted: Flags) -> tuple[Rows, Indices]:
    """Rows of the ``wanted`` (n,) records of one visit, and their numbers among the ``readings``.

    Seatings and, for records without a time, the planned pace follow from all records of the visit.
    """
    mine = np.array([i for i, name in enumerate(readings.visit) if name == visit], dtype=np.int64)
    setup = [readings.setup[i] for i in mine]
    used = {name: layout.setups[name] for name in dict.fromkeys(setup)}
    orders = {name: (batch_places(each, layout.stations), stop_numbers(each)) for name, each in used.items()}
    plan = [_of_record(layout, readings, i, *orders[name]) for i, name in zip(mine, setup, strict=True)]
    time = np.where(np.isnan(readings.time[mine]), _paced(layout, setup, plan), readings.time[mine])
    rows = _rows(setup, plan, time, readings.mount_offset[mine])
    kept = np.nonzero(wanted[mine])[0]
    return _named_again(rows.chosen(kept)), mine[kept]
