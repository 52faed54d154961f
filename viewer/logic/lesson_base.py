"""Lesson of tilt and cone: a perfect surface read with a tilted base, and with a beam that is not square to its axis.

Everything comes from the measurement model: the sliders change its state, the readings follow, and the reduction of the
product shows which of the errors a plane takes out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scenes.errors import GeometryError
from scenes.model.layout import Layout
from scenes.model.survey import Method, Setup
from scenes.reductions.form import Reference, flatness
from scenes.reductions.network import observed, solve_network
from scenes.reductions.plane_design import thin_share
from scenes.tracing.geometry import SurveyGeometry, survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import spots
from scenes.tracing.state import NOMINAL, RowState
from scenes.vectors import Floats
from viewer.logic.lesson_scenes import base_scene

__all__ = ["MOST_READINGS", "BaseLesson", "BaseResult", "base_result", "lesson_of_layout", "open_base_lesson"]

MOST_READINGS = 400
"""A survey of more readings is too slow to be moved by a slider; the lesson then brings its own."""

LEAST_STATIONS = 4
"""Three stations always lie in one plane."""

THIN = 1e-6
"""Stations stand on one line where their spread across it is below this share of that along it."""


@dataclass(frozen=True, slots=True, eq=False)
class BaseLesson:
    """A flatness task with its planned readings from one set-up; ``own`` where the lesson brings its own scene."""

    layout: Layout
    task: str
    setup: Setup
    geometry: SurveyGeometry
    places: Floats
    own: bool


@dataclass(frozen=True, slots=True, eq=False)
class BaseResult:
    """What the sliders do; m readings, metres.

    Attributes
    ----------
    state : RowState
    readings : (m,) float
        As the detectors show them, less those of a perfect survey.
    deviations : (m,) float
        What a reduction with a plane leaves: the surface seems to be bent by this, though it is flat.
    readings_spread, deviations_spread : float
        Highest less lowest of each; that of the deviations is the minimum-zone flatness.
    common : float
        Mean of the readings.
    """

    state: RowState
    readings: Floats
    deviations: Floats
    readings_spread: float
    deviations_spread: float
    common: float


def open_base_lesson(layout: Layout, one_radius: bool = False) -> BaseLesson:
    """Lesson on the first task of ``layout`` that one swept plane alone can read, or on a scene of its own."""
    if not one_radius:
        try:
            return lesson_of_layout(layout)
        except GeometryError:  # the lesson is about planes, and the layout need not have one
            pass
    return replace(lesson_of_layout(base_scene(layout.units, one_radius)), own=True)


def lesson_of_layout(layout: Layout) -> BaseLesson:
    """Lesson on the first flatness task of ``layout`` that one swept plane alone can read.

    Raises
    ------
    GeometryError
        Where there is none; the message says why.
    """
    why = "the layout has no flatness task that the plane of a rotary base reads"
    for task in layout.tasks.values():
        for setup in layout.setups.values():
            fits = task.quantity == "flatness" and setup.method is Method.BASE_PLANE
            if not fits or not set(setup.reads) & set(task.stations):
                continue
            one = replace(layout, setups={setup.name: replace(setup, again=(), reversed=False)})
            try:
                rows = planned_rows(one, only=task.stations)
                places = np.array([layout.stations[name].at[:2] for name in rows.stations])
                if len(places) < LEAST_STATIONS or thin_share(places) < THIN:
                    raise GeometryError("the stations are too few for a lesson on planes, or stand on one line")
                if len(rows) != len(rows.stations) or len(rows) > MOST_READINGS:
                    raise GeometryError("the survey is too large for a lesson, or reads its stations several times")
                return BaseLesson(one, task.name, setup, survey_geometry(one, rows), places, own=False)
            except GeometryError as error:
                why = str(error)
    raise GeometryError(why)


def base_result(lesson: BaseLesson, tilt_x: float, tilt_y: float, cone: float) -> BaseResult:
    """Readings and fitted result for a base tilted about its x and y and a beam that rises by ``cone``, all in rad."""
    state = replace(NOMINAL, tilt_x=np.array(tilt_x), tilt_y=np.array(tilt_y), cone=np.array(cone))
    seen = spots(lesson.geometry, state).v
    rows = lesson.geometry.rows
    read = observed(lesson.geometry, {"v": seen}, np.zeros(len(rows)))
    network = solve_network(lesson.layout, lesson.geometry, read, ())
    numbers = [network.column("deviation", rows.stations[i]) for i in rows.station]
    points = np.column_stack([lesson.places, network.values[np.array(numbers, dtype=np.int64)]])
    form = flatness(points, Reference.MINIMUM_ZONE)
    change = seen - spots(lesson.geometry).v
    return BaseResult(state, change, form.deviations, float(np.ptp(change)), form.value, float(change.mean()))
