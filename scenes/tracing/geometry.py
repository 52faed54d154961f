"""The survey as arrays: one row per reading, planned or taken, with everything that light needs to know about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np

from ..errors import GeometryError
from ..model.devices import Emitter
from ..model.layout import Air, Layout
from ..model.survey import Method
from ..vectors import Flags, Floats, Indices, dot, frozen, length, unit
from .air_index import temperature_slope
from .launches import Launch, launch_of, line_length, nose_frame
from .passed_targets import Plates, passed_plates
from .places import stands_of
from .rows import Rows

__all__ = ["CHANNELS", "Noses", "Plates", "SurveyGeometry", "survey_geometry"]

SIDEWAYS = 1.0e-3
"""A detector must stand at least this far from the axis of turning [m] to be turned toward it."""

NEAR_MOUNT = 0.5
"""A beam within 30 degrees of a mount is met by a detector that looks along the mount."""

IN_A_V = (Method.LINE, Method.SPINDLE)
"""Methods by which the emitter is turned in a V for the other side of a reversal; a base turns its vial, a prism is
turned itself."""

CHANNELS = ("h", "v", "pitch", "yaw")
"""What a target can read."""


@dataclass(frozen=True, slots=True, eq=False)
class Noses:
    """Prisms of the rows that go through one; k of them.

    Attributes
    ----------
    rows : (k,) int
        Numbers of the rows.
    centre, frame : (k, 3), (k, 3, 3) float
        Crossing of the incoming and the exit axis, and ``world_from_nose``: x along the nominal beam; at turn 0 the
        exit points along z.
    turned : (k,) float
        Turn of the nose about x, rad, where it is fixed.
    sweeps : (k,) bool
        True where it is turned to the target.
    aperture, index, mirror, pyramid, passes : (k,) float
        Of the prism: metres, plain, rad, rad, share of light.
    """

    rows: Indices
    centre: Floats
    frame: Floats
    turned: Floats
    sweeps: Flags
    aperture: Floats
    index: Floats
    mirror: Floats
    pyramid: Floats
    passes: Floats


@dataclass(frozen=True, slots=True, eq=False)
class SurveyGeometry:
    """Nominal geometry of every reading, in the world, metres; m rows.

    Attributes
    ----------
    rows : Rows
        Which station is read from which set-up, when, and in which seating.
    foot, normal, beside, ahead : (m, 3) float
        Where the mount stands on the nominal surface, the direction in which it and a deviation point, and those in
        which deviations beside and along the line of stations point.
    rise, arm : (m,) float
        From that foot to the centre of the detector, along ``normal`` and ``beside``; growth of the surface included.
    facing, axis_h, axis_v : (m, 3) float
        The detector: toward the beam, to the right as seen from the emitter, up along its mount; turned by its clock.
        Where the beam comes along the mount, the detector looks along it, and its v points along ``ahead``.
    window : (m, 2) float
        Full width and height of the detector.
    largest_spot : (m,) float
    reads : {channel: (m,) bool}
        Channels that carry information: a plane that is swept tells only what lies across it.
    frees_h : (m,) bool
        True where the crew brings the spot to the middle along h (else along v), since a sweep makes it free.
    launch_origin, launch_rotation : (m, 3) and (m, 3, 3) float
        Frame of the emitter: foot of a base and its frame after levelling, or start and frame of a line.
    beam_height : (m,) float
        Beam above that origin along z.
    sweeps : (m,) bool
        True where a base turns the beam to the target.
    turn : (m,) float
        Turn of the emitter about its own axis (V-block, spindle), rad.
    cone : (m,) float
        Stated elevation of the beam over the plane square to the axis of its base, rad; 0 without one.
    waist_radius, wavelength : (m,) float
    noses : Noses
    plates : Plates
    gradient : float
        Temperature gradient, K/m.
    index_slope : (m,) float
        Change of the index of the air with temperature for the light of each row, 1/K.
    """

    rows: Rows
    foot: Floats
    normal: Floats
    beside: Floats
    ahead: Floats
    rise: Floats
    arm: Floats
    facing: Floats
    axis_h: Floats
    axis_v: Floats
    window: Floats
    largest_spot: Floats
    reads: dict[str, Flags]
    frees_h: Flags
    launch_origin: Floats
    launch_rotation: Floats
    beam_height: Floats
    sweeps: Flags
    turn: Floats
    cone: Floats
    waist_radius: Floats
    wavelength: Floats
    noses: Noses
    plates: Plates
    gradient: float
    index_slope: Floats

    def detector_centres(self) -> Floats:
        """Nominal centres ``(m, 3)`` of the detectors, world."""
        return self.foot + self.rise[:, None] * self.normal + self.arm[:, None] * self.beside

    def beam_origins(self) -> Floats:
        """Nominal points ``(m, 3)`` at which the beams leave the emitter (on the axis of a base), world."""
        return self.launch_origin + self.beam_height[:, None] * self.launch_rotation[:, :, 2]

    def sources(self) -> Floats:
        """Nominal points ``(m, 3)`` from which the last leg of each beam comes: the prism, or the emitter."""
        points = self.beam_origins()
        points[self.noses.rows] = self.noses.centre
        return points

    def light(self) -> Floats:
        """Share ``(m,)`` of the emitter's light that reaches each detector."""
        share: Floats = np.prod(self.plates.passes, axis=1)
        share[self.noses.rows] *= self.noses.passes
        return share

    def chosen(self, index: Indices) -> SurveyGeometry:
        """The rows ``index`` (k,), repeated or left out as asked; each keeps the plates and the prism on its way."""
        count = len(self.rows)
        changed: dict[str, object] = {"rows": self.rows.chosen(index)}
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray) and len(value) == count:
                changed[field.name] = value[index]
        changed["reads"] = {name: flags[index] for name, flags in self.reads.items()}
        where = np.full(count, -1, dtype=np.int64)
        where[self.noses.rows] = np.arange(len(self.noses.rows))
        nose = where[index]
        changed["noses"] = _picked(self.noses, nose[nose >= 0], rows=np.nonzero(nose >= 0)[0])
        first = np.full(count + 1, -1, dtype=np.int64)  # one more, so that -1 stays -1
        first[index[::-1]] = np.arange(len(index))[::-1]
        row = first[self.plates.row[index]]
        gone = (row < 0) & (self.plates.row[index] >= 0)
        if gone.any():
            raise ValueError("a row was chosen without a target that stands in its beam")
        changed["plates"] = replace(_picked(self.plates, index), row=row)
        return replace(self, **changed)  # type: ignore[arg-type]


