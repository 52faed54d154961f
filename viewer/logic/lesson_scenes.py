"""The small scenes that lessons carry with them: invented machines, typical devices, no layout file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from scenes.frames import pose_from_axes, pose_from_turn
from scenes.model.devices import Emitter, Prism, RotaryBase, Target
from scenes.model.layout import Air, Layout, ShownUnits
from scenes.model.machine import Face, Plate, Rail, Surface
from scenes.model.mounts import Mount
from scenes.model.survey import LevelBy, PrismUse, Setup, Station, Stop, Task

__all__ = [
    "FLANGE_RADII", "NEAR_AT", "PRISM", "base_scene", "cross_scene", "flange_scene", "level_scene", "line_scene",
]  # fmt: skip

EMITTER = Emitter("emitter", "block", 635e-9, 2.0e-3, 0.04, 0.05, 60.0, 0.0, 0.0)
BASE = RotaryBase("base", "rotary base", 0.06, 0.02, 0.0, 0.0, 0.0)
TARGET = Target("target", "two axes", 0.02, 0.02, 0.03, 1.0e-6, 0.0, 0.0, 0.0, 0.0, 0.0, 5.0e-3)
PRISM = Prism("prism", "nose", 0.04, 1.517, 0.06, 0.9, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)

STATIONS_ON_RING = 12
FLANGE_HEIGHT = 1.4
FLANGE_RADII = (0.45, 1.05)
"""Radii [m] of the two rings of stations on the flange."""

NEAR_AT = 0.5
"""The near target of the long line stands this far [m] from the emitter."""

LINE_STATIONS = 11


def _mount(kind: str, height: float) -> Mount:
    return Mount(kind, height, 0.0, 3.0, 0.0, 0.0)


def _setup(name: str, at: ArrayLike, mount: Mount, reads: tuple[str, ...], **others: object) -> Setup:
    base = "" if "aim" in others else BASE.name
    place = np.asarray(at, dtype=np.float64)
    return Setup(name, EMITTER.name, base, "floor", place, mount, LevelBy.THREE_POINTS, (), reads, **others)  # type: ignore[arg-type]


def _layout(
    surfaces: Mapping[str, Surface], stations: Mapping[str, Station], setups: Mapping[str, Setup],
    units: ShownUnits, task: Task,
) -> Layout:  # fmt: skip
    return Layout(
        file="lesson", title="", units=units, air=Air(), surfaces=surfaces, emitters={EMITTER.name: EMITTER},
        bases={BASE.name: BASE}, targets={TARGET.name: TARGET}, stations=stations, groups={}, setups=setups,
        tasks={task.name: task}, feet={}, prisms={PRISM.name: PRISM},
    )  # fmt: skip


def base_scene(units: ShownUnits, one_radius: bool = False) -> Layout:
    """A plate read by a plane that a base sweeps: from beside it, or from its middle with stations at one radius."""
    plate = Surface("plate", Plate(3.0, 1.8, 0.3), pose_from_turn([0.0, 0.0, 0.85]))
    if one_radius:
        angle = 2.0 * np.pi * np.arange(STATIONS_ON_RING) / STATIONS_ON_RING
        at = 0.75 * np.column_stack([np.cos(angle), np.sin(angle)])
        names = [f"R{number + 1}" for number in range(len(at))]
    else:
        x, y = np.linspace(-1.4, 1.4, 7), np.linspace(-0.8, 0.8, 5)
        at = np.array([[a, b] for b in y for a in x])
        names = [f"{letter}{number + 1}" for letter in "ABCDE" for number in range(7)]
    stations = {
        name: Station(name, "plate", np.array([*place, 0.0]), TARGET.name, _mount("post", 0.12), "grid")
        for name, place in zip(names, at, strict=True)
    }
    beam = 0.85 + 0.12 + TARGET.centre_height
    if one_radius:
        setup = _setup("plane", [0.0, 0.0, 0.0], _mount("tripod", 0.05), tuple(names))
        setup = _on_plate(setup)
    else:
        setup = _setup(
            "plane", [-2.2, 0.2, 0.0], _mount("tripod", beam - BASE.height - EMITTER.beam_height), tuple(names)
        )
    task = Task("flatness", "flatness", "plate", tuple(names), "minimum zone", (), 50e-6)
    return _layout({"plate": plate}, stations, {setup.name: setup}, units, task)


def _on_plate(setup: Setup) -> Setup:
    """The same set-up standing on the plate."""
    return Setup(setup.name, setup.emitter, setup.base, "plate", setup.at, setup.mount, setup.level_by, (), setup.reads)


def flange_scene(units: ShownUnits, sweeps: bool) -> Layout:
    """A large flange square to the beam, which a prism in its middle turns: straight up, or all round."""
    pose = pose_from_axes([0.0, 0.0, FLANGE_HEIGHT], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0])
    flange = Surface("flange", Face(2.5, 0.5, 0.12), pose)
    post = _mount("post", 0.12)
    angle = 2.0 * np.pi * np.arange(STATIONS_ON_RING) / STATIONS_ON_RING if sweeps else np.zeros(1)
    stations = {}
    for ring, radius in enumerate(FLANGE_RADII):
        for number, turn in enumerate(angle):
            name = f"{'AB'[ring]}{number + 1}"
            out = np.array([np.cos(turn), np.sin(turn), 0.0])
            along = np.array([-np.sin(turn), np.cos(turn), 0.0])
            stations[name] = Station(name, "flange", radius * out, TARGET.name, post, "rings", along=along)
    ahead = post.height + TARGET.centre_height
    start = -1.9
    stop = Stop("middle", -ahead - start, tuple(stations))
    setup = _setup(
        "square", [start, 0.0, 0.0], _mount("tripod", FLANGE_HEIGHT - EMITTER.beam_height), tuple(stations),
        aim=np.array([1.0, 0.0, 0.0]), prism=PrismUse(PRISM.name, (stop,), sweeps=sweeps),
    )  # fmt: skip
    task = Task("flange", "flatness", "flange", tuple(stations), "minimum zone", (), 50e-6)
    return _layout({"flange": flange}, stations, {setup.name: setup}, units, task)


def line_scene(
    units: ShownUnits, reach: float, near: float = NEAR_AT, count: int = LINE_STATIONS, reverse: bool = False
) -> Layout:
    """A straight rail read along one beam: ``count`` targets from ``near`` to ``reach`` [m] away.

    With ``reverse`` all is read once more, a round emitter turned by half a turn in its V.
    """
    height, mount = 0.6, _mount("post", 0.5)
    rail = Surface("rail", Rail(reach, 0.3, 0.25), pose_from_turn([0.0, 0.0, height]))
    places = np.linspace(near, reach, count)
    stations = {
        f"S{number + 1}": Station(f"S{number + 1}", "rail", np.array([x, 0.0, 0.0]), TARGET.name, mount, "line")
        for number, x in enumerate(places)
    }
    rise = height + mount.height + TARGET.centre_height
    setup = _setup(
        "line", [0.0, 0.0, 0.0], _mount("tripod", rise - EMITTER.beam_height), tuple(stations),
        aim=np.array([1.0, 0.0, 0.0]), reversed=reverse,
    )  # fmt: skip
    task = Task("rail", "straightness", "rail", tuple(stations), "least squares", (), 50e-6)
    layout = _layout({"rail": rail}, stations, {setup.name: setup}, units, task)
    return replace(layout, emitters={EMITTER.name: replace(EMITTER, kind="cylinder")}) if reverse else layout


def level_scene(units: ShownUnits, count: int) -> Layout:
    """A long plate read by the plane of a base beside its end, levelled by a vial; ``count`` stations in one row."""
    plate = Surface("plate", Plate(3.0, 0.6, 0.3), pose_from_turn([0.0, 0.0, 0.85]))
    mount = _mount("post", 0.12)
    stations = {
        f"S{number + 1}": Station(f"S{number + 1}", "plate", np.array([x, 0.0, 0.0]), TARGET.name, mount, "row")
        for number, x in enumerate(np.linspace(-1.3, 1.3, count))
    }
    beam = 0.85 + mount.height + TARGET.centre_height
    setup = _setup(
        "plane", [-2.1, 0.0, 0.0], _mount("tripod", beam - BASE.height - EMITTER.beam_height), tuple(stations)
    )
    setup = replace(setup, level_by=LevelBy.VIAL)
    task = Task("level", "levelness", "plate", tuple(stations), "gravity", (), 50e-6)
    return _layout({"plate": plate}, stations, {setup.name: setup}, units, task)


def cross_scene(units: ShownUnits, count: int) -> Layout:
    """A cross way and a base line along a bed: a prism on the line sends the beam along the way, from either end."""
    mount, height, aside = _mount("post", 0.12), 0.85, -0.7
    bed = Surface("bed", Plate(3.0, 1.8, 0.35), pose_from_turn([0.0, 0.0, height]))
    way = Surface("way", Rail(1.5, 0.1, 0.15), pose_from_turn([0.0, aside + 0.1, height + 0.15], 0.5 * np.pi))
    stations = {
        name: Station(name, "bed", np.array([x, aside, 0.0]), TARGET.name, _mount("post", 0.27), "line")
        for name, x in (("near", -1.1), ("far", 1.1))
    }
    names = tuple(f"P{number + 1}" for number in range(count))
    for name, y in zip(names, np.linspace(0.2, 1.35, count), strict=True):
        stations[name] = Station(name, "way", np.array([y, 0.0, 0.0]), TARGET.name, mount, "way")
    use = PrismUse(PRISM.name, (Stop("middle", 1.5, names),), turned=-0.5 * np.pi)
    rise = height + 0.27 + TARGET.centre_height
    setup = _setup(
        "base line", [-1.5, aside, 0.0], _mount("tripod", rise - EMITTER.beam_height), ("near", "far", *names),
        aim=np.array([1.0, 0.0, 0.0]), near="near", far="far", reversed=True, prism=use,
    )  # fmt: skip
    task = Task("square", "squareness", "way", names, "least squares", (), 50e-6, of=("way",), to="base line")
    return _layout({"bed": bed, "way": way}, stations, {setup.name: setup}, units, task)
