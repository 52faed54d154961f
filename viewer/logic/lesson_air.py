"""Lesson of the bent beam: a temperature gradient bends the line, and zeroing on near and far hides most of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scenes.model.layout import Layout, ShownUnits
from scenes.tracing.beam import point_on_path
from scenes.tracing.geometry import SurveyGeometry, survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import Spots, beams, spots
from scenes.tracing.state import NOMINAL, RowState
from scenes.vectors import Floats
from viewer.logic.lesson_scenes import line_scene

__all__ = ["AirLesson", "AirResult", "air_result", "open_air_lesson"]

CURVE_POINTS = 61
ROUNDS = 3
"""Rounds of buck-in: readings are straight in tilt and lift to a millionth, so that two would do."""


@dataclass(frozen=True, slots=True, eq=False)
class AirLesson:
    """A long straight rail read along one beam; ``reach`` [m] from emitter to far target."""

    layout: Layout
    geometry: SurveyGeometry
    reach: float

    @property
    def distances(self) -> Floats:
        """Distances ``(m,)`` of the stations from the emitter, metres; the first is near, the last is far."""
        return self.geometry.detector_centres()[:, 0] - self.geometry.beam_origins()[:, 0]


@dataclass(frozen=True, slots=True, eq=False)
class AirResult:
    """What gradient and zeroing do.

    Attributes
    ----------
    state : RowState
    seen : Spots
    curve : (2, p) float
        Distance from the emitter, and height of the beam over the straight line that it should be, metres.
    at_end, half_way : float
        Height of the beam at the far target, and half-way between near and far, metres.
    bend : float
        Height of the beam half-way over the straight line through its places at near and far, metres.
    """

    state: RowState
    seen: Spots
    curve: Floats
    at_end: float
    half_way: float
    bend: float


def open_air_lesson(units: ShownUnits, reach: float) -> AirLesson:
    """The lesson with its scene; ``reach`` in metres."""
    layout = line_scene(units, reach)
    return AirLesson(layout, survey_geometry(layout, planned_rows(layout)), reach)


def _zeroed(lesson: AirLesson, state: RowState) -> RowState:
    """``state`` with tilt and lift of the emitter set so that near and far read nought, as a crew bucks in."""
    ends = np.array([0, len(lesson.geometry.rows) - 1])
    for _ in range(ROUNDS):
        trial = {
            "tilt_y": state.tilt_y + np.array([[0.0], [1e-5], [0.0]]),
            "lift": state.lift + np.array([[0.0], [0.0], [1e-4]]),
        }
        v = spots(lesson.geometry, replace(state, **trial)).v[:, ends]
        slopes = np.column_stack([(v[1] - v[0]) / 1e-5, (v[2] - v[0]) / 1e-4])
        tilt, lift = np.linalg.solve(slopes, -v[0])
        state = replace(state, tilt_y=state.tilt_y + tilt, lift=state.lift + lift)
    return state


def air_result(lesson: AirLesson, gradient: float, zeroed: bool) -> AirResult:
    """The beam in a temperature gradient [K/m], level at the emitter or bucked in on near and far."""
    state = replace(NOMINAL, gradient=np.array(gradient))
    if zeroed:
        state = _zeroed(lesson, state)
    seen = spots(lesson.geometry, state)
    light, distances = beams(lesson.geometry, state), lesson.distances
    ways = np.linspace(0.0, distances[-1], CURVE_POINTS)
    middle = 0.5 * (distances[0] + distances[-1])
    along = point_on_path(light.origin[:1], light.direction[:1], light.curvature[:1], np.append(ways, middle))
    height = along[:, 2] - lesson.geometry.beam_origins()[0, 2]
    at_end, half_way = float(seen.v[-1]), float(height[-1])
    bend = half_way - 0.5 * (float(seen.v[0]) + at_end)
    return AirResult(state, seen, np.stack([ways, height[:-1]]), at_end, half_way, bend)