Arrays = TypeVar("Arrays", Noses, Plates)


def _picked(part: Arrays, index: Indices, **others: Indices) -> Arrays:
    """A dataclass of arrays with only some of their first entries."""
    picked = {each.name: getattr(part, each.name)[index] for each in fields(part)}
    return replace(part, **{**picked, **others})


def _against_the_light(sweeping: Flags, rotation: Floats, noses: Noses, toward: Floats) -> Floats:
    """Directions ``(m, 3)`` from which the light comes, nominal: along a fixed line wherever the target stands.

    A swept beam comes from its source; for those the result is ``toward`` (m, 3), as long as the beam.
    """
    line = rotation[:, :, 0].copy()
    sin, cos = np.sin(noses.turned)[:, None], np.cos(noses.turned)[:, None]
    line[noses.rows] = cos * noses.frame[:, :, 2] - sin * noses.frame[:, :, 1]
    return np.where(sweeping[:, None], toward, -line)


def _facing(
    rows: Rows, discs: Flags, sweeps: Flags, toward: Floats, against: Floats, normal: Floats, ahead: Floats
) -> tuple[Floats, Flags]:
    """Directions ``(m, 3)`` that the detectors look in, and which of them look along their mount.

    Usually against the light, square to the mount; in a bore along it; along the mount where the light comes that way.
    """
    across = against - dot(against, normal)[:, None] * normal
    near = (length(across) < SIDEWAYS) & ~discs & (sweeps | (length(toward) < SIDEWAYS))
    if near.any():
        row = int(np.argmax(near))
        raise GeometryError(
            f"set-up {rows.setups[rows.setup[row]]}: station {rows.stations[rows.station[row]]} stands right at the "
            "emitter, so its detector cannot face the beam",
            code="target-at-emitter",
        )
    along_mount = ~discs & ~sweeps & (length(across) < NEAR_MOUNT * length(against))
    for mine, axis in ((discs, ahead), (along_mount, normal)):
        across = np.where(mine[:, None], np.copysign(1.0, dot(against, axis))[:, None] * axis, across)
    return unit(across), along_mount


