"""The survey as arrays: one row per reading, planned or taken, with everything that light needs to know about it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.survey import Setup
from ..vectors import Floats, dot, frozen, length, unit
from .levelling import base_axis
from .places import pose_of, station_places
from .rows import Rows

__all__ = ["SurveyGeometry", "survey_geometry"]

SIDEWAYS = 1.0e-3
"""A detector must stand at least this far from the axis of turning [m] to be turned toward it."""


@dataclass(frozen=True, slots=True, eq=False)
class SurveyGeometry:
    """Nominal geometry of every reading, in the world, metres; m rows.

    Attributes
    ----------
    rows : Rows
        Which station is read from which set-up, when, and in which seating.
    foot, normal : (m, 3) float
        Where the mount stands on the nominal surface, and the direction in which it and a deviation point.
    rise : (m,) float
        From that foot to the centre of the detector, along ``normal``.
    facing, axis_h, axis_v : (m, 3) float
        The detector: toward the beam, to the right as seen from the emitter, up along its mount.
    window : (m, 2) float
        Full width and height of the detector.
    largest_spot : (m,) float
    base_pose : (m, 3) float and (m, 3, 3) float
        Foot of the base (its pivot) and world_from_base rotation after levelling.
    beam_height : (m,) float
        Beam above the pivot, along the axis of turning.
    cone : (m,) float
        Stated elevation of the beam over the plane square to that axis, rad.
    waist_radius, wavelength : (m,) float
    gradient, temperature : float
        K/m and K.
    """

    rows: Rows
    foot: Floats
    normal: Floats
    rise: Floats
    facing: Floats
    axis_h: Floats
    axis_v: Floats
    window: Floats
    largest_spot: Floats
    base_origin: Floats
    base_rotation: Floats
    beam_height: Floats
    cone: Floats
    waist_radius: Floats
    wavelength: Floats
    gradient: float
    temperature: float

    def detector_centres(self) -> Floats:
        """Nominal centres ``(m, 3)`` of the detectors, world."""
        return self.foot + self.rise[:, None] * self.normal

    def beam_origins(self) -> Floats:
        """Nominal points ``(m, 3)`` on the axis of turning from which the beams leave, world."""
        return self.base_origin + self.beam_height[:, None] * self.base_rotation[:, :, 2]


def _stand(layout: Layout, setup: Setup) -> tuple[Floats, Floats]:
    """Pivot ``(3,)`` of the base on its mount, and the direction ``(3,)`` of that mount."""
    pose = pose_of(layout, setup.on)
    up = pose.rotation[:, 2]
    return pose.points(setup.at) + setup.mount.height * up, up


def survey_geometry(layout: Layout, rows: Rows) -> SurveyGeometry:
    """Arrays for the light of ``rows``, taken from ``layout``.

    Raises
    ------
    GeometryError
        Where a set-up cannot be levelled as asked, or a target stands right above the emitter.
    """
    foot, normal, rise = (part[rows.station] for part in station_places(layout, rows.stations))
    rise = rise + rows.mount_offset
    targets = [layout.targets[layout.stations[rows.stations[i]].target] for i in rows.station]
    setups = [layout.setups[name] for name in rows.setups]
    origins, rotations = [np.zeros((0, 3))], [np.zeros((0, 3, 3))]
    for setup in setups:
        pivot, up = _stand(layout, setup)
        origins.append(pivot[None])
        rotations.append(base_axis(layout, setup, up)[None])
    emitters = [layout.emitters[setup.emitter] for setup in setups]
    bases = [layout.bases[setup.base] for setup in setups]
    height = np.array([base.height + emitter.beam_height for base, emitter in zip(bases, emitters, strict=True)])
    base_origin, base_rotation = np.vstack(origins)[rows.setup], np.vstack(rotations)[rows.setup]
    beam_height = height[rows.setup]
    toward = base_origin + beam_height[:, None] * base_rotation[:, :, 2] - (foot + rise[:, None] * normal)
    across = toward - dot(toward, normal)[:, None] * normal
    near = length(across) < SIDEWAYS
    if near.any():
        row = int(np.argmax(near))
        raise GeometryError(
            f"set-up {rows.setups[rows.setup[row]]}: station {rows.stations[rows.station[row]]} stands right at the "
            "emitter, so its detector cannot face the beam",
            code="target-at-emitter",
        )
    facing = unit(across)
    return SurveyGeometry(
        rows=rows,
        foot=frozen(foot),
        normal=frozen(normal),
        rise=frozen(rise),
        facing=frozen(facing),
        axis_h=frozen(np.cross(-facing, normal)),
        axis_v=frozen(normal),
        window=frozen([[target.window_h, target.window_v] for target in targets]).reshape(-1, 2),
        largest_spot=frozen([target.largest_spot for target in targets]),
        base_origin=frozen(base_origin),
        base_rotation=frozen(base_rotation),
        beam_height=frozen(beam_height),
        cone=frozen(np.array([base.cone for base in bases])[rows.setup]),
        waist_radius=frozen(np.array([emitter.waist_radius for emitter in emitters])[rows.setup]),
        wavelength=frozen(np.array([emitter.wavelength for emitter in emitters])[rows.setup]),
        gradient=layout.air.gradient,
        temperature=layout.air.temperature,
    )
