"""The way of the light: from the emitter through prism and see-through targets to the last leg before the detector."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..vectors import Floats, Indices, length, rotation_between, rotation_from_vector
from .air import bend_in
from .beam import distance_to_plane, point_on_path
from .geometry import SurveyGeometry
from .pentaprism import through_pentaprism
from .plates import through_plate
from .state import RowState, value_of

__all__ = ["Detectors", "Leg", "Train", "aimed_turns", "detectors", "last_legs", "turned_legs"]

ZERO = np.zeros(())
UP = np.array([0.0, 0.0, 1.0])

FROM_NOSE_COLUMNS = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
"""``nose_from_prism`` at turn 0: the prism's exit (its y) points along the z of the nose."""


@dataclass(frozen=True, slots=True, eq=False)
class Leg:
    """A piece of the way in air, world: ``origin``, unit ``direction``, ``curvature`` [1/m], each ``(..., m, 3)``."""

    origin: Floats
    direction: Floats
    curvature: Floats

    def to_plane(self, point: Floats, normal: Floats) -> tuple[Floats, Floats, Floats]:
        """Where the leg meets planes, its direction there, and its length until there [m]; nan where it does not."""
        s = distance_to_plane(self.origin, self.direction, self.curvature, point, normal)
        bent = self.direction + s[..., None] * self.curvature
        return point_on_path(self.origin, self.direction, self.curvature, s), bent / length(bent)[..., None], s


@dataclass(frozen=True, slots=True, eq=False)
class Train:
    """The way up to the detectors.

    Attributes
    ----------
    leg : Leg
        The last piece.
    before : (..., m) float
        Way before it, metres; glass counts by its thickness over its index, as the width of the beam sees it.
    corners : (..., m, c, 3) float
        Points at which the beam leaves the emitter and meets glass, nan where a row has none; the first is the start.
    margin : (..., m) float
        Least distance of the axis from the edges of the prism that it goes through, metres; inf without a prism.
    """

    leg: Leg
    before: Floats
    corners: Floats
    margin: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Detectors:
    """Where the detectors stand: centres and axes ``(..., m, 3)``; ``facing`` toward the light."""

    centre: Floats
    facing: Floats
    axis_h: Floats
    axis_v: Floats


def _in_air(geometry: SurveyGeometry, state: RowState, origin: Floats, direction: Floats) -> Leg:
    gradient = np.asarray(geometry.gradient + state.gradient)
    shape = np.broadcast_shapes(direction.shape[:-1], origin.shape[:-1], gradient.shape)
    origin, direction = (np.broadcast_to(part, (*shape, 3)) for part in (origin, direction))
    upward = np.broadcast_to(gradient, shape)[..., None] * UP
    return Leg(origin, direction, bend_in(direction, upward, geometry.index_slope))


def detectors(geometry: SurveyGeometry, state: RowState) -> Detectors:
    """Detectors of every row, moved and turned as the state says."""
    pad = np.stack(np.broadcast_arrays(state.lean, state.nod, state.swing), axis=-1)
    up, aside, ahead = state.mount + state.deviation, state.mount_side + state.deviation_side, state.deviation_along
    facing, axis_h, axis_v = geometry.facing, geometry.axis_h, geometry.axis_v
    stem = geometry.rise[:, None] * geometry.normal
    if geometry.arm.any():
        stem = stem + geometry.arm[:, None] * geometry.beside
    if pad.any():
        frame = np.stack([facing, axis_h, axis_v], axis=-1)
        turn = rotation_from_vector(np.einsum("...ij,...j->...i", frame, pad))
        stem, facing, axis_h, axis_v = (
            np.einsum("...ij,...j->...i", turn, part) for part in (stem, facing, axis_h, axis_v)
        )
    centre = geometry.foot + stem + np.asarray(up)[..., None] * geometry.normal
    for moved, way in ((aside, geometry.beside), (ahead, geometry.ahead)):
        if np.any(moved):
            centre = centre + np.asarray(moved)[..., None] * way
    if np.any(state.eccentric_h) or np.any(state.eccentric_v):
        centre = centre + np.asarray(state.eccentric_h)[..., None] * axis_h
        centre = centre + np.asarray(state.eccentric_v)[..., None] * axis_v
    return Detectors(centre, facing, axis_h, axis_v)


