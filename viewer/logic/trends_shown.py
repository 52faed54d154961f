"""The course of a value or a station over all visits: points with U, and the line of its trend; plain data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import numpy as np

from scenes.errors import GeometryError
from scenes.reductions.quantities.measured import Component
from scenes.reductions.quantities.shown import Scale, scale_of
from scenes.vectors import Floats
from scenes.visits.trend import trends
from scenes.visits.trended import DAYS_OF_YEAR, Dated, Trend
from viewer.logic.session import Session
from viewer.logic.trends_shown_chart import Course, Line, course_chart
from viewer.logic.trends_shown_words import trend_words
from viewer.logic.visits_shown_dates import VisitDate, dates_of

__all__ = ["Courses", "course_of"]

Document = dict[str, Any]

NO_DATES = "No trend: name readings by their date, as 2026-03-14 as found.csv, to see one."
NO_COMMON_DATUM = (
    "No common datum: each visit counts from its own reference, so that these points do not tell what moved. "
    "Changes do: there both visits count from one datum."
)


@dataclass(slots=True, eq=False)
class Courses:
    """Trends of a session; what was worked out once is kept."""

    session: Session
    _dates: dict[str, VisitDate] | None = None
    _found: dict[str, tuple[Trend, ...] | str] = field(default_factory=dict)

    @property
    def dates(self) -> dict[str, VisitDate]:
        """Dates of the visits that have one."""
        if self._dates is None:
            self._dates = dates_of(self.session)
        return self._dates

    def trends(self, task: str) -> tuple[Trend, ...] | str:
        """Trends of a task over its dated visits, or why there are none."""
        if task not in self._found:
            self._found[task] = self._work_out(task)
        return self._found[task]

    def is_ready(self, task: str) -> bool:
        """Whether ``trends`` answers at once."""
        return task in self._found

    def _work_out(self, task: str) -> tuple[Trend, ...] | str:
        visits = [visit for visit in self.session.visits(task) if visit in self.dates]
        if len(visits) < 2:
            return NO_DATES
        dated = []
        for visit in visits:
            known = self.dates[visit]
            dated.append(Dated(known.date, self.session.own(task, visit), known.anew, known.adjusted))
        try:
            return trends(dated)
        except GeometryError as error:
            message = str(error)
            return f"No trend: {message}."


def course_of(courses: Courses, task: str, station: str, number: int) -> Document | None:
    """The course of a station over the visits, or of the value of that ``number`` where no station is chosen."""
    session = courses.session
    visits = session.visits(task)
    if not visits:
        return None
    own = session.own(task, visits[-1])
    if station and any(station in each.stations for each in own.deviations):
        return _of_station(courses, task, station)
    if not own.components:
        return None
    component = own.components[number if 0 <= number < len(own.components) else 0]
    return _of_value(courses, task, component)


def _scale(session: Session, component: Component) -> Scale:
    return scale_of(component.kind, component.limit, session.layout.units)


def _of_value(courses: Courses, task: str, component: Component) -> Document:
    """Value of a component on all visits, with its limits."""
    session = courses.session
    told = []
    for visit in session.visits(task):
        mine = next((part for part in session.own(task, visit).components if part.name == component.name), None)
        if mine is not None:
            told.append((visit, mine.value, mine.expanded_uncertainty))
    trend = _trend(courses, task, component.name, "", "")
    limits = () if component.verdict is None else (component.verdict.limit,)
    if component.lower is not None:
        limits = (*limits, component.lower)
    name = component.name or session.layout.tasks[task].quantity
    scale = _scale(session, component)
    course = Course(name, scale, told, _days(courses, [each[0] for each in told]), _line(trend), limits)
    return _document(courses, task, course, trend, bool(component.plus))


def _of_station(courses: Courses, task: str, station: str) -> Document:
    """A station on all visits: about the datum that dated visits share, else as each visit tells it by itself."""
    session = courses.session
    own = session.own(task, session.visits(task)[-1])
    part = next(each for each in own.deviations if station in each.stations)
    way = part.components[part.stations.index(station)]
    trend = _trend(courses, task, part.of, station, way)
    scale = scale_of(part.kind, None, session.layout.units)
    name = f"{station}, {way}" if way else station
    if trend is not None:
        names = [visit for visit in session.visits(task) if visit in courses.dates]
        names = sorted(names, key=lambda visit: courses.dates[visit].date)[-len(trend.values) :]
        k = session.layout.tasks[task].coverage_factor
        told = [(visit, float(value), k * float(u))
                for visit, value, u in zip(names, trend.values, trend.u, strict=True)]  # fmt: skip
        return _document(courses, task, Course(name, scale, told, list(trend.dates), _line(trend), ()), trend, True)
    told = []
    for visit in session.visits(task):
        measured = session.own(task, visit)
        for each in measured.deviations:
            entries = list(zip(each.stations, each.components, strict=True))
            if each.of == part.of and (station, way) in entries:
                i = entries.index((station, way))
                k = measured.evidence.task.coverage_factor
                told.append((visit, float(each.values[i]), k * float(each.u[i])))
                break
    course = Course(name, scale, told, _days(courses, [each[0] for each in told]), None, ())
    document = _document(courses, task, course, None, True)
    return document | {"apart": NO_COMMON_DATUM} if len(told) > 1 else document


def _trend(courses: Courses, task: str, of: str, station: str, way: str) -> Trend | None:
    found = courses.trends(task)
    if isinstance(found, str):
        return None
    return next(
        (each for each in found if (each.of, each.station) == (of, station) and way in ("", each.component)), None
    )


def _days(courses: Courses, visits: Sequence[str]) -> list[date] | None:
    """Dates of all these visits, or None where one has none."""
    known = [courses.dates[visit].date for visit in visits if visit in courses.dates]
    return known if len(known) == len(visits) and len(set(known)) > 1 else None


def _line(trend: Trend | None) -> Line | None:
    """The line of a trend with the half-width of its 95 % band, from its first to its last date."""
    if trend is None:
        return None
    span = (trend.dates[-1] - trend.dates[0]).days
    days = np.linspace(0.0, span, 25)
    years: Floats = days / DAYS_OF_YEAR
    rows = np.column_stack([np.ones(len(years)), years])
    half = trend.coverage_factor * np.sqrt(np.einsum("ni,ij,nj->n", rows, trend.covariance, rows))
    dates = [trend.dates[0] + timedelta(days=float(day)) for day in days]
    return Line([each.toordinal() for each in dates], trend.start + trend.slope * years, half)


def _document(courses: Courses, task: str, course: Course, trend: Trend | None, sign: bool) -> Document:
    found = courses.trends(task)
    reason = found if isinstance(found, str) else "No trend of it is told."
    words = trend_words(course.scale, trend) if trend is not None else {"word": "", "lines": [reason], "proven": False}
    earlier = len(courses.session.visits(task)) - len(trend.dates) if trend is not None else 0
    note = "Bars: U of each visit."
    if course.line is not None:
        note += " Line: the trend, with its 95 % band."
    if earlier > 0:
        note += f" {earlier} earlier visit{'s' * (earlier != 1)} before the machine was moved do not count in it."
    return {**course_chart(course, sign), "trend": words, "note": note, "apart": ""}
