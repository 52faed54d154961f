"""Plans of every reference method built in code, one part of which a test changes; and ways to read findings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from scenes.checks.check import check_layout
from scenes.frames import pose_from_turn
from scenes.model.devices import Emitter, Prism, RotaryBase, Stage, Target, Vial
from scenes.model.finding import Finding
from scenes.model.layout import Air, Layout, ShownUnits
from scenes.model.machine import Plate, Surface
from scenes.model.mounts import Mount
from scenes.model.survey import LevelBy, PrismUse, Setup, Station, Stop, Task

LASER = Emitter("laser", "block", 635e-9, 2.0e-3, 0.04, 0.05, 45.0, 8.3e-10, 0.2e-6, 20e-6, 20e-6)
BASE = RotaryBase("base", "standard", 0.06, 0.02, 0.0, 5.0e-6, 1.0e-6)
TARGET = Target("t1", "two axes", 0.02, 0.02, 0.03, 1.0e-6, 2.0e-3, 0.0, 0.0, 2.5e-6, 1.0e-3, 5.0e-3, 0.1, 0.05)
GLASS = replace(TARGET, name="g1", kind="see-through", passes=0.8, thickness=3e-3, index=1.515)
NOSE = Prism("nose", "nose", 0.025, 1.517, 0.05, 0.9, 0.0, 3e-6, 0.0, 5e-6, 1e-4, 1e-3)
STAGE = Stage("stage", "four axes", 0.11, 6e-3, 0.0175, 0.5e-3, 0.08)
VIAL = Vial("vial", "block level", 4e-6, 20e-6)
POST = Mount("post", 0.12, 0.06, 0.30, 1.0e-6, 10.0e-6)
TRIPOD = Mount("tripod", 0.55, 0.30, 1.60, 12.7e-6, 1.0e-3)
ON_STAGE = Mount("stage", 0.11, 0.11, 0.11, 0.0, 0.0)


class Hall:
    """A bed of 12 m x 4 m, its top 0.5 m above the floor, with lines, planes and prisms 150 mm above it."""

    laser, base, target, glass, nose, stage, vial = LASER, BASE, TARGET, GLASS, NOSE, STAGE, VIAL
    post, tripod, on_stage = POST, TRIPOD, ON_STAGE

    @staticmethod
    def station(name: str, x: float, y: float, *, target: str = "t1", mount: Mount = POST, **more: object) -> Station:
        return Station(name, "bed", np.array([x, y, 0.0]), target, mount, "all", 10, **more)  # type: ignore[arg-type]

    def row(self, count: int = 5, first: float = -4.0, step: float = 2.0) -> list[Station]:
        """Stations P1, P2 ... along x."""
        return [self.station(f"P{i + 1}", first + step * i, 0.0) for i in range(count)]

    def layout(
        self,
        stations: Iterable[Station],
        *setups: Setup,
        tasks: Iterable[Task] = (),
        targets: Iterable[Target] = (),
        surfaces: Iterable[Surface] = (),
        **parts: object,
    ) -> Layout:
        """A layout of these parts; devices are the usual ones unless ``parts`` bring others."""
        bed = Surface("bed", Plate(12.0, 4.0, 0.4), pose_from_turn([0.0, 0.0, 0.5]), "floor", "cast iron", 3)
        usual: dict[str, object] = {
            "emitters": {"laser": LASER}, "bases": {"base": BASE}, "prisms": {"nose": NOSE}, "stages": {"stage": STAGE},
            "vials": {"vial": VIAL}, "air": Air(), "units": ShownUnits(),
        }  # fmt: skip
        return Layout(
            file="layout.yaml", title="Hall", surfaces={each.name: each for each in (bed, *surfaces)},
            targets={each.name: each for each in (TARGET, GLASS, *targets)},
            stations={each.name: each for each in stations}, groups={}, setups={each.name: each for each in setups},
            tasks={each.name: each for each in tasks}, feet={}, **{**usual, **parts},  # type: ignore[arg-type]
        )  # fmt: skip

    @staticmethod
    def line(
        reads: Iterable[str], *, name: str = "line", at: Sequence[float] = (-5.0, 0.0, 0.0), **more: object
    ) -> Setup:
        """A straight line along x."""
        usual: dict[str, object] = {"mount": ON_STAGE, "aim": np.array([1.0, 0.0, 0.0])}
        return Setup(
            name=name, emitter="laser", base="", on="bed", at=np.array(at), level_by=LevelBy.BEST_FIT,
            level_stations=(), reads=tuple(reads), line=20, **{**usual, **more},  # type: ignore[arg-type]
        )  # fmt: skip

    @staticmethod
    def plane(
        reads: Iterable[str], *, name: str = "plane", at: Sequence[float] = (-7.0, 0.3, 0.0), **more: object
    ) -> Setup:
        """A plane swept by a rotary base on a tripod."""
        usual: dict[str, object] = {"mount": TRIPOD, "level_by": LevelBy.THREE_POINTS, "level_stations": ()}
        return Setup(
            name=name, emitter="laser", base="base", on="floor", at=np.array(at), reads=tuple(reads), line=20,
            **{**usual, **more},  # type: ignore[arg-type]
        )  # fmt: skip

    def square(
        self, reads: Iterable[str], *, distance: float = 5.0, turned: float = -0.5 * np.pi, sweeps: bool = False,
        **more: object,
    ) -> Setup:  # fmt: skip
        """A line along x and a prism in it, whose light goes toward +y."""
        names = tuple(reads)
        use = PrismUse("nose", (Stop("here", distance, names),), turned, sweeps)
        return self.line(names, prism=use, name="square", **more)  # type: ignore[arg-type]

    def across(self, count: int = 4, first: float = 0.4, step: float = 0.4, x: float = 0.0) -> list[Station]:
        """Stations Q1, Q2 ... along y, in the light of ``square``."""
        along = np.array([0.0, 1.0, 0.0])
        return [self.station(f"Q{i + 1}", x, first + step * i, along=along) for i in range(count)]

    @staticmethod
    def task(names: Iterable[str], limit: float = 1e-4, quantity: str = "straightness", **more: object) -> Task:
        return Task("asked", quantity, "bed", tuple(names), "least squares", (), limit, line=30, **more)  # type: ignore[arg-type]


@pytest.fixture(scope="session")
def hall() -> Hall:
    return Hall()


class Said:
    """Findings of a layout."""

    def __init__(self, layout: Layout) -> None:
        self.all: tuple[Finding, ...] = check_layout(layout, np.random.default_rng(0)).findings

    @property
    def codes(self) -> set[str]:
        """Codes of all findings, but for the note that nothing is asked."""
        return {finding.code for finding in self.all} - {"no-task"}

    def one(self, code: str) -> Finding:
        """The only finding with this code."""
        mine = [finding for finding in self.all if finding.code == code]
        assert len(mine) == 1, [(finding.code, finding.message) for finding in self.all]
        assert mine[0].message
        assert mine[0].advice
        return mine[0]


@pytest.fixture(scope="session")
def said() -> type[Said]:
    return Said


def lengths(text: str) -> list[float]:
    """All lengths in a text that are given in mm, metres."""
    return [float(size) * 1e-3 for size in re.findall(r"(-?\d+(?:\.\d+)?) mm", text)]


@pytest.fixture(scope="session")
def mm():
    return lengths


@pytest.fixture(scope="session")
def moved_as_said():
    """Apply ``move the emitter 12.0 mm toward +y`` and ``raise the tripod by ...`` to a set-up."""

    def apply(setup: Setup, advice: str) -> Setup:
        at, mount, touched = np.array(setup.at), setup.mount, False
        for size, sign, axis in re.findall(r"(\d+\.\d) mm toward ([+-])([xyz])", advice):
            at["xyz".index(axis)] += float(size) * 1e-3 * (1.0 if sign == "+" else -1.0)
            touched = True
        for verb, size in re.findall(r"(raise|lower) the emitter by (\d+\.\d) mm", advice):
            at[2] += float(size) * 1e-3 * (1.0 if verb == "raise" else -1.0)
            touched = True
        for to in re.findall(r"(?:raise|lower) the tripod by \d+\.\d mm to (\d+\.\d) mm", advice):
            mount, touched = replace(mount, height=float(to) * 1e-3), True
        aim = re.search(r"aim: \[([^\]]*)\]", advice)
        if aim:
            setup, touched = replace(setup, aim=np.array([float(part) for part in aim[1].split(",")])), True
        stops = re.search(r"leave the prism where it is \((\d+\.\d) mm along", advice)
        if stops and setup.prism is not None:
            stop = replace(setup.prism.stops[0], distance=float(stops[1]) * 1e-3)
            setup = replace(setup, prism=replace(setup.prism, stops=(stop,)))
        assert touched, advice
        return replace(setup, at=at, mount=mount)

    return apply
