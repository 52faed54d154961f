"""Kinds of faults: where each one can strike, how large it usually is, and what it does to the light."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from ..model.layout import Layout
from ..model.survey import Setup
from ..tracing.geometry import SurveyGeometry
from ..vectors import Flags, Floats, Indices, dot

__all__ = ["FAULTS", "TIMES", "Chance", "FaultKind", "Scene", "Strike"]

TIMES = "times"
"""Quantity of an amount that is a plain number: a multiple of what the layout states."""

ARCSECOND = np.pi / 648_000.0


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """The rows of a survey, asked by name."""

    layout: Layout
    geometry: SurveyGeometry

    def of_setup(self, name: str) -> Flags:
        """Rows ``(m,)`` of a set-up."""
        return np.asarray(self.geometry.rows.setup == self.geometry.rows.setups.index(name), dtype=np.bool_)

    def of_station(self, name: str) -> Flags:
        """Rows of a station."""
        return np.asarray(self.geometry.rows.station == self.geometry.rows.stations.index(name), dtype=np.bool_)

    def setups(self) -> list[Setup]:
        """Set-ups that are read from."""
        return [self.layout.setups[name] for name in self.geometry.rows.setups]

    def using(self, device: str, name: str) -> Flags:
        """Rows of the set-ups whose ``base`` or ``prism`` has this name."""
        rows = self.geometry.rows
        mine = [_device(setup, device) == name for setup in self.setups()]
        through = rows.stop >= 0 if device == "prism" else np.ones(len(rows), dtype=bool)
        return np.asarray(np.array(mine)[rows.setup] & through, dtype=np.bool_)

    def sees(self, way: Floats) -> Flags:
        """Rows that read a displacement along ``way`` (m, 3)."""
        geometry = self.geometry
        h, v = (np.abs(dot(way, axis)) > 0.5 for axis in (geometry.axis_h, geometry.axis_v))
        return np.asarray((geometry.reads["h"] & h) | (geometry.reads["v"] & v), dtype=np.bool_)


def _device(setup: Setup, device: str) -> str:
    if device == "base":
        return setup.base
    return "" if setup.prism is None else setup.prism.prism


@dataclass(frozen=True, slots=True)
class Chance:
    """What is left to chance: a direction [rad], and a number from 0 to 1 that picks one of several readings."""

    direction: float
    pick: float


@dataclass(frozen=True, slots=True, eq=False)
class Strike:
    """What a fault does: the readings that it spoils, what it adds to the state ``(m,)``, and its direction if any."""

    rows: Indices
    moved: Mapping[str, Floats] = field(default_factory=dict)
    direction: float = float("nan")


@dataclass(frozen=True, slots=True)
class FaultKind:
    """One kind of fault.

    Attributes
    ----------
    about : str
        What happened, in words.
    place : str
        What is named to say where: ``station``, ``set-up``, ``prism``, ``base``, ``target``; empty: nothing.
    quantity : str
        Key of ``units.KINDS``, ``times`` or empty.
    usual : float
        Amount where nothing is said, SI units.
    names : callable
        Where it can strike.
    lacks : str
        Why it cannot strike anywhere.
    strike : callable
        ``(scene, where, amount, chance) -> Strike``.
    """

    about: str
    place: str
    quantity: str
    usual: float
    names: Callable[[Scene], list[str]]
    lacks: str
    strike: Callable[[Scene, tuple[str, ...], float, Chance], Strike]


def _struck(flags: Flags, direction: float = float("nan"), **moved: float) -> Strike:
    fields = {name: np.where(flags, by, 0.0) for name, by in moved.items()}
    return Strike(np.nonzero(flags)[0], fields, direction)


def _drifting(scene: Scene) -> list[str]:
    rows = scene.geometry.rows
    return [
        setup.name for setup in scene.setups()
        if scene.layout.emitters[setup.emitter].drift > 0.0 and np.ptp(rows.time[scene.of_setup(setup.name)]) > 0.0
    ]  # fmt: skip


def _drift(scene: Scene, where: tuple[str, ...], amount: float, chance: Chance) -> Strike:
    mine = scene.of_setup(where[0])
    rate = amount * scene.layout.emitters[scene.layout.setups[where[0]].emitter].drift
    reads = scene.geometry.reads
    if not (mine & reads["h"] & reads["v"]).any():
        return _struck(mine, drift=rate)
    up, left = np.sin(chance.direction), -np.cos(chance.direction)  # a swing counts toward the left
    return _struck(mine, chance.direction, drift=rate * up, drift_side=rate * left)


def _mounted(scene: Scene) -> list[str]:
    seen, layout, rows = scene.sees(scene.geometry.normal), scene.layout, scene.geometry.rows
    kinds = {name: layout.stations[name].mount.kind for name in rows.stations}
    fixed = ("discs", "none")
    return [name for name in rows.stations if kinds[name] not in fixed and (seen & scene.of_station(name)).any()]


def _wrong_mount(scene: Scene, where: tuple[str, ...], amount: float, chance: Chance) -> Strike:
    """All readings of the station from one set-up: a later set-up finds the right mount."""
    mine = scene.of_station(where[0])
    setups = np.unique(scene.geometry.rows.setup[mine])
    return _struck(mine & (scene.geometry.rows.setup == setups[int(chance.pick * len(setups))]), mount=amount)


def _together(scene: Scene) -> list[str]:
    rows = scene.geometry.rows
    many = {int(i) for i in rows.setup if len(np.unique(rows.station[rows.setup == i])) > 1}
    return [rows.stations[i] for i in dict.fromkeys(rows.station[np.isin(rows.setup, list(many))].tolist())]


def _swapped(scene: Scene, where: tuple[str, ...], _amount: float, _chance: Chance) -> Strike:
    """The first records of both stations from a set-up that reads both."""
    rows = scene.geometry.rows
    one, two = (scene.of_station(name) for name in where)
    common = np.intersect1d(rows.setup[one], rows.setup[two])
    if not len(common):
        return Strike(np.zeros(0, dtype=np.int64))
    here = rows.setup == common[0]
    return Strike(np.array([int(np.argmax(here & one)), int(np.argmax(here & two))], dtype=np.int64))


def _bent(scene: Scene, _where: tuple[str, ...], amount: float, _chance: Chance) -> Strike:
    return _struck(np.ones(len(scene.geometry.rows), dtype=bool), gradient=amount)


def _stops(scene: Scene) -> dict[str, Flags]:
    rows = scene.geometry.rows
    found = {}
    for setup in scene.setups():
        stops = setup.prism.stops if setup.prism is not None else ()
        for number, stop in enumerate(stops):
            name = setup.name if len(stops) == 1 else f"{setup.name} {stop.name}"
            found[name] = scene.of_setup(setup.name) & (rows.stop == number)
    return {name: flags for name, flags in found.items() if flags.any()}


def _decentred(scene: Scene, where: tuple[str, ...], amount: float, chance: Chance) -> Strike:
    y, z = amount * np.cos(chance.direction), amount * np.sin(chance.direction)
    return _struck(_stops(scene)[where[0]], chance.direction, prism_y=y, prism_z=z)


def _devices(device: str) -> Callable[[Scene], list[str]]:
    def names(scene: Scene) -> list[str]:
        used = dict.fromkeys(_device(setup, device) for setup in scene.setups())
        return [name for name in used if name and scene.using(device, name).any()]

    return names


def _mirror(scene: Scene, where: tuple[str, ...], amount: float, _chance: Chance) -> Strike:
    return _struck(scene.using("prism", where[0]), mirror=amount)


def _cone(scene: Scene, where: tuple[str, ...], amount: float, _chance: Chance) -> Strike:
    return _struck(scene.using("base", where[0]), cone=amount)


def _rolled(scene: Scene, where: tuple[str, ...], amount: float, _chance: Chance) -> Strike:
    rows = scene.geometry.rows
    return _struck(rows.target == rows.targets.index(where[0]), roll=amount)


def _bad_reading(scene: Scene, where: tuple[str, ...], amount: float, chance: Chance) -> Strike:
    mine = np.nonzero(scene.of_station(where[0]))[0]
    row = int(mine[int(chance.pick * len(mine))])
    flags = np.arange(len(scene.geometry.rows)) == row
    return _struck(flags, noise_v=amount) if scene.geometry.reads["v"][row] else _struck(flags, noise_h=amount)


FAULTS: dict[str, FaultKind] = {
    "drift": FaultKind(
        "the beam drifted by a multiple of what is stated for the emitter", "set-up", TIMES, 10.0, _drifting,
        "no emitter has a stated drift and several readings", _drift),
    "wrong-mount": FaultKind(
        "a station was read with a mount of another height", "station", "length", 5e-3, _mounted,
        "no station has a mount whose height is read", _wrong_mount),
    "swapped-stations": FaultKind(
        "the records of two stations were exchanged", "station", "", 0.0, _together,
        "no set-up reads two stations", _swapped),
    "bent-path": FaultKind(
        "the temperature gradient was far from what is stated", "", "temperature gradient", 2.0, lambda _scene: [""],
        "", _bent),
    "decentred-prism": FaultKind(
        "the beam met the prism off its turning axis", "set-up", "length", 1e-3, lambda scene: list(_stops(scene)),
        "no set-up reads through a prism", _decentred),
    "mirror": FaultKind(
        "the angle between the mirrors of the prism was off", "prism", "angle", 10.0 * ARCSECOND, _devices("prism"),
        "no set-up reads through a prism", _mirror),
    "cone": FaultKind(
        "the beam was not square to the axis of the base", "base", "angle", 10.0 * ARCSECOND, _devices("base"),
        "no set-up turns its beam by a base", _cone),
    "roll": FaultKind(
        "a target was rolled about the beam", "target", "angle", np.radians(3.0),
        lambda scene: list(scene.geometry.rows.targets), "nothing is read", _rolled),
    "bad-reading": FaultKind(
        "one reading was read or written wrongly", "station", "length", 0.2e-3,
        lambda scene: list(scene.geometry.rows.stations), "nothing is read", _bad_reading),
}  # fmt: skip
"""Every kind by its name."""
