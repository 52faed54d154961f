"""First lesson: a perfect surface read with a tilted base, and with a beam that is not square to its axis.

Everything comes from the measurement model: the sliders change its state, the readings follow, and the reduction of the
product shows which of the two errors a plane takes out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scenes.errors import GeometryError
from scenes.model.layout import Layout
from scenes.model.survey import Setup
from scenes.reductions.adjustment import adjust
from scenes.reductions.form import Reference, flatness
from scenes.reductions.ties import check_ties
from scenes.tracing.geometry import SurveyGeometry, survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import spots
from scenes.tracing.state import NOMINAL, RowState
from scenes.vectors import Floats

__all__ = ["Lesson", "LessonResult", "lesson_result", "open_lesson"]


@dataclass(frozen=True, slots=True, eq=False)
class Lesson:
    """The first task of a layout, with its planned readings from one set-up."""

    layout: Layout
    task: str
    setup: Setup
    geometry: SurveyGeometry
    places: Floats


@dataclass(frozen=True, slots=True, eq=False)
class LessonResult:
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
    """

    state: RowState
    readings: Floats
    deviations: Floats
    readings_spread: float
    deviations_spread: float


def open_lesson(layout: Layout) -> Lesson:
    """Lesson on the first task of ``layout`` that one set-up alone can read.

    Raises
    ------
    GeometryError
        Where there is none; the message says why.
    """
    why = "the layout has no task that a set-up reads, so there is nothing to show here"
    for task in layout.tasks.values():
        for setup in layout.setups.values():
            if not set(setup.reads) & set(task.stations):
                continue
            one = replace(layout, setups={setup.name: replace(setup, again=())})
            rows = planned_rows(one, only=task.stations)
            places = np.array([layout.stations[name].at[:2] for name in rows.stations])
            try:
                check_ties(rows, places)
                return Lesson(one, task.name, setup, survey_geometry(one, rows), places)
            except GeometryError as error:
                why = str(error)
    raise GeometryError(why)


def lesson_result(lesson: Lesson, tilt_x: float, tilt_y: float, cone: float) -> LessonResult:
    """Readings and fitted result for a base tilted about its x and y and a beam that rises by ``cone``, all in rad."""
    state = replace(NOMINAL, tilt_x=np.array(tilt_x), tilt_y=np.array(tilt_y), cone=np.array(cone))
    seen = spots(lesson.geometry, state).v
    found = adjust(lesson.layout, lesson.geometry, seen, lesson.places, ())
    points = np.column_stack([lesson.places, found.deviation])
    form = flatness(points, Reference.MINIMUM_ZONE)
    change = seen - spots(lesson.geometry).v
    return LessonResult(state, change, form.deviations, float(np.ptp(change)), form.value)
