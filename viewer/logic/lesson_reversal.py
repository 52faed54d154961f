"""Lesson of reversal: a line or a level read twice, the device turned by half a turn in between.

An emitter is turned in its V, a prism about its exit with the beam coming from the other end, a vial end for end.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scenes.model.layout import Layout, ShownUnits
from scenes.reductions.form import straightness
from scenes.reductions.reference import Reference
from scenes.tracing.geometry import SurveyGeometry, survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import Spots, spots
from scenes.tracing.state import NOMINAL, RowState
from scenes.vectors import Floats, Indices
from viewer.logic.lesson_scenes import PRISM, cross_scene, level_scene, line_scene

__all__ = ["REACH", "ReversalLesson", "ReversalResult", "Way", "open_reversal_lesson", "reversal_result"]

REACH, NEAR, STATIONS = 4.0, 0.5, 7
"""Rail of the emitter: its end and its first station, metres, and the stations of each scene."""


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """All that is read one way; ``along`` (n,) [m] are the stations that tell, ``tells`` (n,) their rows."""

    geometry: SurveyGeometry
    tells: Indices
    along: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ReversalLesson:
    """One device on its scene: as set up, and turned.

    A vial is not read on two sides: the crew levels to it and reads, turns it about, levels and reads again.
    """

    device: str
    layout: Layout
    ways: tuple[Way, Way]


@dataclass(frozen=True, slots=True, eq=False)
class ReversalResult:
    """What both ways show.

    Attributes
    ----------
    geometries : two SurveyGeometry
        With the emitter as far round as it was turned.
    states : two RowState
    seen : two Spots
    read : (2, n) float
        Heights over the beam as read, or for a prism what stands ahead along the base line, metres.
    true : (n,) float
        What the machine has there, metres.
    slopes : (2,) float
        Of ``read``, rad.
    """

    geometries: tuple[SurveyGeometry, SurveyGeometry]
    states: tuple[RowState, RowState]
    seen: tuple[Spots, Spots]
    read: Floats
    true: Floats
    slopes: Floats

    @property
    def mean(self) -> float:
        """Of both slopes, rad."""
        return float(self.slopes.mean())

    @property
    def half_difference(self) -> float:
        """Of both slopes, rad."""
        return float(0.5 * (self.slopes[0] - self.slopes[1]))


def open_reversal_lesson(units: ShownUnits, device: str) -> ReversalLesson:
    """The lesson of one device with its scene."""
    if device == "prism":
        layout = cross_scene(units, STATIONS)
    elif device == "vial":
        layout = level_scene(units, STATIONS)
    else:
        device, layout = "emitter", line_scene(units, REACH, NEAR, STATIONS, reverse=True)
    sides = (0, 0) if device == "vial" else (0, 1)
    return ReversalLesson(device, layout, (_way(layout, device, sides[0]), _way(layout, device, sides[1])))


def _way(layout: Layout, device: str, side: int) -> Way:
    rows = planned_rows(layout)
    geometry = survey_geometry(layout, rows.chosen(np.nonzero(rows.side == side)[0]))
    tells = np.nonzero(geometry.rows.stop >= 0 if device == "prism" else geometry.rows.stop < 0)[0]
    foot = geometry.foot[tells]
    return Way(geometry, tells, foot @ (np.array([0.0, 1.0, 0.0]) if device == "prism" else np.array([1.0, 0.0, 0.0])))


def reversal_result(
    lesson: ReversalLesson, truth: float, error: float, moved: float, short: float = 0.0
) -> ReversalResult:
    """Both ways; ``truth`` of the machine, ``error`` of the device, what has ``moved`` in between, all in rad.

    The turn in between falls ``short`` [rad] of half a turn, but for a prism, whose exit has to meet the same targets.
    """
    first, second = (way.geometry for way in lesson.ways)
    geometries = (first, replace(second, turn=second.turn - short) if lesson.device == "emitter" else second)
    states = tuple(_state(lesson, number, truth, error, moved, short) for number in range(2))
    seen = tuple(spots(geometry, state) for geometry, state in zip(geometries, states, strict=True))
    read = np.stack([_read(lesson, number, seen[number]) for number in range(2)])
    along = lesson.ways[0].along
    slopes = np.array([
        straightness(np.column_stack([along, each]), Reference.LEAST_SQUARES).coefficients[1] for each in read
    ])  # fmt: skip
    true = truth * (along - along.mean())
    return ReversalResult(geometries, (states[0], states[1]), (seen[0], seen[1]), read, true, slopes)


def _state(lesson: ReversalLesson, number: int, truth: float, error: float, moved: float, short: float) -> RowState:
    """State of one way: the device's own error is the same in both, and turns with it."""
    way = lesson.ways[number]
    machine = np.zeros(len(way.geometry.rows))
    machine[way.tells] = truth * (way.along - way.along.mean())
    shifted = moved if number else 0.0
    if lesson.device == "prism":
        return replace(
            NOMINAL, deviation_side=machine, mirror=np.array(0.5 * error / PRISM.index), tilt_z=np.array(-shifted)
        )
    if lesson.device == "vial":
        turn = np.pi - short if number else 0.0  # the bubble is centred: the plane leans by the zero, turned about z
        lean_x, lean_y = -error * np.sin(turn), error * np.cos(turn)
        return replace(NOMINAL, deviation=machine, tilt_x=np.array(lean_x), tilt_y=np.array(lean_y + shifted))
    return replace(NOMINAL, deviation=machine, cone=np.array(-error), tilt_y=np.array(shifted))


def _read(lesson: ReversalLesson, number: int, seen: Spots) -> Floats:
    tells = lesson.ways[number].tells
    return np.asarray(seen.h[tells] if lesson.device == "prism" else -seen.v[tells])