def _turned(axis: Floats, about: Floats, angle: Floats) -> Floats:
    """Vectors ``axis`` turned about the unit vectors ``about``, to which they are square, by ``angle`` (m,)."""
    if not angle.any():
        return axis
    result: Floats = np.cos(angle)[:, None] * axis + np.sin(angle)[:, None] * np.cross(about, axis)
    return result


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """Different launches, the number of each row's launch, and centre and frame of the nose of each launch."""

    launches: tuple[Launch, ...]
    number: Indices
    centre: Floats
    frame: Floats


def _placed(layout: Layout, rows: Rows) -> _Placed:
    kinds, number = np.unique(np.stack([rows.setup, rows.side, rows.stop], axis=1), axis=0, return_inverse=True)
    plain = {name: launch_of(layout, layout.setups[name]) for name in rows.setups}
    launches, centres, frames = [], [], []
    for s, side, stop in kinds.tolist():
        setup = layout.setups[rows.setups[s]]
        launch, centre, frame = plain[setup.name], np.zeros(3), np.eye(3)
        if setup.prism is not None:
            place = setup.prism.stops[max(stop, 0)]
            line = line_length(layout, setup, launch)
            launch, centre, frame = nose_frame(launch, place.distance, setup.prism.turned, bool(side), line)
        launches.append(launch)
        centres.append(centre)
        frames.append(frame)
    return _Placed(
        tuple(launches), number.reshape(len(rows)), np.array(centres).reshape(-1, 3), np.array(frames).reshape(-1, 3, 3)
    )


def _noses(layout: Layout, rows: Rows, placed: _Placed) -> Noses:
    through = np.nonzero(rows.stop >= 0)[0]
    mine = rows.setup[through]
    uses = [layout.setups[name].prism for name in rows.setups]
    prisms = [None if use is None else layout.prisms[use.prism] for use in uses]

    def column(things: Sequence[object], name: str) -> Floats:
        return np.array([getattr(thing, name, 0.0) for thing in things], dtype=np.float64)[mine]

    return Noses(
        rows=through,
        centre=frozen(placed.centre[placed.number[through]]),
        frame=frozen(placed.frame[placed.number[through]]),
        turned=column(uses, "turned"),
        sweeps=column(uses, "sweeps") > 0.0,
        aperture=column(prisms, "aperture"),
        index=column(prisms, "index"),
        mirror=column(prisms, "mirror"),
        pyramid=column(prisms, "pyramid"),
        passes=column(prisms, "passes"),
    )


def _informative(
    reads_angles: Flags, sweeping: Flags, across: Floats, axis_h: Floats, axis_v: Floats
) -> tuple[dict[str, Flags], Flags]:
    """Which channels carry information, and where h is the free one; ``across`` (m, 3) is square to a swept plane."""
    h_tells = np.abs(dot(axis_h, across)) > np.abs(dot(axis_v, across))
    angles = {"pitch": reads_angles, "yaw": reads_angles & ~sweeping}
    return {"h": ~sweeping | h_tells, "v": ~sweeping | ~h_tells, **angles}, sweeping & ~h_tells


def _index_slopes(air: Air, emitters: list[Emitter]) -> Floats:
    return np.array(
        [temperature_slope(emitter.wavelength, air.temperature, air.pressure, air.humidity) for emitter in emitters],
        dtype=np.float64,
    )


