"""Evidence: a solved network seen from one task, with the displacements of its stations as sums of unknowns."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ...errors import GeometryError
from ...model.layout import Layout
from ...model.survey import Limit, Task
from ...vectors import Floats
from ..network import Network

__all__ = ["Evidence", "evidence_of"]

DISPLACED = ("deviation", "deviation_side", "deviation_along")
"""Unknowns that displace a station along its normal, beside it, and along its line."""

MOSTLY = 0.1
"""A direction is read where no more than this share of it lies across what the readings of its station see."""

SAME_PLACE = 1e-6
"""Places nearer than this [m] are one place."""


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """A network and a task; n stations in the network.

    Attributes
    ----------
    layout, task, network
    visit : str
        Of the readings; ``plan`` for planned ones.
    stations : tuple of str
        All in the network; ``number`` counts into them.
    foot : (n, 3) float
        Where they stand on the nominal surface, world, metres.
    axes : (n, 3, 3) float
        Rows: directions of their displacements, world.
    """

    layout: Layout
    task: Task
    visit: str
    network: Network
    stations: tuple[str, ...]
    foot: Floats
    axes: Floats

    @property
    def unknowns(self) -> int:
        """Number of unknowns."""
        return len(self.network.values)

    def number(self, station: str) -> int:
        """Number of a station."""
        return self.stations.index(station)

    def read(self, names: Iterable[str]) -> tuple[str, ...]:
        """Those of the named stations that have a reading."""
        here = set(self.stations)
        return tuple(name for name in names if name in here)

    def feet(self, names: tuple[str, ...]) -> Floats:
        """Places ``(k, 3)`` of stations."""
        return self.foot[[self.number(name) for name in names]].reshape(-1, 3)

    def displacement(self, station: str, direction: Floats) -> Floats:
        """Displacement of a station along a world direction, as a sum ``(p,)`` of unknowns."""
        functional = np.zeros(self.unknowns)
        for field, share in zip(DISPLACED, self.axes[self.number(station)] @ direction, strict=True):
            column = self.network.column(field, station)
            if column is not None:
                functional[column] += share
        return functional

    def displacements(self, names: tuple[str, ...], directions: Floats) -> Floats:
        """Displacements ``(k, p)`` of stations, each along its own direction ``(k, 3)`` or all along one ``(3,)``."""
        each = np.broadcast_to(directions, (len(names), 3))
        rows = [self.displacement(name, direction) for name, direction in zip(names, each, strict=True)]
        return np.array(rows).reshape(len(names), self.unknowns)

    def sees(self, station: str, direction: Floats) -> bool:
        """Whether readings of a station move when it is displaced along a direction."""
        number = self.number(station)
        if self.layout.stations[station].is_datum:
            return True
        columns = [self.network.column(field, station) for field in DISPLACED]
        mine = self.network.geometry.rows.station[self.network.observations.row] == number
        chosen = [column for column in columns if column is not None]
        if not mine.any() or not chosen:
            return False
        part = np.zeros((int(mine.sum()), len(DISPLACED)))
        part[:, [column is not None for column in columns]] = self.network.design[np.ix_(mine, chosen)]
        _, size, rows = np.linalg.svd(part, full_matrices=False)
        rows = rows[size > 1e-6 * max(float(size[0]), 1e-300)]
        wanted = self.axes[number] @ direction
        return float(np.linalg.norm(wanted - rows.T @ (rows @ wanted))) <= MOSTLY * float(np.linalg.norm(wanted))

    def seeing(self, names: Iterable[str], direction: Floats) -> tuple[str, ...]:
        """Those of the named stations that are read along a direction."""
        return tuple(name for name in self.read(names) if self.sees(name, direction))

    def on(self, surface: str) -> tuple[str, ...]:
        """Stations of a surface: those of the task, or where it names none of them, all that are read."""
        asked = [name for name in self.task.stations if self.layout.stations[name].surface == surface]
        every = [name for name in self.stations if self.layout.stations[name].surface == surface]
        return self.read(asked or every)

    def carried_by(self, surface: str) -> tuple[str, ...]:
        """Stations of a moving part and of what stands on it, like `on`."""
        asked = [name for name in self.task.stations if self.layout.stations[name].carried_by == surface]
        every = [name for name in self.stations if self.layout.stations[name].carried_by == surface]
        return self.read(asked or every)

    def limit(self, component: str) -> Limit | None:
        """Limit of a component; that of the task where it has one for all."""
        limits = self.task.limits or {"": Limit(self.task.limit)}
        return limits.get(component, limits.get(""))

    def refuse(self, message: str) -> GeometryError:
        """An error about this task and visit."""
        return GeometryError(f"task {self.task.name}, {self.visit}: {message}")


def evidence_of(layout: Layout, task: Task, visit: str, network: Network) -> Evidence:
    """The network seen from ``task``."""
    geometry = network.geometry
    rows = geometry.rows
    first = np.array([int(np.argmax(rows.station == i)) for i in range(len(rows.stations))], dtype=np.int64)
    axes = np.stack([geometry.normal[first], geometry.beside[first], geometry.ahead[first]], axis=1)
    return Evidence(layout, task, visit, network, rows.stations, geometry.foot[first], axes.reshape(-1, 3, 3))
