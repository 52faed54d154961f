"""The error sources of every device: which part of the state each one moves, how far, and which rows share it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..model.devices import Emitter, Target
from ..model.layout import Layout
from ..model.mounts import Mount
from ..model.survey import LevelBy, Method, Setup
from ..tracing.geometry import SurveyGeometry
from ..tracing.spots import Spots
from ..tracing.thermal import station_growth
from ..vectors import Floats, Indices

__all__ = ["TURBULENCE_EXPONENT", "Line", "Survey", "source_lines", "survey_of"]

TURBULENCE_EXPONENT = 1.5
"""Scatter of a beam in moving air grows with its length to this power."""

Line = tuple[str, str, Indices, Floats, str, str]
"""Name, field of the state, group (m,), standard uncertainty (m,), what a group shares, origin."""


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """The rows of a survey with the things of the layout that each one meets."""

    layout: Layout
    geometry: SurveyGeometry
    seen: Spots
    setups: Sequence[Setup]
    targets: Sequence[Target]
    mounts: Sequence[Mount]
    emitters: Sequence[Emitter]
    off_centre: Floats

    @property
    def each(self) -> Indices:
        """A group of its own for every row."""
        return np.arange(len(self.targets), dtype=np.int64)

    @property
    def reads_h(self) -> bool:
        """Whether any reading tells something sideways."""
        return bool(self.geometry.reads["h"].any())


def survey_of(layout: Layout, geometry: SurveyGeometry, seen: Spots, off_centre: Floats | None) -> Survey:
    """The rows of ``geometry``; planned spots stand as near the middle as the crew brings them."""
    rows = geometry.rows
    stations = [layout.stations[rows.stations[i]] for i in rows.station]
    setups = [layout.setups[rows.setups[i]] for i in rows.setup]
    if off_centre is None:
        within = np.array([setup.centred_within for setup in setups])
        off_centre = np.hypot(*(np.maximum(np.abs(np.nan_to_num(place)), within) for place in (seen.h, seen.v)))
    return Survey(
        layout, geometry, seen, setups,
        [layout.targets[rows.targets[i]] for i in rows.target],
        [station.mount for station in stations],
        [layout.emitters[setup.emitter] for setup in setups],
        off_centre,
    )  # fmt: skip


def _numbered(keys: Iterable[object]) -> Indices:
    """Group number of each row: the same key, the same number."""
    listed = list(keys)
    order = {key: number for number, key in enumerate(dict.fromkeys(listed))}
    return np.array([order[key] for key in listed], dtype=np.int64)


def _origin(things: Iterable[object], field: str) -> str:
    """Where the field of these devices or mounts comes from, in words."""
    said = dict.fromkeys(getattr(thing, "origins", {}).get(field, "layout") for thing in things if thing is not None)
    return "; ".join(said)


def _values(things: Sequence[object], field: str) -> Floats:
    """A field of each row's thing; 0 where a row has none."""
    return np.array([getattr(thing, field, 0.0) for thing in things], dtype=np.float64)


def _detectors(s: Survey) -> Iterator[Line]:
    targets, seat = s.targets, s.geometry.rows.seat
    by_target = _numbered(target.name for target in targets)
    axes = ("v", "h") if s.reads_h else ("v",)
    for axis in axes:
        yield ("detector resolution", f"noise_{axis}", s.each, _values(targets, "resolution"), "reading",
               _origin(targets, "resolution"))  # fmt: skip
        yield ("zero of the detector", f"zero_{axis}", by_target, _values(targets, "zero_known_to"), "target",
               _origin(targets, "zero_known_to"))  # fmt: skip
        yield ("linearity of the detector", f"noise_{axis}", seat, _values(targets, "linearity") * s.off_centre,
               "seating", _origin(targets, "linearity"))  # fmt: skip
    yield "roll of the target", "roll", seat, _values(targets, "roll"), "seating", _origin(targets, "roll")
    if any(target.reads_angles for target in targets):
        for axis in ("pitch", "yaw"):
            yield ("resolution of angles", f"noise_{axis}", s.each, _values(targets, "angle_resolution"), "reading",
                   _origin(targets, "angle_resolution"))  # fmt: skip
            yield ("zero of angles", f"zero_{axis}", by_target, _values(targets, "angle_zero_known_to"), "target",
                   _origin(targets, "angle_zero_known_to"))  # fmt: skip


