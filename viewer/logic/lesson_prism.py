"""Lesson of the prism: real glass, turned about each axis, with its own errors, square to the beam or sweeping a plane.

Everything comes from the measurement model: the sliders change its state, and lines and planes follow.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scenes.model.layout import Layout, ShownUnits
from scenes.tracing.beam import distance_to_plane, point_on_path
from scenes.tracing.geometry import SurveyGeometry, survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import Spots, spots
from scenes.tracing.state import NOMINAL, RowState
from scenes.tracing.train import detectors, last_legs
from scenes.vectors import Floats, dot, unit
from viewer.logic.lesson_scenes import FLANGE_RADII, flange_scene

__all__ = ["PrismLesson", "PrismResult", "open_prism_lesson", "prism_result", "prism_state", "swept_beams"]

EDGE, ROLL, EXIT = "prism_ry", "prism_turn", "prism_rz"
"""Turn about the edge of the prism, about the beam that enters, and about the line that leaves, at the nominal turn."""

SWEEP_STEPS = 72
SCAN_STEPS = 40
SCAN_END = 10.0 / 60.0 * np.pi / 180.0
"""The curve over the turn about the exit line goes this far either way, rad: ten minutes of arc."""


@dataclass(frozen=True, slots=True, eq=False)
class PrismLesson:
    """The scene, once with the prism fixed and once with it swept."""

    line_layout: Layout
    line: SurveyGeometry
    plane_layout: Layout
    plane: SurveyGeometry

    @property
    def turns(self) -> Floats:
        """Turns ``(a,)`` of the nose [rad] at which the swept plane is shown; the last is the first again."""
        return np.linspace(0.0, 2.0 * np.pi, SWEEP_STEPS + 1)


@dataclass(frozen=True, slots=True, eq=False)
class PrismResult:
    """What the sliders do.

    Attributes
    ----------
    state : RowState
    line, plane : Spots
        Traces of the readings of both scenes.
    right_angle : float
        Angle between the beams that enter and leave, less a right one, rad: + = the exit leans back to the emitter.
    out_of_plane : float
        Angle of the exit out of its nominal plane, rad: + = to the right as seen from the emitter.
    along, aside : float
        What both make of the spot on the outer target: against the beam and to the right, metres.
    heights : (2, a) float
        Of the swept beam over the nominal plane at the turns of the lesson, toward the emitter, at the radii of both
        rings, metres.
    scan : (2, b) float
        Turn about the exit line, and the error of the right angle there with everything else as set, rad.
    """

    state: RowState
    line: Spots
    plane: Spots
    right_angle: float
    out_of_plane: float
    along: float
    aside: float
    heights: Floats
    scan: Floats


def open_prism_lesson(units: ShownUnits) -> PrismLesson:
    """The lesson with its scene."""
    line, plane = flange_scene(units, sweeps=False), flange_scene(units, sweeps=True)
    return PrismLesson(
        line, survey_geometry(line, planned_rows(line)), plane, survey_geometry(plane, planned_rows(plane))
    )


def prism_state(
    edge: float = 0.0, roll: float = 0.0, exit_: float = 0.0, mirror: float = 0.0, pyramid: float = 0.0,
    up: float = 0.0, right: float = 0.0,
) -> RowState:  # fmt: skip
    """State of the model for turns and errors [rad]; the beam enters ``up`` and to the ``right`` of the middle [m]."""
    fields = {
        EDGE: edge, ROLL: roll, EXIT: exit_, "mirror": mirror, "pyramid": pyramid, "prism_z": -up, "prism_y": right,
    }  # fmt: skip
    return replace(NOMINAL, **{name: np.array(value) for name, value in fields.items()})


def _angles(seen: Spots) -> tuple[Floats, Floats]:
    """Error of the right angle and angle out of plane ``(...)`` of the first reading, rad."""
    corners = seen.train.corners[..., 0, :2, :]
    entering = unit(corners[..., 1, :] - corners[..., 0, :])
    leaving = seen.train.leg.direction[..., 0, :]
    right = np.array([0.0, -1.0, 0.0])
    return np.arcsin(-dot(entering, leaving)), np.arcsin(leaving @ right)


def swept_beams(lesson: PrismLesson, state: RowState, radii: Floats) -> Floats:
    """Points ``(a, r, 3)`` at which the swept beam passes the ``radii`` [m] about the nominal line, world."""
    turns = lesson.turns
    turned = lesson.plane.chosen(np.zeros(len(turns), dtype=np.int64))
    light = last_legs(turned, state, detectors(turned, state), azimuth=np.zeros(len(turns)), turn=turns).leg
    centre, frame = turned.noses.centre[0], turned.noses.frame[0]
    out = np.cos(turns)[:, None] * frame[:, 2] - np.sin(turns)[:, None] * frame[:, 1]
    rims = centre + radii[None, :, None] * out[:, None, :]
    start, direction, curvature = (part[:, None, :] for part in (light.origin, light.direction, light.curvature))
    way = distance_to_plane(start, direction, curvature, rims, np.broadcast_to(out[:, None, :], rims.shape))
    return point_on_path(start, direction, curvature, way)


def prism_result(lesson: PrismLesson, state: RowState) -> PrismResult:
    """Lines, angles and planes of a prism in ``state``."""
    line = spots(lesson.line, state)
    right_angle, out_of_plane = _angles(line)
    centre, toward = lesson.plane.noses.centre[0], -lesson.plane.noses.frame[0][:, 0]
    heights = (swept_beams(lesson, state, np.array(FLANGE_RADII)) - centre) @ toward
    scan = np.linspace(-SCAN_END, SCAN_END, SCAN_STEPS + 1)
    scanned, _ = _angles(spots(lesson.line, replace(state, **{EXIT: scan[:, None]})))
    return PrismResult(
        state=state, line=line, plane=spots(lesson.plane, state), right_angle=float(right_angle),
        out_of_plane=float(out_of_plane), along=float(line.v[-1]), aside=float(line.h[-1]),
        heights=heights.T, scan=np.stack([scan, scanned]),
    )  # fmt: skip
