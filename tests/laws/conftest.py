"""Surveys of every reference method, built in code, with one task or more each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.frames import pose_from_axes, pose_from_turn
from scenes.model.devices import Emitter, Prism, RotaryBase, Target, Vial
from scenes.model.layout import Air, Layout, ShownUnits
from scenes.model.machine import Bore, Column, Face, Moves, Plate, Rail, Roll, Surface
from scenes.model.mounts import Mount
from scenes.model.survey import LevelBy, Limit, PrismUse, Setup, Station, Stop, Task
from scenes.reductions.network import unknowns_of
from scenes.reductions.quantities.evaluate import measured, network_of_visit, setups_for
from scenes.reductions.quantities.evidence import evidence_of
from scenes.tracing.geometry import survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import spots
from scenes.tracing.state import NOMINAL, changed
from scenes.uncertainty.simulate import readings_of
from scenes.uncertainty.sources import drawn_state, sources_of

X, Y, Z = np.eye(3)
POST = Mount("post", 0.12, 0.0, 1.0, 1.0e-6, 10.0e-6, side_repeats=1.0e-6, tilts=5.0e-6)
LONG = replace(POST, height=0.42)
DISCS = Mount("discs", 0.0, 0.0, 0.0, 1.0e-6, 0.0, side_repeats=1.0e-6, eccentric_known_to=20.0e-6)
STAND = Mount("stage", 0.11, 0.0, 2.0, 0.0, 0.0)
LASER = Emitter("laser", "block", 635e-9, 2.0e-3, 0.04, 0.05, 45.0, 8.3e-10, 0.5e-6, 20.0e-6, 50.0e-6)
BASE = RotaryBase("base", "standard", 0.06, 0.02, 0.0, 2.0e-6, 1.0e-6)
TARGET = Target("t1", "two axes", 0.02, 0.02, 0.03, 1.0e-6, 0.5e-3, 0.0, 0.0, 2.5e-6, 0.3e-3, 5.0e-3)
RING = replace(TARGET, name="ring", centre_height=0.0)
STEPPER = replace(
    TARGET, name="stepper", reads_angles=True, angle_resolution=1.0e-6, angle_zero_known_to=5.0e-6, angle_window=1e-3,
    step=0.2,
)  # fmt: skip
GLASS = replace(
    TARGET, name="glass", passes=0.8, thickness=3e-3, index=1.5, wedge_known_to=2e-6, plate_tilt_known_to=1e-3
)
SECOND = (replace(GLASS, name="glass 2"), replace(RING, name="ring 2"))
NOSE = Prism("nose", "nose", 0.025, 1.517, 0.05, 0.9, 0.0, 5.0e-6, 0.0, 3.0e-6, 0.1e-3, 1.0e-3)
VIAL = Vial("level", "block level", 3.0e-6, 10.0e-6)
CLOCKS = (0.0, np.pi / 2, np.pi, 3 * np.pi / 2)


def station(name, surface, at, **more):
    settings = {"target": "t1", "mount": POST, "group": "all", **more}
    return Station(name=name, surface=surface, at=np.array(at, dtype=float), **settings)


def datum(name, surface, at, **more):
    return station(name, surface, at, is_datum=True, **more)


def line_setup(name, on, at, reads, aim=X, **more):
    settings = {"emitter": "laser", "base": "", "mount": STAND, "level_by": LevelBy.THREE_POINTS, "level_stations": ()}
    return Setup(name=name, on=on, at=np.array(at, dtype=float), reads=tuple(reads), aim=aim, **{**settings, **more})


def base_setup(name, at, reads, level_by=LevelBy.BEST_FIT, **more):
    tripod = Mount("tripod", more.pop("height"), 0.3, 2.0, 0.0, 0.0)
    return Setup(
        name=name, emitter="laser", base="base", on="floor", at=np.array([*at, 0.0]), mount=tripod, level_by=level_by,
        level_stations=(), reads=tuple(reads), vial="level" if level_by is LevelBy.VIAL else "", **more,
    )  # fmt: skip


def task(name, quantity, of, stations, limit, **more):
    of = (of,) if isinstance(of, str) else tuple(of)
    limits = limit if isinstance(limit, dict) else {"": limit}
    first = next(iter(limits.values()))
    surface = of[0].removesuffix(" axis").removesuffix(" travel")
    settings = {"reference": "least squares", "datum": (), **more}
    return Task(
        name=name, quantity=quantity, surface=surface, stations=tuple(stations), of=of, limits=limits,
        limit=first.upper / (first.over or 1.0), **settings,
    )  # fmt: skip


def layout(surfaces, stations, setups, tasks, air=None, **devices):
    targets = {each.name: each for each in (TARGET, RING, STEPPER, GLASS, *SECOND)}
    known = {
        "emitters": {"laser": LASER}, "bases": {"base": BASE}, "prisms": {"nose": NOSE}, "vials": {"level": VIAL},
        "targets": targets,
    }  # fmt: skip
    known = {kind: {**things, **devices.pop(kind, {})} for kind, things in known.items()}
    return Layout(
        file="layout.yaml", title="", units=ShownUnits(), air=air or Air(),
        surfaces={each.name: each for each in surfaces}, stations={each.name: each for each in stations}, groups={},
        setups={each.name: each for each in setups}, tasks={each.name: each for each in tasks}, feet={}, **known,
        **devices,
    )  # fmt: skip


def rail(name, start, length, along=X):
    turn = float(np.arctan2(along[1], along[0]))
    return Surface(name, Rail(length, 0.1, 0.15), pose_from_turn(start, turn))


MILLIMETRE = Limit(1e-3)
PER_METRE = Limit(0.1e-3, angle=True)
BOTH = {"x": PER_METRE, "y": PER_METRE}


class Surveys:
    """Makers of layouts; each names its stations in order."""

    names = staticmethod(lambda letter, n: tuple(f"{letter}{i + 1}" for i in range(n)))

    def line(self, n=9, *, reference="least squares", reads=None, **setup):
        """A rail read by a straight line."""
        names = self.names("A", n)
        stations = [station(name, "rail", [0.4 * i + 0.4, 0, 0]) for i, name in enumerate(names)]
        asked = [
            task(plane, "straightness", "rail", names, MILLIMETRE, plane=plane, reference=reference)
            for plane in ("vertical", "horizontal", "space")
        ]
        setups = [line_setup("line", "rail", [0, 0, 0], names if reads is None else reads, **setup)]
        return layout([rail("rail", [0, 0, 0.8], 0.4 * n + 1.0)], stations, setups, asked)

    def square(self, *, reverse, n=5, prism=NOSE, sweeps=False):
        """A cross way against a base line along x, by a prism that turns the beam toward +y."""
        names = self.names("P", n)
        stations = [station(name, "way", [0.3 + 0.25 * i, 0, 0]) for i, name in enumerate(names)]
        stations += [datum("near", "bed", [-1.0, -0.7, 0]), datum("far", "bed", [1.3, -0.7, 0])]
        use = PrismUse("nose", (Stop("stop", 1.4, names),), turned=0.0 if sweeps else -np.pi / 2, sweeps=sweeps)
        setup = line_setup(
            "base line", "bed", [-1.4, -0.7, 0], ("near", "far", *names), near="near", far="far", reversed=reverse,
            prism=use,
        )  # fmt: skip
        bed = Surface("bed", Plate(3.0, 1.8, 0.35), pose_from_turn([0, 0, 0.85]))
        way = rail("way", [0, -0.7, 0.85], 1.6, Y)
        asked = [task("square", "squareness", "way", names, PER_METRE, to="base line")]
        return layout([bed, way], stations, [setup], asked, prisms={"nose": prism})

    def spindle(self, *, clocks=CLOCKS, n=4):
        """A spindle along x over ways, its emitter turned to clock positions."""
        names = self.names("C", n)
        stations = [station(name, "ways", [0.6 + 0.5 * i, 0, 0]) for i, name in enumerate(names)]
        ways = rail("ways", [0, 0, 0.75], 3.5)
        spindle = Surface("spindle", Face(0.25, 0.0, 0.06), pose_from_axes([0, 0, 0.90], X))
        setup = line_setup("turned", "spindle", [0, 0, 0], names, aim=Z, clocks=clocks)
        limit = Limit(20e-6, over=0.3, angle=True)
        asked = [task("direction", "direction", "spindle axis", names, {"up": limit, "front": limit}, to="ways")]
        return layout([ways, spindle], stations, [setup], asked)

    def bore(self, *, clocks=CLOCKS, n=6, rings=("ring",)):
        """A bore along x, read through by rings turned to clock positions."""
        names = self.names("R", n)
        stations = [
            station(
                name, "bore", [0, 0, 0.4 + 0.6 * i], target=rings[i % len(rings)], mount=DISCS, normal=X, along=Z,
                clocks=clocks,
            )
            for i, name in enumerate(names)
        ]  # fmt: skip
        barrel = Surface("bore", Bore(((0.18, 0.0, 0.6 * n + 0.4),), 0.05), pose_from_axes([0, 0, 1.2], X, Z))
        start = Mount("stage", 1.16, 0.0, 2.0, 0.0, 0.0)
        setup = line_setup("through", "floor", [-0.8, 0, 0], names, mount=start)
        zone = Limit(0.2e-3, diameter=True)
        cylinder = "minimum circumscribed cylinder"
        asked = [
            task("axis", "straightness", "bore axis", names, zone, plane="space", reference=cylinder),
            task("place", "coaxiality", "bore", names, zone),
            task("off the beam", "coaxiality", "bore", names, zone, to="through"),
        ]
        return layout([barrel], stations, [setup], asked)

    def rails(self, *, level_by=LevelBy.VIAL, n=8, stands=((3.0, 1.0),), at=(0.0, 0.0), ties=3, reverse=True):
        """Two rails 2 m apart read by a rotary base from one stand or more."""
        a, b = self.names("A", n), self.names("B", n)
        stations = [station(name, "a", [0.8 * i + 0.2, 0, 0]) for i, name in enumerate(a)]
        stations += [station(name, "b", [0.8 * i + 0.2, 0, 0]) for i, name in enumerate(b)]
        parts = np.array_split(np.arange(n), len(stands))
        setups = []
        for number, (stand, part) in enumerate(zip(stands, parts, strict=True)):
            mine = range(int(part[0]), min(n, int(part[-1]) + 1 + (ties if number + 1 < len(stands) else 0)))
            reads = [name for i in mine for name in (a[i], b[i])]
            place = (stand[0] + at[0], stand[1] + at[1])
            setups.append(base_setup(f"stand {number + 1}", place, reads, level_by, height=0.45, reversed=reverse))
        both, names = ("a", "b"), (*a, *b)
        asked = [
            task("cross level", "cross level", both, names, Limit(0.5e-3, -0.5e-3)),
            task("twist", "twist", both, names, Limit(0.5e-3)),
            task("height", "straightness", "a", a, MILLIMETRE, plane="vertical", local=(0.2e-3, 2.0)),
            task("level", "levelness", "a", a, PER_METRE),
            task("over all", "levelness", "a", a, MILLIMETRE),
            task("parallel", "parallelism", "b", names, PER_METRE, to="a", plane="vertical"),
            task("zone", "parallelism", "b", names, MILLIMETRE, to="a", plane="vertical"),
            task("spacing", "spacing", both, names, Limit(3e-3, -3e-3), nominal=2.0),
        ]
        surfaces = [rail("a", [*at, 0.4], 0.8 * n), rail("b", [at[0], at[1] + 2.0, 0.4], 0.8 * n)]
        return layout(surfaces, stations, setups, asked)

    def apart(self, n=5, tape=None):
        """Two rails read sideways, each by a beam of its own along it: how far apart they stand no light tells."""
        a, b = self.names("A", n), self.names("B", n)
        stations = [station(name, on, [0.8 * i + 0.4, 0, 0]) for names, on in ((a, "a"), (b, "b")) for i, name in
                    enumerate(names)]  # fmt: skip
        setups = [line_setup(f"along {on}", on, [0, 0, 0], names) for names, on in ((a, "a"), (b, "b"))]
        asked = [task("spacing", "spacing", ("a", "b"), (*a, *b), Limit(3e-3, -3e-3), nominal=2.0,
                      tape={"": tape} if tape else {}, tape_known_to=0.3e-3)]  # fmt: skip
        surfaces = [rail("a", [0, 0, 0.4], 0.8 * n + 0.4), rail("b", [0, 2.0, 0.4], 0.8 * n + 0.4)]
        return layout(surfaces, stations, setups, asked)

    def gauge(self, n=5):
        """Two rails read sideways by one beam between them, on brackets."""
        a, b = self.names("A", n), self.names("B", n)
        stations = [station(name, "a", [0.8 * i + 0.4, 0, 0], mount=replace(POST, arm=1.0)) for i, name in enumerate(a)]
        stations += [
            station(name, "b", [0.8 * i + 0.5, 0, 0], mount=replace(POST, arm=-1.0)) for i, name in enumerate(b)
        ]
        setup = line_setup("between", "floor", [0, 1.0, 0], (*a, *b), mount=replace(STAND, height=0.51))
        asked = [task("spacing", "spacing", ("a", "b"), (*a, *b), Limit(3e-3, -3e-3), nominal=2.0)]
        surfaces = [rail("a", [0, 0, 0.4], 0.8 * n), rail("b", [0, 2.0, 0.4], 0.8 * n)]
        return layout(surfaces, stations, [setup], asked)

    def press(self, *, reverse=True):
        """Bed and slide of a press: a swept plane for both, and lines turned upright for the travel."""
        grid = [
            station(f"G{i}{j}", "bed", [x, y, 0]) for i, x in enumerate((-1, 0, 1)) for j, y in enumerate((-0.6, 0.6))
        ]
        face = [
            station(f"S{i}{j}@low", "slide", [x, y, 0], position="low", carried_by="slide", mount=LONG)
            for i, x in enumerate((-0.9, 0.9)) for j, y in enumerate((-0.5, 0.5))
        ]  # fmt: skip
        along = [datum("W", "bed", [-0.8, 0, 0]), datum("E", "bed", [1.1, 0, 0])]
        marks = [replace(each, is_datum=False) for each in along]
        moved = [
            station(f"C@{place}", "slide", [0, 0, 0], position=place, carried_by="slide")
            for place in ("low", "mid", "top")
        ]
        bed = Surface("bed", Plate(2.4, 1.5, 0.3), pose_from_turn([0, 0, 0.8]))
        slide = Surface(
            "slide", Plate(2.2, 1.3, 0.4), pose_from_axes([0, 0, 1.4], -Z), "bed",
            moves=Moves(Z, {"low": 0.0, "mid": 0.3, "top": 0.6}, "low"),
        )  # fmt: skip
        names = tuple(each.name for each in (*grid, *face))
        ways = tuple(each.name for each in moved)
        use = PrismUse("nose", (Stop("stop", 1.1, ways),))
        setups = [
            base_setup("plane", (0.2, -2.1), names, LevelBy.VIAL, height=0.85, reversed=True),
            line_setup(
                "upright", "bed", [-1.1, 0, 0], ("W", "E", *ways), near="W", far="E", reversed=reverse, prism=use
            ),
        ]  # fmt: skip
        asked = [
            task("flat", "flatness", "bed", [each.name for each in grid], MILLIMETRE, reference="minimum zone"),
            task("parallel", "parallelism", "slide", names, PER_METRE, to="bed"),
            task("zone", "parallelism", "slide", names, MILLIMETRE, to="bed"),
            task("level", "levelness", "bed", [each.name for each in grid], PER_METRE),
            task("twist", "twist", "bed", [each.name for each in grid], PER_METRE),
            task("travel", "squareness", "slide travel", (*ways, "W", "E"), {"x": PER_METRE}, to="bed"),
            task("both ways", "squareness", "slide travel", (*ways, "W", "E"), BOTH, to="bed"),
            task("travel line", "straightness", "slide travel", ways, MILLIMETRE),
        ]  # fmt: skip
        return layout([bed, slide], [*grid, *face, *marks, *moved], setups, asked)

    def rolls(self, *, reverse=True, plane="in plane", turned=-np.pi / 2):
        """Two rolls across a base line, each read at both ends from a stop of its own."""
        rolls = [Surface(f"roll {i}", Roll(0.3, 2.0), pose_from_axes([1.8 * i, 0, 1.0], Y, X)) for i in (1, 2)]
        names, stops = [], []
        stations = [datum("near", "floor plate", [-0.5, -1.8, 0]), datum("far", "floor plate", [5.0, -1.8, 0])]
        for i, roll in enumerate(rolls, 1):
            ends = (f"{roll.name} near", f"{roll.name} far")
            stations += [
                station(name, roll.name, [0, -0.15, z], normal=-Y, along=Z)
                for name, z in zip(ends, (-1.0, 1.0), strict=True)
            ]
            names += ends
            stops.append(Stop(f"at {i}", 1.0 + 1.8 * i, ends))
        plate = Surface("floor plate", Plate(20.0, 20.0, 0.1), pose_from_turn([0, 0, 1.15]))
        use = PrismUse("nose", tuple(stops), turned=turned)
        setup = line_setup(
            "base line", "floor plate", [-1.0, -1.8, 0], ("near", "far", *names), near="near", far="far",
            reversed=reverse, prism=use,
        )  # fmt: skip
        asked = [task("rolls", "parallelism", ("roll 1", "roll 2"), names, PER_METRE, to="base line", plane=plane)]
        return layout([*rolls, plate], stations, [setup], asked)

    def steps(self, n=8, step=0.2):
        """Ways stepped along with a target that reads angles."""
        names = self.names("S", n)
        stations = [station(name, "ways", [0.4 + step * i, 0, 0], target="stepper") for i, name in enumerate(names)]
        setup = line_setup("stepping", "ways", [0, 0, 0], names)
        asked = [task("profile", "slope", "ways", names, Limit(40e-6), reference="end points")]
        return layout([rail("ways", [0, 0, 0.8], step * n + 1.0)], stations, [setup], asked)

    def stepped(self, lines=("rows", "columns", "diagonals")):
        """A plate of 1.6 m by 1.2 m stepped along edges, middle lines and diagonals, each by a beam of its own."""
        corners = {"diagonals": [((0.0, 0.0), (1.6, 1.2)), ((0.0, 1.2), (1.6, 0.0))]}
        corners["rows"] = [((0.0, y), (1.6, y)) for y in (0.0, 0.6, 1.2)]
        corners["columns"] = [((x, 0.0), (x, 1.2)) for x in (0.0, 0.8, 1.6)]
        stations, setups = [], []
        for kind in lines:
            for number, (start, end) in enumerate(corners[kind]):
                first, way = np.array([*start, 0.0]), np.array([*end, 0.0]) - np.array([*start, 0.0])
                count, way = round(float(np.linalg.norm(way)) / 0.2), way / np.linalg.norm(way)
                names = [f"{kind} {number}, {i}" for i in range(count)]
                places = [first + (0.2 * i + 0.1) * way for i in range(count)]
                stations += [
                    station(name, "plate", place, target="stepper", along=way)
                    for name, place in zip(names, places, strict=True)
                ]
                setups.append(line_setup(f"{kind} {number}", "plate", first - 0.3 * way, names, aim=way))
        asked = task(
            "plate", "slope", "plate", [each.name for each in stations], Limit(40e-6), reference="minimum zone"
        )
        surface = Surface("plate", Plate(6.0, 6.0, 0.3), pose_from_turn([0, 0, 0.8]))
        return layout([surface], stations, setups, [asked])

    def faced(self, *, reverse=True):
        """A face across a base line, read by the plane that a prism sweeps square to that line."""
        angles = {"up": 0.5 * np.pi, "left": np.pi, "right": 0.0, "high left": 0.75 * np.pi}
        stations = [
            station(name, "face", [0.5 * np.cos(angle), 0.5 * np.sin(angle), 0]) for name, angle in angles.items()
        ]
        stations += [datum("near", "bed", [-1.0, -0.7, 0]), datum("far", "bed", [1.3, -0.7, 0])]
        bed = Surface("bed", Plate(3.0, 1.8, 0.35), pose_from_turn([0, 0, 0.85]))
        # Its x is the world's -y and its y the world's z, so that its normal looks along the base line.
        face = Surface("face", Face(1.4, 0.0, 0.1), pose_from_axes([0.85, -0.7, 1.0], X, -Y))
        names = tuple(angles)
        use = PrismUse("nose", (Stop("stop", 2.4, names),), sweeps=True, centred_within=0.05e-3)
        setup = line_setup(
            "base line", "bed", [-1.4, -0.7, 0], ("near", "far", *names), near="near", far="far", prism=use,
            reversed=reverse,
        )  # fmt: skip
        asked = [task("square", "squareness", "face", names, {"x": PER_METRE, "y": PER_METRE}, to="base line")]
        return layout([bed, face], stations, [setup], asked)

    def turned_roll(self, places=3, turns=8, *, total=False):
        """A roll turned past targets that stand on it, read by one line along it, with a rail beside it as datum."""
        at = np.linspace(-0.8, 0.8, places)
        angles = 2.0 * np.pi * np.arange(turns) / turns
        stations = [
            station(f"P{i}@{np.degrees(turn):.6g}", "roll", [0.15, 0, z], normal=X, along=Z, turn=turn)
            for i, z in enumerate(at) for turn in angles
        ]  # fmt: skip
        stations += [station(f"D{i}", "rail", [x, 0, 0]) for i, x in enumerate((0.2, 1.0, 1.8))]
        roll = Surface("roll", Roll(0.3, 2.0), pose_from_axes([1.0, 0, 1.0], X, Z))
        beside = rail("rail", [0.0, 0.2, 1.15], 2.0)
        names = [each.name for each in stations]
        setups = [
            line_setup("along", "floor", [-1.0, 0, 0], names[:-3], mount=replace(STAND, height=1.26)),
            base_setup("plane", (1.0, -1.0), [*names[::turns][:places], *names[-3:]], height=1.2),
        ]  # fmt: skip
        asked = [task("run-out", "run out", "roll", names if total else names[:-3], Limit(60e-6), total=total,
                      to="rail" if total else "")]  # fmt: skip
        return layout([roll, beside], stations, setups, asked)

    def turned_face(self, radii=(0.1, 0.2), turns=6):
        """A face that is turned past targets on it, read by lines across it."""
        angles = 2.0 * np.pi * np.arange(turns) / turns
        stations = [
            station(f"F{i}@{np.degrees(turn):.6g}", "face", [r, 0, 0], turn=turn, along=Y)
            for i, r in enumerate(radii) for turn in angles
        ]  # fmt: skip
        face = Surface("face", Face(0.5, 0.0, 0.06), pose_from_axes([0, 0, 1.2], X, Z))
        setups = [
            line_setup(
                f"across {i}", "floor", [0.15, -1.0, 0], [s.name for s in stations if s.name.startswith(f"F{i}@")],
                aim=Y, mount=replace(STAND, height=1.2 + r - 0.04),
            )
            for i, r in enumerate(radii)
        ]  # fmt: skip
        asked = [task("run-out", "run out", "face", [each.name for each in stations], Limit(60e-6))]
        return layout([face], stations, setups, asked)

    def crossed_face(self, radii=(-0.2, -0.1, 0.1, 0.2), turns=6):
        """A face that is turned past targets on both sides of its axis, read by one line across it."""
        angles = 2.0 * np.pi * np.arange(turns) / turns
        stations = [
            station(f"F{i}@{np.degrees(turn):.6g}", "face", [0, r, 0], turn=turn, along=Y)
            for i, r in enumerate(radii) for turn in angles
        ]  # fmt: skip
        face = Surface("face", Face(0.5, 0.0, 0.06), pose_from_axes([0, 0, 1.2], X, Z))
        names = [each.name for each in stations]
        across = line_setup("across", "floor", [0.15, -1.0, 0], names, aim=Y, mount=replace(STAND, height=1.16))
        return layout([face], stations, [across], [task("run-out", "run out", "face", names, Limit(60e-6), total=True)])

    def glass(self, n=6):
        """A rail read by see-through targets, two on the beam at once."""
        names = self.names("A", n)
        stations = [station(name, "rail", [0.5 * i + 0.5, 0, 0], target="glass") for i, name in enumerate(names)]
        setup = line_setup("line", "rail", [0, 0, 0], names, through=("glass", "glass 2"))
        asked = [task("side", "straightness", "rail", names, MILLIMETRE, plane="horizontal")]
        return layout([rail("rail", [0, 0, 0.8], 0.5 * n + 1.0)], stations, [setup], asked)

    def gantry(self):
        """A gantry beam across a rail, against the plane that a prism sweeps square to the rail."""
        a, g = self.names("A", 3), self.names("G", 4)
        stations = [station(name, "a", [1.0 + 2.0 * i, 0, 0]) for i, name in enumerate(a)]
        stations += [station(name, "gantry", [0.3 + 0.8 * i, 0, 0], normal=X, along=Y) for i, name in enumerate(g)]
        use = PrismUse("nose", (Stop("prism", 3.0, g),), sweeps=True, centred_within=0.05e-3)
        setup = line_setup("plane", "a", [0, 0, 0], (*a, *g), near="A1", far="A3", prism=use)
        beam = Surface("gantry", Plate(4.0, 0.3, 0.3), pose_from_turn([2.85, 0.3, 0.75], np.pi / 2))
        stations = [
            each if each.surface == "a" else replace(each, normal=-Y, along=X) for each in stations
        ]  # the plate is turned: its -y looks along +x of the world
        asked = [task("square", "squareness", "gantry", (*a, *g), PER_METRE, to="a")]
        return layout([rail("a", [0, 0, 0.6], 6.0), beam], stations, [setup], asked)

    replace = staticmethod(replace)
    column = staticmethod(lambda: Column(0.4, 0.4, 3.0))


@pytest.fixture(scope="session")
def surveys():
    """A maker of layouts."""
    return Surveys()


USUAL = {
    **dict.fromkeys(("tilt_x", "tilt_y", "tilt_z", "cone", "cone_side"), 30e-6),
    **dict.fromkeys(("lift", "shift", "offset_y", "offset_z"), 0.3e-3),
    "prism_x": 0.5e-3, "prism_turn": 0.2e-3,
}  # fmt: skip
"""How far a crew sets what the network solves for off: standard deviations, rad and metres."""


class Crew:
    """Reads a survey whose truth is known, and reduces what it has read."""

    def readings(self, layout, truth=None, seed=0, *, errors=True, scatter=1.0, **moved):
        """Readings of all set-ups.

        ``truth`` is {field: {station: value}}; ``moved`` adds to fields of the state, one value or one per row.
        """
        geometry = survey_geometry(layout, planned_rows(layout))
        rng = np.random.default_rng(seed)
        rows, state = geometry.rows, NOMINAL
        for unknown in unknowns_of(layout, geometry):
            if size := scatter * USUAL.get(unknown.field, 0.0):
                drawn = np.append(size * rng.standard_normal(len(unknown.keys)), 0.0)
                state = changed(state, unknown.field, drawn[unknown.group])
        for field, values in (truth or {}).items():
            each = np.array([values.get(name, 0.0) for name in rows.stations])
            state = changed(state, field, each[rows.station])
        for field, value in moved.items():
            state = changed(state, field, value)
        if errors:
            within = np.array([layout.setups[rows.setups[i]].centred_within for i in rows.setup])
            swept = ~(geometry.reads["h"] & geometry.reads["v"])
            state = replace(state, aim=np.where(swept, within * rng.uniform(-1.0, 1.0, len(rows)), 0.0))
            off = spots(geometry, state)
            state = drawn_state(state, sources_of(layout, geometry, np.hypot(off.h, off.v).reshape(-1)), rng, 1)
        return readings_of(layout, geometry, state, "as found")

    def geometry(self, layout):
        """Geometry of the plan."""
        return survey_geometry(layout, planned_rows(layout))

    def rows(self, layout):
        """Rows of the plan, for values that differ from row to row."""
        return planned_rows(layout)

    def measured(self, layout, readings, name, trials=600):
        """A task from readings."""
        asked = layout.tasks[name]
        network, records = network_of_visit(layout, setups_for(layout, asked), readings, "as found")
        return measured(evidence_of(layout, asked, "as found", network), np.random.default_rng(1), trials, records)

    def truth(self, names, seed, size=30e-6):
        """A random value for each name."""
        return dict(zip(names, size * np.random.default_rng(seed).standard_normal(len(names)), strict=True))


@pytest.fixture(scope="session")
def crew():
    """Simulated and reduced readings."""
    return Crew()
