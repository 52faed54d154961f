"""Estimates: the heights of a surface at its stations on one visit, with all that is needed to judge them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError, Problem, ReadingsError
from ..model.finding import Finding, Severity
from ..model.layout import Layout
from ..model.readings import Readings
from ..model.survey import Task
from ..tracing.geometry import survey_geometry
from ..tracing.rows import Rows, planned_rows, rows_of_readings
from ..tracing.spots import spots
from ..uncertainty.propagate import Spread, spread_of
from ..uncertainty.sources import Source, sources_of
from ..vectors import Floats
from .adjustment import Adjustment, adjust

__all__ = ["Estimate", "estimate_heights", "planned_estimate", "visits_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Estimate:
    """Heights of a surface on one visit; n stations.

    Attributes
    ----------
    task : Task
    visit : str
    stations : tuple of str
    points : (n, 3) float
        Measured points in the frame of the surface, metres: the heights stand about their own least-squares plane.
    spread : Spread
        Errors of the heights by source.
    reading_h, reading_v : (n,) float
        Mean reading of each station, metres.
    count : (n,) int
        Readings taken there.
    adjustment : Adjustment
    reading_spread : Spread
        Errors of the single readings by source.
    cone_u : (B,) float
        Standard uncertainties of the fitted cones, rad; where a cone rests on the shape of the surface, the scatter of
        the heights stands in for what is not known of that shape.
    findings : tuple of Finding
    """

    task: Task
    visit: str
    stations: tuple[str, ...]
    points: Floats
    spread: Spread
    reading_h: Floats
    reading_v: Floats
    count: Floats
    adjustment: Adjustment
    reading_spread: Spread
    cone_u: Floats
    findings: tuple[Finding, ...]


def visits_of(readings: Readings) -> tuple[str, ...]:
    """Names of the visits in ``readings``, in order of their first record."""
    return tuple(dict.fromkeys(readings.visit))


def estimate_heights(layout: Layout, task: Task, readings: Readings, visit: str) -> Estimate:
    """Heights of the stations of ``task`` from the records of one visit.

    Raises
    ------
    ReadingsError
        Where the visit has no record for the task.
    GeometryError
        Where the records do not determine the heights; the message names the task and the visit.
    """
    wanted = set(task.stations)
    chosen = np.array(
        [
            i
            for i, (name, when) in enumerate(zip(readings.station, readings.visit, strict=True))
            if when == visit and name in wanted and np.isfinite(readings.v[i])
        ],
        dtype=np.int64,
    )
    if len(chosen) == 0:
        file = readings.file[0] if len(readings) else "readings"
        raise ReadingsError(
            [Problem(file, 0, 0, f"visit {visit!r} has no reading v for the stations of task {task.name!r}")]
        )
    rows = rows_of_readings(layout, readings, chosen)
    return _estimate(layout, task, visit, rows, readings.v[chosen], readings.h[chosen])


def planned_estimate(layout: Layout, task: Task) -> Estimate:
    """What the plan would find on a perfect surface: heights zero, with the spread that the plan leads to.

    Raises
    ------
    GeometryError
        Where the planned readings do not determine the heights.
    """
    rows = planned_rows(layout, only=task.stations)
    if len(rows) == 0:
        raise GeometryError(f"task {task.name}: no set-up reads any of its stations")
    aim = np.array([layout.setups[rows.setups[i]].centred_within for i in rows.setup])
    geometry = survey_geometry(layout, rows)
    nominal = spots(geometry)
    return _estimate(layout, task, "plan", rows, nominal.v, aim)


def _estimate(layout: Layout, task: Task, visit: str, rows: Rows, v: Floats, h: Floats) -> Estimate:
    geometry = survey_geometry(layout, rows)
    sources = sources_of(layout, geometry)
    at = np.array([layout.stations[name].at for name in rows.stations])
    try:
        adjustment = adjust(layout, geometry, v, at[:, :2], sources, task.cone, h=h)
    except GeometryError as error:
        raise GeometryError(f"task {task.name}, {visit}: {error}") from None
    spread = spread_of(adjustment.gain, adjustment.slopes, sources)
    count = np.bincount(rows.station, minlength=len(rows.stations))
    single = spread_of(np.eye(len(rows)), adjustment.slopes, sources)
    return Estimate(
        task=task,
        visit=visit,
        stations=rows.stations,
        points=at + adjustment.deviation[:, None] * np.array([0.0, 0.0, 1.0]),
        spread=spread,
        reading_h=np.bincount(rows.station, h, len(rows.stations)) / count,
        reading_v=np.bincount(rows.station, v, len(rows.stations)) / count,
        count=count.astype(np.float64),
        adjustment=adjustment,
        reading_spread=single,
        cone_u=_cone_uncertainty(adjustment, sources),
        findings=(*_missing(task, rows), *_closures(rows, v, single), *_cone_notes(layout, adjustment)),
    )


def _cone_uncertainty(adjustment: Adjustment, sources: tuple[Source, ...]) -> Floats:
    others = tuple(source for source in sources if source.field != "cone")
    if len(adjustment.cone) == 0:
        return np.zeros(0)
    variance = spread_of(adjustment.cone_gain, adjustment.slopes, others).standard_uncertainty() ** 2
    if adjustment.cone_from_shape:
        variance += np.var(adjustment.deviation) * np.sum(adjustment.cone_gain**2, axis=1)
    return np.sqrt(variance)


def _missing(task: Task, rows: Rows) -> list[Finding]:
    read = set(rows.stations)
    absent = [name for name in task.stations if name not in read]
    if not absent:
        return []
    listed = ", ".join(absent[:8]) + (f" and {len(absent) - 8} more" if len(absent) > 8 else "")
    return [
        Finding(
            Severity.WARNING, "station-not-read", "task", task.name,
            f"{len(absent)} of {len(task.stations)} stations were not read: {listed}",
            "the verdict speaks only of the stations that were read; read the others",
            line=task.line,
        )
    ]  # fmt: skip


UNLIKELY = 3.0
"""A difference of more than this many standard uncertainties is named (about 1 in 370 by chance)."""


def _closures(rows: Rows, v: Floats, single: Spread) -> list[Finding]:
    """Readings of one station from one set-up that differ more than their errors explain."""
    key = rows.setup * len(rows.stations) + rows.station
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    start = first[group]
    again = np.nonzero(start != np.arange(len(rows)))[0]
    matrix = single.matrix()
    difference = v[again] - v[start[again]]
    expected = np.linalg.norm(matrix[again] - matrix[start[again]], axis=1)
    found = []
    for number in np.nonzero(np.abs(difference) > UNLIKELY * expected)[0]:
        row = again[number]
        name, setup = rows.stations[rows.station[row]], rows.setups[rows.setup[row]]
        found.append(
            Finding(
                Severity.WARNING, "readings-differ", "station", name,
                f"two readings of {name} differ by {1e6 * difference[number]:+.1f} um; their errors explain "
                f"{1e6 * expected[number]:.1f} um (standard)",
                "something moved or one reading is wrong: read this station and its neighbours again",
                setup=setup,
            )
        )  # fmt: skip
    return found


def _cone_notes(layout: Layout, adjustment: Adjustment) -> list[Finding]:
    if not adjustment.cone_from_shape:
        return []
    base = adjustment.cone_bases[0]
    return [
        Finding(
            Severity.NOTE, "cone-from-shape", "device", base,
            "the fitted cone rests on the assumption that the surface itself is not dished about the base; "
            "a real dish of that shape has been taken out with it",
            "read some stations from a second place, at other radii, to tell a dish from a cone",
            line=layout.bases[base].line,
        )
    ]  # fmt: skip