def _stood(layout: Layout, rows: Rows) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Foot, normal and side ``(m, 3)``, rise and arm ``(m,)`` of the detector of every row."""
    kinds, number = np.unique(np.stack([rows.station, rows.target], axis=1), axis=0, return_inverse=True)
    station, target = kinds.T
    stands = stands_of(layout, [rows.stations[i] for i in station], [rows.targets[i] for i in target])
    number = number.reshape(len(rows))
    foot, normal, beside = (part[number] for part in (stands.foot, stands.normal, stands.beside))
    return foot, normal, beside, stands.rise[number] + rows.mount_offset, stands.arm[number]


def survey_geometry(layout: Layout, rows: Rows) -> SurveyGeometry:
    """Arrays for the light of ``rows``, taken from ``layout``.

    Raises
    ------
    GeometryError
        Where a set-up cannot be levelled as asked, a line has no direction, or a target stands right above the emitter.
    """
    stations = [layout.stations[name] for name in rows.stations]
    foot, normal, beside, rise, arm = _stood(layout, rows)
    ahead = np.cross(beside, normal)
    targets = [layout.targets[rows.targets[i]] for i in rows.target]
    setups = [layout.setups[name] for name in rows.setups]
    emitters = [layout.emitters[setup.emitter] for setup in setups]
    placed = _placed(layout, rows)
    launches, number = placed.launches, placed.number
    origin = np.array([launch.origin for launch in launches]).reshape(-1, 3)[number]
    rotation = np.array([launch.rotation for launch in launches]).reshape(-1, 3, 3)[number]
    height = np.array([launch.beam_height for launch in launches], dtype=np.float64)[number]
    sweeps = np.array([launch.sweeps for launch in launches], dtype=bool)[number]
    noses = _noses(layout, rows, placed)
    light = origin + height[:, None] * rotation[:, :, 2]
    light[noses.rows] = noses.centre
    toward = light - (foot + rise[:, None] * normal + arm[:, None] * beside)
    discs = np.array([station.mount.kind == "discs" for station in stations], dtype=bool)[rows.station]
    sweeping, across = sweeps.copy(), rotation[:, :, 2].copy()
    sweeping[noses.rows[noses.sweeps]] = True
    against = _against_the_light(sweeping, rotation, noses, toward)
    facing, along_mount = _facing(rows, discs, sweeping, toward, against, normal, ahead)
    upright = np.where(along_mount[:, None], ahead, normal)
    axis_h, axis_v = (_turned(axis, ahead, rows.clock) for axis in (np.cross(-facing, upright), upright))
    across[noses.rows] = noses.frame[:, :, 0]
    reads_angles = np.array([target.reads_angles for target in targets], dtype=bool)
    reads, frees_h = _informative(reads_angles, sweeping, across, axis_h, axis_v)
    in_a_v = np.array([setup.method in IN_A_V for setup in setups], dtype=bool)[rows.setup]
    return SurveyGeometry(
        rows=rows,
        foot=frozen(foot),
        normal=frozen(normal),
        beside=frozen(beside),
        ahead=frozen(ahead),
        rise=frozen(rise),
        arm=frozen(arm),
        facing=frozen(facing),
        axis_h=frozen(axis_h),
        axis_v=frozen(axis_v),
        window=frozen([[target.window_h, target.window_v] for target in targets]).reshape(-1, 2),
        largest_spot=frozen([target.largest_spot for target in targets]),
        reads=reads,
        frees_h=frees_h,
        launch_origin=frozen(origin),
        launch_rotation=frozen(rotation),
        beam_height=frozen(height),
        sweeps=sweeps,
        turn=frozen(rows.turn + np.pi * (rows.side * in_a_v)),
        cone=frozen(np.array([layout.bases[s.base].cone if s.base else 0.0 for s in setups])[rows.setup]),
        waist_radius=frozen(np.array([emitter.waist_radius for emitter in emitters])[rows.setup]),
        wavelength=frozen(np.array([emitter.wavelength for emitter in emitters])[rows.setup]),
        noses=noses,
        plates=passed_plates(layout, rows, dot(toward, unit(against))),
        gradient=layout.air.gradient,
        index_slope=frozen(_index_slopes(layout.air, emitters)[rows.setup]),
    )
