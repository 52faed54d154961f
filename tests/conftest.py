"""Survey layouts built in code, so that laws do not lean on the reader of layout files."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scenes.frames import IDENTITY, Pose, pose_from_turn
from scenes.model.devices import Emitter, Prism, RotaryBase, Target
from scenes.model.layout import Air, Layout, ShownUnits
from scenes.model.machine import Column, Plate, Surface
from scenes.model.mounts import Mount
from scenes.model.survey import Feet, Group, LevelBy, PrismUse, Setup, Station, Stop, Task
from scenes.tracing.geometry import SurveyGeometry, survey_geometry
from scenes.tracing.rows import planned_rows

POST = Mount("post", 0.12, 0.06, 0.30, 1.0e-6, 10.0e-6)
TRIPOD = Mount("tripod", 0.90, 0.60, 1.60, 12.7e-6, 1.0e-3)
LASER = Emitter("laser", "block", 635e-9, 2.0e-3, 0.04, 0.05, 45.0, 8.3e-10, 0.2e-6)
BASE = RotaryBase("base", "standard", 0.06, 0.02, 0.0, 5.0e-6, 1.0e-6)
TARGET = Target("t1", "two axes", 0.02, 0.02, 0.03, 1.0e-6, 2.0e-3, 0.0, 0.0, 2.5e-6, 1.0e-3, 5.0e-3)
GLASS = Target(
    "g1", "see-through", 0.016, 0.016, 0.03, 1.0e-6, 1.0e-3, 0.0, 0.0, 5.0e-6, 1.0e-3, 5.0e-3,
    passes=0.78, thickness=3.0e-3, index=1.515, wedge_known_to=5.0e-6, plate_tilt_known_to=5.0e-3,
)  # fmt: skip
NOSE = Prism("nose", "nose", 0.030, 1.517, 0.06, 0.9, 0.0, 2.5e-6, 0.0, 10.0e-6, 0.2e-3, 1.0e-3)
AXIS = 0.15
"""Height of nominal beams and of detectors on a `POST` above the surface, metres."""


class Bench:
    """Makes layouts of a plate read by a swept plane; every part can be replaced."""

    def __init__(self) -> None:
        self.pose = pose_from_turn([0.0, 0.0, 0.85])

    def layout(
        self,
        *,
        columns: int = 7,
        rows: int = 5,
        length: float = 3.0,
        width: float = 1.8,
        pose: Pose | None = None,
        stands: dict[str, tuple[float, float]] | None = None,
        reads: dict[str, tuple[str, ...]] | None = None,
        places: dict[str, tuple[float, float]] | None = None,
        obstacles: dict[str, tuple[tuple[float, float, float], Column]] | None = None,
        air: Air | None = None,
        target: Target = TARGET,
        base: RotaryBase = BASE,
        emitter: Emitter = LASER,
        mount: Mount = POST,
        tripod: Mount = TRIPOD,
        level_by: LevelBy = LevelBy.THREE_POINTS,
        again: tuple[str, ...] = (),
        **task: object,
    ) -> Layout:
        """Plate with a grid of stations (or ``places``) and one set-up per entry of ``stands``."""
        pose = self.pose if pose is None else pose
        if places is None:
            x = np.linspace(-0.5 * length + 0.1, 0.5 * length - 0.1, columns)
            y = np.linspace(-0.5 * width + 0.1, 0.5 * width - 0.1, rows)
            places = {f"{chr(65 + j)}{i + 1}": (float(x[i]), float(y[j])) for j in range(rows) for i in range(columns)}
        surfaces = {"bed": Surface("bed", Plate(length, width, 0.35), pose, "floor", "cast iron", 3)}
        for name, (at, shape) in (obstacles or {}).items():
            surfaces[name] = Surface(name, shape, Pose(IDENTITY.rotation, np.array(at)), "floor", "", 4)
        stations = {
            name: Station(name, "bed", np.array([*at, 0.0]), target.name, mount, "grid", 10)
            for name, at in places.items()
        }
        names = tuple(stations)
        setups = {
            name: Setup(
                name, emitter.name, base.name, "floor", np.array([*at, 0.0]), tripod, level_by, (),
                names if reads is None else reads[name], again, line=20,
            )
            for name, at in (stands or {"plane": (-2.3, 0.2)}).items()
        }  # fmt: skip
        settings: dict[str, object] = {"reference": "minimum zone", "datum": (), "limit": 60e-6, **task}
        first = Task("bed flatness", "flatness", "bed", names, line=30, **settings)  # type: ignore[arg-type]
        feet_x, feet_y = 0.43 * length, 0.42 * width
        at = np.array([[x, y] for y in (-feet_y, feet_y) for x in (-feet_x, 0.0, feet_x)])
        return Layout(
            file="layout.yaml", title="Bed", units=ShownUnits(), air=air or Air(), surfaces=surfaces,
            emitters={emitter.name: emitter}, bases={base.name: base}, targets={target.name: target},
            stations=stations, groups={"grid": Group("grid", "bed", names, rows, columns, 10)}, setups=setups,
            tasks={first.name: first},
            feet={"bed": Feet("bed", tuple(f"F{i + 1}" for i in range(6)), at, True, 2e-3)},
        )  # fmt: skip

    replace = staticmethod(replace)


@pytest.fixture
def bench() -> Bench:
    """A maker of layouts."""
    return Bench()


class Beams:
    """Makes surveys along beams over a plate, which start at [-1.4, 0] and run along x; every part can be replaced."""

    axis = AXIS
    glass = GLASS
    nose = NOSE
    target = TARGET

    @staticmethod
    def station(name: str, at: object, **changes: object) -> Station:
        """A station of the plate at ``at`` (x, y), or (x, y, z), metres."""
        place = np.zeros(3)
        place[: len(at)] = at  # type: ignore[arg-type]
        return replace(Station(name, "bed", place, TARGET.name, POST, "all"), **changes)  # type: ignore[arg-type]

    def line(self, *distances: float, **changes: object) -> tuple[Station, ...]:
        """Stations ``P1``, ``P2`` ... on the beam, at distances from its start."""
        return tuple(self.station(f"P{i + 1}", (-1.4 + s, 0.0), **changes) for i, s in enumerate(distances))

    @staticmethod
    def prism(stops: dict[float, tuple[str, ...]], turned: float = 0.0, sweeps: bool = False) -> PrismUse:
        """A nose at distances from the start of the beam, each with the names that are read from there."""
        return PrismUse("nose", tuple(Stop(f"at {s:g}", s, names) for s, names in stops.items()), turned, sweeps)

    def layout(
        self,
        stations: tuple[Station, ...],
        *,
        pose: Pose | None = None,
        air: Air | None = None,
        target: Target = TARGET,
        nose: Prism = NOSE,
        glass: tuple[Target, ...] = (),
        **setup: object,
    ) -> Layout:
        """One set-up that reads ``stations``; other names are fields of `Setup`."""
        names = tuple(station.name for station in stations)
        height = AXIS if "clocks" in setup else AXIS - LASER.beam_height - (BASE.height if "base" in setup else 0.0)
        settings: dict[str, object] = {
            "base": "", "on": "bed", "at": np.array([-1.4, 0.0, 0.0]), "mount": replace(TRIPOD, height=height),
            "level_by": LevelBy.THREE_POINTS, "level_stations": (), "reads": names, "seconds_per_reading": 60.0,
            "aim": np.array([1.0, 0.0, 0.0]), **setup,
        }  # fmt: skip
        return Layout(
            file="layout.yaml", title="Beams", units=ShownUnits(), air=air or Air(),
            surfaces={"bed": Surface("bed", Plate(60.0, 60.0, 0.35), pose or pose_from_turn([0.0, 0.0, 0.85]))},
            emitters={LASER.name: LASER}, bases={BASE.name: BASE}, prisms={nose.name: nose},
            targets={each.name: each for each in (target, *glass)}, stations={each.name: each for each in stations},
            groups={"all": Group("all", "bed", names)}, setups={"beam": Setup("beam", LASER.name, **settings)},
            tasks={}, feet={},
        )  # type: ignore[arg-type]  # fmt: skip

    @staticmethod
    def geometry(layout: Layout) -> SurveyGeometry:
        """The planned rows of a layout as arrays."""
        return survey_geometry(layout, planned_rows(layout))


@pytest.fixture(scope="session")
def beams() -> Beams:
    """A maker of surveys along beams."""
    return Beams()