def _mounts(s: Survey) -> Iterator[Line]:
    mounts, rows, seat = s.mounts, s.geometry.rows, s.geometry.rows.seat
    datum = np.array([s.layout.stations[name].is_datum for name in rows.stations], dtype=bool)[rows.station]
    measures = np.where(datum, 0.0, 1.0)  # a target that marks a datum by itself stands where it stands
    carrier = _numbered(
        (target.name, mount.kind, round(mount.height + float(offset), 9), mount.arm, mount.diameter)
        for target, mount, offset in zip(s.targets, mounts, rows.mount_offset, strict=True)
    )
    yield ("seating of the mount", "mount", seat, _values(mounts, "repeatability"), "seating",
           _origin(mounts, "repeatability"))  # fmt: skip
    yield ("height of the mount", "mount", carrier, measures * _values(mounts, "height_known_to"), "mount",
           _origin(mounts, "height_known_to"))  # fmt: skip
    for field in ("eccentric_h", "eccentric_v"):
        yield ("eccentricity in the bore", field, carrier, _values(mounts, "eccentric_known_to"), "mount",
               _origin(mounts, "eccentric_known_to"))  # fmt: skip
    for field in ("lean", "nod", "swing"):
        if field != "swing" or s.reads_h:
            yield "tilt of the mount", field, seat, _values(mounts, "tilts"), "seating", _origin(mounts, "tilts")
    if s.reads_h:
        yield ("seating of the mount sideways", "mount_side", seat, _values(mounts, "side_repeats"), "seating",
               _origin(mounts, "side_repeats"))  # fmt: skip
        yield ("place of the mount sideways", "mount_side", carrier, measures * _values(mounts, "side_known_to"),
               "mount", _origin(mounts, "side_known_to"))  # fmt: skip


def _emitters(s: Survey) -> Iterator[Line]:
    emitters, rows = s.emitters, s.geometry.rows
    moving_air = _values(emitters, "turbulence") * s.seen.path**TURBULENCE_EXPONENT
    by_emitter = _numbered(emitter.name for emitter in emitters)
    housed = np.array([_stands_by_housing(setup) for setup in s.setups], dtype=np.float64)
    yield "moving air", "turbulence", s.each, moving_air, "reading", _origin(emitters, "turbulence")
    yield "drift of the emitter", "drift", rows.setup, _values(emitters, "drift"), "set-up", _origin(emitters, "drift")
    if not s.reads_h:
        return
    yield "moving air", "turbulence_side", s.each, moving_air, "reading", _origin(emitters, "turbulence")
    yield (
        "drift of the emitter",
        "drift_side",
        rows.setup,
        _values(emitters, "drift"),
        "set-up",
        _origin(emitters, "drift"),
    )
    for field in ("cone", "cone_side"):
        yield ("beam against the housing", field, by_emitter, housed * _values(emitters, "pointing"), "emitter",
               _origin(emitters, "pointing"))  # fmt: skip
    for field in ("offset_y", "offset_z"):
        yield ("offset of the beam in its housing", field, by_emitter, housed * _values(emitters, "parallel_offset"),
               "emitter", _origin(emitters, "parallel_offset"))  # fmt: skip


def _stands_by_housing(setup: Setup) -> bool:
    """Whether the housing says where a line goes, and not two targets on which it is bucked in.

    An emitter that is then turned in its V shows its housing again.
    """
    return setup.method is Method.LINE and (setup.reversed or not (setup.near and setup.far))


def _spindles(s: Survey) -> Iterator[Line]:
    """The axis of a spindle lies a little elsewhere each time that it has been turned to a clock position."""
    if not any(setup.clocks for setup in s.setups):
        return
    rows = s.geometry.rows
    stands = np.stack([rows.setup.astype(np.float64), rows.side.astype(np.float64), rows.turn], axis=1)
    turned = np.concatenate([[0], np.cumsum(np.any(np.diff(stands, axis=0) != 0.0, axis=1))]).astype(np.int64)
    for fields, attribute in ((("shift", "lift"), "wander"), (("tilt_y", "tilt_z"), "wander_tilt")):
        for field in fields:
            yield "wander of the spindle", field, turned, _values(s.setups, attribute), "turn of the spindle", "layout"


def _bases(s: Survey) -> Iterator[Line]:
    if not s.geometry.sweeps.any():
        return
    bases = [s.layout.bases.get(setup.base) for setup in s.setups]
    yield ("bearing of the base", "elevation", s.geometry.rows.seat, _values(bases, "wobble"), "seating",
           _origin(bases, "wobble"))  # fmt: skip
    yield ("beam not square to the base axis", "cone", _numbered(setup.base for setup in s.setups),
           _values(bases, "cone_known_to"), "base", _origin(bases, "cone_known_to"))  # fmt: skip


