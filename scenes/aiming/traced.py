"""Aiming the beam of a set-up: its near and far targets, what they should read and how they answer, as traced.

The traced model stands for the real stage: bent air, see-through targets on the way and targets that look askew act as
they do on readings. Only the screws are taken as ideal.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from ..model.layout import Layout
from ..tracing.geometry import SurveyGeometry, survey_geometry
from ..tracing.rows import Rows, planned_rows
from ..tracing.sensitivity import channel_slopes
from ..tracing.spots import spots
from ..tracing.state import NOMINAL, RowState
from ..uncertainty.sources import source_fields, sources_of
from ..vectors import Floats, frozen, rotation_from_vector
from .aim import aim_from_readings
from .following import Read
from .near_far import End, NearFar
from .setting import AS_FOUND, StageSetting, closing_setting

__all__ = ["TracedLine", "as_found", "covariance_of_readings", "state_of_stage", "traced_line", "traced_stage"]

FOUND = 1.0e-11
"""The stage is found when the traced readings are this near to those that were taken [m]."""

MOST_LOOKS = 50

OF_READINGS = (
    "noise_h", "noise_v", "zero_h", "zero_v", "roll", "turbulence", "turbulence_side", "gradient", "wedge_h",
    "wedge_v", "plate_nod", "plate_swing",
)  # fmt: skip
"""Fields of the errors of near and far readings. Mounts have no part in them: the datum line runs through the targets
where they stand."""


@dataclass(frozen=True, slots=True, eq=False)
class TracedLine:
    """Near and far target of a set-up in the traced model.

    Attributes
    ----------
    setup : str
    stations, targets : two str
        Near and far: names of the stations, and of the targets that are read there.
    geometry : SurveyGeometry
        Rows near and far, then those of targets that the light passes on the way to them.
    line : NearFar
    pivot : float
        Of the stage, ahead of where the beam leaves the emitter, metres.
    zeros, wanted : (2, 2) float
        Rows near, far; columns h, v: what the targets show of a centred spot, and of the nominal beam, metres.
    window : (2, 2) float
        Full width and height of the detectors, metres.
    """

    setup: str
    stations: tuple[str, str]
    targets: tuple[str, str]
    geometry: SurveyGeometry
    line: NearFar
    pivot: float
    zeros: Floats
    wanted: Floats
    window: Floats


def traced_line(layout: Layout, setup: str, near: str, far: str, pivot: float = 0.0) -> TracedLine:
    """The stations ``near`` and ``far``, both read on the line of a set-up, as its beam sees them.

    Raises
    ------
    GeometryError
        Both at one place, or a target that the nominal beam does not meet.
    """
    alone = replace(layout, setups={setup: layout.setups[setup]})
    rows = planned_rows(alone)
    every = survey_geometry(alone, rows)
    ends = np.array([_first(rows, name) for name in (near, far)], dtype=np.int64)
    passed = every.plates.row[ends].ravel()
    passed = passed[passed >= 0]
    geometry = every.chosen(np.concatenate([ends, passed[~np.isin(passed, ends)]]))
    rotation = geometry.launch_rotation[0]
    along = (geometry.detector_centres()[:2] - geometry.launch_origin[0]) @ rotation[:, 0] - pivot
    right, up = (geometry.axis_h[:2] @ axis for axis in (-rotation[:, 1], rotation[:, 2]))
    turned = np.arctan2(-up, right)
    line = NearFar(float(along[0]), float(along[1]), (float(turned[0]), float(turned[1])))
    names = [rows.targets[i] for i in rows.target[ends]]
    zeros = frozen([[layout.targets[name].zero_h, layout.targets[name].zero_v] for name in names])
    nominal = frozen(_readings(geometry, NOMINAL) + zeros)
    return TracedLine(
        setup, (near, far), (names[0], names[1]), geometry, line, pivot, zeros, nominal, frozen(geometry.window[:2])
    )


def _first(rows: Rows, station: str) -> int:
    """The first row of a station that is read on the line itself, not behind a prism."""
    here = (rows.station == rows.stations.index(station)) & (rows.stop < 0)
    if not here.any():
        raise GeometryError(f"station {station} is not read on the line itself; name a station in front of the prism")
    return int(np.argmax(here))


def _readings(geometry: SurveyGeometry, state: RowState) -> Floats:
    """Readings ``(2, 2)`` at near and far, zeros taken off."""
    seen = spots(geometry, state)
    readings = np.stack([seen.h, seen.v], axis=-1)[:2]
    if not np.isfinite(readings).all():
        lost = " and ".join(end.name.lower() for end in End if not np.isfinite(readings[end]).all())
        raise GeometryError(f"the beam does not meet the {lost} target; look at the findings of the plan")
    return readings


def state_of_stage(setting: StageSetting, pivot: float = 0.0) -> RowState:
    """State of a line whose stage has been moved from nominal by ``setting``, its pivot ``pivot`` [m] up the beam.

    Yaw to the right and pitch upward turn against the right hand about up and left. Turning about a pivot moves the
    start of the beam too; it is told by the place of the same beam beside its nominal start.
    """
    (h, v), (yaw, pitch) = setting.shift, setting.tilt
    tilt = np.array([0.0, -pitch, -yaw])
    beam = rotation_from_vector(tilt)[:, 0]
    start = pivot * (np.array([1.0, 0.0, 0.0]) - beam) + np.array([0.0, -h, v])
    beside = start - start[0] / beam[0] * beam
    return replace(NOMINAL, tilt_y=tilt[1], tilt_z=tilt[2], shift=beside[1], lift=beside[2])


def as_found(traced: TracedLine, readings: ArrayLike) -> StageSetting:
    """Move of the stage from nominal at which the targets show ``readings`` (2, 2) [m].

    Raises
    ------
    GeometryError
        Readings that no setting near nominal gives.
    """
    taken = np.asarray(readings, dtype=np.float64)
    setting = AS_FOUND
    for _ in range(MOST_LOOKS):
        seen = _readings(traced.geometry, state_of_stage(setting, traced.pivot)) + traced.zeros
        if np.abs(seen - taken).max() <= FOUND:
            return setting
        setting = setting + closing_setting(aim_from_readings(seen, traced.line, taken))
    raise GeometryError("no setting of the stage gives these readings; check their unit and the distances")


def traced_stage(traced: TracedLine, readings: ArrayLike) -> Read:
    """Reader that traces near and far readings while the stage, found at ``readings`` (2, 2) [m], is moved."""
    found = as_found(traced, readings)

    def read(shift: Floats, tilt: Floats) -> Floats:
        setting = found + StageSetting(shift, tilt)
        return _readings(traced.geometry, state_of_stage(setting, traced.pivot)) + traced.zeros

    return read


def covariance_of_readings(layout: Layout, traced: TracedLine, readings: ArrayLike) -> Floats:
    """Covariance ``(2, 2, 2)`` [m2] of near and far, to the right and then up, from the errors that readings have."""
    geometry = traced.geometry
    state = state_of_stage(as_found(traced, readings), traced.pivot)
    off = np.zeros(len(geometry.rows))
    off[:2] = np.linalg.norm(np.asarray(readings) - traced.zeros, axis=1)
    sources = [source for source in sources_of(layout, geometry, off) if source.field.partition(".")[0] in OF_READINGS]
    slopes = channel_slopes(geometry, source_fields(tuple(sources)), state)
    stage_from_targets = np.swapaxes(traced.line.targets_from_stage, 1, 2)
    covariance = np.zeros((2, 2, 2))
    for source in sources:
        sizes = np.stack([slopes[axis][source.field] for axis in "hv"], axis=-1)[:2] * source.u[:2, None]
        moved = np.einsum("eij,ej->ei", stage_from_targets, sizes)  # to the right and up at near and far
        shared = np.equal.outer(source.group[:2], source.group[:2])
        covariance += np.einsum("ea,fa->aef", moved, moved) * shared
    return frozen(covariance)