def _launch_frame(geometry: SurveyGeometry, state: RowState) -> tuple[Floats, Floats]:
    """Origin ``(..., m, 3)`` at the beam and rotation ``(..., m, 3, 3)`` of the emitter's frame."""
    tilt = np.stack(np.broadcast_arrays(state.tilt_x, state.tilt_y, state.tilt_z), axis=-1)
    rotation = geometry.launch_rotation
    origin = geometry.launch_origin + np.asarray(state.lift)[..., None] * rotation[:, :, 2]
    if np.any(state.shift):
        origin = origin + np.asarray(state.shift)[..., None] * rotation[:, :, 1]
    if tilt.any():
        rotation = rotation @ rotation_from_vector(tilt)
    return origin, rotation


def _launched(geometry: SurveyGeometry, state: RowState, frame: tuple[Floats, Floats], azimuth: Floats) -> Leg:
    """Beams as they leave the emitter, a base being turned to ``azimuth`` (..., m)."""
    origin, rotation = frame
    elevation = geometry.cone + state.cone + state.elevation + state.drift * geometry.rows.time
    swing = azimuth + state.cone_side + state.drift_side * geometry.rows.time
    elevation, swing = np.broadcast_arrays(elevation, swing)
    level = np.cos(elevation)
    local = np.stack([level * np.cos(swing), level * np.sin(swing), np.sin(elevation)], axis=-1)
    start = np.stack(np.broadcast_arrays(0.0, state.offset_y, state.offset_z), axis=-1)
    if geometry.sweeps.any() and np.any(state.offset_y):  # it turns with the base
        x, y = -np.sin(azimuth) * state.offset_y, np.cos(azimuth) * state.offset_y
        start = np.stack(np.broadcast_arrays(x, y, state.offset_z), axis=-1)
    if geometry.turn.any():
        local, start = _about_x(local, geometry.turn), _about_x(start, geometry.turn)
    direction = np.einsum("...ij,...j->...i", rotation, local)
    start = start + geometry.beam_height[:, None] * np.array([0.0, 0.0, 1.0])
    return _in_air(geometry, state, origin + np.einsum("...ij,...j->...i", rotation, start), direction)


def _about_x(vectors: Floats, angle: Floats) -> Floats:
    """Vectors ``(..., 3)`` turned right-handed about x."""
    c, s = np.cos(angle), np.sin(angle)
    x, y, z = np.moveaxis(vectors, -1, 0)
    return np.stack(np.broadcast_arrays(x, c * y - s * z, s * y + c * z), axis=-1)


def _aim_points(geometry: SurveyGeometry, state: RowState, centre: Floats) -> Floats:
    """Places ``(..., m, 3)`` that the crew aims at: beside the centre, in the direction that is free."""
    free = np.where(geometry.frees_h[:, None], geometry.axis_h, geometry.axis_v)
    result: Floats = centre + np.asarray(state.aim)[..., None] * free
    return result


def _azimuths(geometry: SurveyGeometry, frame: tuple[Floats, Floats], aimed: Floats) -> Floats:
    """Azimuths ``(..., m)`` at which the beams of bases stand over the places aimed at; 0 for lines."""
    origin, rotation = frame
    if not geometry.sweeps.any():
        return np.zeros(np.broadcast_shapes(aimed.shape[:-1], origin.shape[:-1]))
    local = np.einsum("...ji,...j->...i", rotation, aimed - origin)
    return np.where(geometry.sweeps, np.arctan2(local[..., 1], local[..., 0]), 0.0)


def _nose(geometry: SurveyGeometry, state: RowState) -> tuple[Floats, Floats]:
    """Centre and frame of every nose, moved and tilted as the state says.

    The crew centres a nose on the beam and sets its turning axis along it, as the beam stands at the first reading: so
    it follows the emitter, and the state counts from there.
    """
    noses = geometry.noses
    m = len(geometry.rows)
    first = replace(state, drift=ZERO, drift_side=ZERO, elevation=ZERO)
    leg = _launched(geometry, first, _launch_frame(geometry, first), ZERO)
    along = noses.frame[..., 0]
    met, direction, _ = _of_rows(leg, noses.rows).to_plane(noses.centre, along)
    frame = rotation_between(along, direction) @ noses.frame

    def of_noses(name: str) -> Floats:
        value = np.asarray(getattr(state, name))
        return value if value.ndim == 0 else np.broadcast_to(value, (*value.shape[:-1], m))[..., noses.rows]

    moved = np.stack(np.broadcast_arrays(*(of_noses(f"prism_{axis}") for axis in "xyz")), axis=-1)
    centre = met + np.einsum("...ij,...j->...i", frame, moved)
    tilt = np.stack(np.broadcast_arrays(0.0, of_noses("prism_ry"), of_noses("prism_rz")), axis=-1)
    return centre, frame @ rotation_from_vector(tilt) if tilt.any() else frame