def _vials(s: Survey) -> Iterator[Line]:
    """A vial sets both tilts of a base, and the rise of a line; only that of a base is turned about."""
    by_vial = np.array([setup.level_by is LevelBy.VIAL for setup in s.setups], dtype=bool)
    if not by_vial.any():
        return
    vials = [s.layout.vials.get(setup.vial) if here else None for setup, here in zip(s.setups, by_vial, strict=True)]
    base = np.array([setup.method is Method.BASE_PLANE for setup in s.setups], dtype=bool)
    turned = np.array([setup.reversed for setup in s.setups], dtype=bool) & base
    for field, rows in (("tilt_x", base), ("tilt_y", np.ones(len(base), dtype=bool))):
        yield ("setting of the vial", field, s.geometry.rows.setup, rows * _values(vials, "sensitivity"), "set-up",
               _origin(vials, "sensitivity"))  # fmt: skip
        yield ("zero of the vial", field, _numbered((setup.vial, field) for setup in s.setups),
               rows * ~turned * _values(vials, "zero_known_to"), "vial", _origin(vials, "zero_known_to"))  # fmt: skip


def _prisms(s: Survey) -> Iterator[Line]:
    noses, rows = s.geometry.noses, s.geometry.rows
    if not len(noses.rows):
        return
    uses = [setup.prism if stop >= 0 else None for setup, stop in zip(s.setups, rows.stop, strict=True)]
    prisms = [None if use is None else s.layout.prisms[use.prism] for use in uses]
    by_prism = _numbered(None if prism is None else prism.name for prism in prisms)
    nose = _numbered(zip(rows.setup.tolist(), rows.side.tolist(), rows.stop.tolist(), strict=True))
    for name, field in (("mirror angle of the prism", "mirror"), ("pyramid of the prism", "pyramid")):
        yield name, field, by_prism, _values(prisms, f"{field}_known_to"), "prism", _origin(prisms, f"{field}_known_to")
    for field in ("prism_ry", "prism_rz"):
        yield ("tilt of the prism's nose", field, nose, _values(prisms, "axis_known_to"), "stop",
               _origin(prisms, "axis_known_to"))  # fmt: skip
    for field in ("prism_y", "prism_z"):
        yield "centring of the prism", field, nose, _values(uses, "centred_within"), "stop", "layout"


def _plates(s: Survey) -> Iterator[Line]:
    rows, plates = s.geometry.rows, s.geometry.plates
    for k in range(plates.most):
        row = plates.row[:, k]
        passed = [s.targets[i] if i >= 0 else None for i in row]
        by_target = _numbered(None if target is None else target.name for target in passed)
        stands = _numbered((int(i), int(rows.seat[i])) if i >= 0 else None for i in row)
        for field in ("wedge_h", "wedge_v"):
            yield (f"wedge of see-through target {k + 1}", f"{field}.{k}", by_target, _values(passed, "wedge_known_to"),
                   "target", _origin(passed, "wedge_known_to"))  # fmt: skip
        for field in ("plate_nod", "plate_swing"):
            yield (f"tilt of see-through target {k + 1}", f"{field}.{k}", stands,
                   _values(passed, "plate_tilt_known_to"), "seating",
                   _origin(passed, "plate_tilt_known_to"))  # fmt: skip


def _air(s: Survey) -> Iterator[Line]:
    m = len(s.targets)
    yield ("temperature gradient", "gradient", np.zeros(m, dtype=np.int64), np.full(m, s.layout.air.gradient_known_to),
           "survey", s.layout.air.origins.get("gradient_known_to", "layout"))  # fmt: skip


def _machine(s: Survey) -> Iterator[Line]:
    rows = s.geometry.rows
    grown = station_growth(s.layout, rows.stations)
    group = grown.surface[rows.station]
    for name, part in (
        ("temperature of the machine", grown.of_temperature),
        ("warmth across the machine", grown.of_across),
        ("expansion of its material", grown.of_expansion),
    ):
        yield name, "deviation", group, part[rows.station], "surface", "layout; material table"


def source_lines(survey: Survey) -> list[Line]:
    """All error sources that act on the rows of a survey; some may be of size zero."""
    parts = (_detectors, _emitters, _spindles, _bases, _vials, _mounts, _prisms, _plates, _air, _machine)
    return [line for part in parts for line in part(survey)]