def _of_rows(leg: Leg, rows: Indices) -> Leg:
    """The legs of some rows."""
    return Leg(leg.origin[..., rows, :], leg.direction[..., rows, :], leg.curvature[..., rows, :])


def _turns(geometry: SurveyGeometry, aimed: Floats, centre: Floats, frame: Floats) -> Floats:
    """Turns ``(..., k)`` of the noses at which their exits point at the places aimed at; as set where fixed."""
    noses = geometry.noses
    toward = np.einsum("...ji,...j->...i", frame, aimed[..., noses.rows, :] - centre)
    result: Floats = np.where(noses.sweeps, np.arctan2(-toward[..., 1], toward[..., 2]), noses.turned)
    return result


def _rows_of(value: Floats, rows: Indices, m: int) -> Floats:
    """The entries of ``rows`` of a field that broadcasts to ``(..., m)``."""
    array = np.asarray(value)
    return array if array.ndim == 0 else np.broadcast_to(array, (*array.shape[:-1], m))[..., rows]


def _through_noses(
    geometry: SurveyGeometry, state: RowState, leg: Leg, nose: tuple[Floats, Floats], turn: Floats
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Corners (..., k, 4, 3), exit points and directions (..., k, 3), way until the exit and margin (..., k)."""
    noses, m = geometry.noses, len(geometry.rows)
    centre, frame = nose
    turn = turn + _rows_of(state.prism_turn, noses.rows, m)
    c, s, o = np.cos(turn), np.sin(turn), np.zeros_like(turn)
    about_x = np.stack([np.stack([o + 1, o, o], -1), np.stack([o, c, -s], -1), np.stack([o, s, c], -1)], axis=-2)
    world_from_prism = frame @ about_x @ FROM_NOSE_COLUMNS
    entrance = centre - (0.5 * noses.aperture)[:, None] * world_from_prism[..., 0]
    met, direction, way = _of_rows(leg, noses.rows).to_plane(entrance, world_from_prism[..., 0])
    path = through_pentaprism(
        np.einsum("...ji,...j->...i", world_from_prism, met - centre),
        np.einsum("...ji,...j->...i", world_from_prism, direction),
        noses.aperture,
        noses.index,
        mirror=noses.mirror + _rows_of(state.mirror, noses.rows, m),
        pyramid=noses.pyramid + _rows_of(state.pyramid, noses.rows, m),
    )
    corners = centre[..., None, :] + np.einsum("...ij,...cj->...ci", world_from_prism, path.points)
    outward = np.einsum("...ij,...j->...i", world_from_prism, path.direction)
    return corners, corners[..., 3, :], outward, way + path.glass / noses.index, path.margin


def _start(geometry: SurveyGeometry, state: RowState, centre: Floats, azimuth: Floats | None) -> Train:
    frame = _launch_frame(geometry, state)
    if azimuth is None:
        azimuth = _azimuths(geometry, frame, _aim_points(geometry, state, centre))
    leg = _launched(geometry, state, frame, azimuth)
    shape = leg.direction.shape[:-1]
    return Train(leg, np.zeros(shape), leg.origin[..., None, :], np.full(shape, np.inf))


def _past_noses(
    geometry: SurveyGeometry, state: RowState, train: Train, turn: Floats, nose: tuple[Floats, Floats]
) -> Train:
    rows = geometry.noses.rows
    corners, origin, direction, way, margin = _through_noses(geometry, state, train.leg, nose, turn)
    shape = (*np.broadcast_shapes(train.before.shape[:-1], way.shape[:-1]), train.before.shape[-1])
    new_origin, new_direction = (
        np.array(np.broadcast_to(part, (*shape, 3))) for part in (train.leg.origin, train.leg.direction)
    )
    new_origin[..., rows, :], new_direction[..., rows, :] = origin, direction
    before, room = np.zeros(shape), np.full(shape, np.inf)
    before[..., rows], room[..., rows] = way, margin
    met = np.full((*shape, 4, 3), np.nan)
    met[..., rows, :, :] = corners
    start = np.broadcast_to(train.corners, (*shape, 1, 3))
    return Train(
        _in_air(geometry, state, new_origin, new_direction), before, np.concatenate([start, met], axis=-2), room
    )


def _past_plates(geometry: SurveyGeometry, state: RowState, train: Train) -> Train:
    """The plates stand as drawn, but for their own fields of the state: nothing of another row acts on a reading."""
    plates, centre = geometry.plates, geometry.detector_centres()
    corners = [train.corners]
    leg, before = train.leg, train.before
    for k in range(plates.most):
        row = plates.row[:, k]
        here = row >= 0
        other = np.where(here, row, np.arange(len(row)))
        normal, axis_h, axis_v = -geometry.facing[other], geometry.axis_h[other], geometry.axis_v[other]
        nod, swing, wedge_h, wedge_v = (
            np.asarray(value_of(state, f"{name}.{k}"))[..., None]
            for name in ("plate_nod", "plate_swing", "wedge_h", "wedge_v")
        )
        if np.any(nod) or np.any(swing):
            tilt = rotation_from_vector(nod * axis_h + swing * axis_v)
            normal = np.einsum("...ij,...j->...i", tilt, np.broadcast_to(normal, tilt.shape[:-1]))
        wedge = -(wedge_h * axis_h + wedge_v * axis_v)  # thicker to the right: the back face leans back there
        met, direction, way = leg.to_plane(centre[other], normal)
        thickness = plates.thickness[:, k]
        point, onward, glass = through_plate(met, direction, met, normal, thickness, plates.index[:, k], wedge)
        origin, onward = (
            np.where(here[:, None], new, old) for new, old in ((point, leg.origin), (onward, leg.direction))
        )
        before = before + np.where(here, way + glass / plates.index[:, k], 0.0)
        met = np.where(here[:, None], met, np.nan)
        corners.append(np.stack(np.broadcast_arrays(met, np.where(here[:, None], origin, np.nan)), axis=-2))
        leg = _in_air(geometry, state, origin, onward)
    shape = leg.direction.shape[:-1]
    spread = [np.broadcast_to(part, (*shape, *part.shape[-2:])) for part in corners]
    return Train(leg, before, np.concatenate(spread, axis=-2), train.margin)


def last_legs(
    geometry: SurveyGeometry,
    state: RowState,
    stands: Detectors,
    azimuth: Floats | None = None,
    turn: Floats | None = None,
) -> Train:
    """Light of every row up to the last leg.

    Parameters
    ----------
    azimuth : (..., m) float, optional
        Turns of the bases, rad; aimed at the detectors where nothing is said.
    turn : (..., k) float, optional
        Turns of the noses, rad; as set or aimed where nothing is said.
    """
    train = _start(geometry, state, stands.centre, azimuth)
    if len(geometry.noses.rows):
        nose = _nose(geometry, state)
        if turn is None:
            turn = _turns(geometry, _aim_points(geometry, state, stands.centre), *nose)
        train = _past_noses(geometry, state, train, turn, nose)
    if geometry.plates.most:
        train = _past_plates(geometry, state, train)
    return train


def turned_legs(geometry: SurveyGeometry, state: RowState, turn: Floats) -> Train:
    """Light of every row with its base, or the nose of its prism, turned to ``turn`` (..., m), aimed at nothing."""
    stands, turn = detectors(geometry, state), np.asarray(turn)
    return last_legs(geometry, state, stands, np.where(geometry.sweeps, turn, 0.0), turn[..., geometry.noses.rows])


def aimed_turns(geometry: SurveyGeometry, state: RowState) -> Floats:
    """Turns ``(..., m)`` of base or nose [rad] at which the beams meet the places aimed at; 0 where nothing turns."""
    aimed = _aim_points(geometry, state, detectors(geometry, state).centre)
    turn = _azimuths(geometry, _launch_frame(geometry, state), aimed)
    if len(geometry.noses.rows):
        of_nose = _turns(geometry, aimed, *_nose(geometry, state))
        shape = (*np.broadcast_shapes(turn.shape[:-1], of_nose.shape[:-1]), turn.shape[-1])
        turn = np.array(np.broadcast_to(turn, shape))
        turn[..., geometry.noses.rows] = of_nose
    return turn
