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
from ..units import show
from ..vectors import Floats
from .adjustment import Adjustment, adjust
from .consistency import Consistency, consistency_of
from .not_read import stations_not_read

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
    consistency : Consistency
        How well readings that should agree do.
    cone_u : (B,) float
        Standard uncertainties of the fitted cones, rad; one that rests on the shape is known no better than its size.
    missing : tuple of str
        Stations of the task without a reading.
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
    consistency: Consistency
    cone_u: Floats
    missing: tuple[str, ...]
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
    asked = set(task.stations)
    wanted = np.array([name in asked for name in readings.station], dtype=bool) & np.isfinite(readings.v)
    rows, numbers = rows_of_readings(layout, readings, visit, wanted)
    if len(rows) == 0:
        file = readings.file[0] if len(readings) else "readings"
        raise ReadingsError(
            [Problem(file, 0, 0, f"visit {visit!r} has no reading v for the stations of task {task.name!r}")]
        )
    records = tuple(f"{readings.file[i]}, row {readings.row[i]}" for i in numbers)
    return _estimate(layout, task, visit, rows, readings.v[numbers], readings.h[numbers], records)


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
    nominal = spots(survey_geometry(layout, rows))
    unread = np.full(len(rows), np.nan)
    return _estimate(layout, task, "plan", rows, nominal.v, unread, ("planned",) * len(rows), planned=True)


def _estimate(
    layout: Layout,
    task: Task,
    visit: str,
    rows: Rows,
    v: Floats,
    h: Floats,
    records: tuple[str, ...],
    planned: bool = False,
) -> Estimate:
    geometry = survey_geometry(layout, rows)
    within = np.array([layout.setups[rows.setups[i]].centred_within for i in rows.setup])
    sideways = np.where(np.isnan(h), within, h)  # where nobody noted it, the spot stood as near the middle as agreed
    sources = sources_of(layout, geometry, None if planned else _of_seating(rows, np.hypot(v, sideways)))
    at = np.array([layout.stations[name].at for name in rows.stations])
    try:
        adjustment = adjust(layout, geometry, v, at[:, :2], sources, task.cone, h=sideways)
    except GeometryError as error:
        raise GeometryError(f"task {task.name}, {visit}: {error}") from None
    if adjustment.cone_bases:
        sources = tuple(source for source in sources if source.field != "cone")
    spread = spread_of(adjustment.gain, adjustment.slopes, sources, _cone_errors(layout, adjustment))
    consistency = consistency_of(adjustment, spread.effects, rows)
    count = np.bincount(rows.station, minlength=len(rows.stations))
    return Estimate(
        task=task,
        visit=visit,
        stations=rows.stations,
        points=np.column_stack([at[:, :2], adjustment.deviation]),
        spread=spread,
        reading_h=np.bincount(rows.station, h, len(rows.stations)) / count,
        reading_v=np.bincount(rows.station, v, len(rows.stations)) / count,
        count=count.astype(np.float64),
        adjustment=adjustment,
        consistency=consistency,
        cone_u=_cone_uncertainty(layout, adjustment, sources),
        missing=tuple(name for name in task.stations if name not in set(rows.stations)),
        findings=(
            *stations_not_read(task, (name for name in task.stations if name not in rows.stations)),
            *_outliers(layout, rows, consistency, records),
            *_cone_notes(layout, adjustment),
        ),
    )


def _of_seating(rows: Rows, values: Floats) -> Floats:
    """Means of the rows of each seating, for each of its rows."""
    total = np.bincount(rows.seat, values)
    result: Floats = (total / np.bincount(rows.seat))[rows.seat]
    return result


CONE = "beam not square to the base axis"
DISH = "dish of the surface taken for a cone"


def _stated_cones(layout: Layout, adjustment: Adjustment) -> Floats:
    return np.array([layout.bases[base].cone_known_to for base in adjustment.cone_bases])


def _cone_errors(layout: Layout, adjustment: Adjustment) -> dict[str, Floats]:
    """Errors of the heights that come with fitted cones.

    Where readings determine them, the stated cones are observations with errors of their own. A cone that rests on the
    shape of the surface may be no cone at all: a dish of that size may really be there.
    """
    if not adjustment.cone_bases:
        return {}
    if adjustment.cone_from_shape:
        return {DISH: adjustment.cone_shape * np.abs(adjustment.cone)}
    return {CONE: adjustment.from_stated * _stated_cones(layout, adjustment)}


def _cone_uncertainty(layout: Layout, adjustment: Adjustment, sources: tuple[Source, ...]) -> Floats:
    if len(adjustment.cone) == 0:
        return np.zeros(0)
    others = {"cone": np.diag(np.abs(adjustment.cone))}
    if not adjustment.cone_from_shape:
        others = {"cone": adjustment.cone_from_stated * _stated_cones(layout, adjustment)}
    return spread_of(adjustment.cone_gain, adjustment.slopes, sources, others).standard_uncertainty()


def _outliers(layout: Layout, rows: Rows, consistency: Consistency, records: tuple[str, ...]) -> list[Finding]:
    """Readings that do not agree with the others, named and kept."""
    unit = layout.units.deviation
    found = []
    for outlier in consistency.outliers:
        name, setup = rows.stations[rows.station[outlier.row]], rows.setups[rows.setup[outlier.row]]
        found.append(
            Finding(
                Severity.WARNING, "readings-differ", "station", name,
                f"the reading of {name} from {setup} ({records[outlier.row]}) does not agree with the others: if they "
                f"are right, it is off by {show(outlier.error, unit, sign=True)}, {outlier.normalised:.1f} times its "
                "standard uncertainty",
                "it was used all the same: read this station and its neighbours again",
                setup=setup,
            )
        )  # fmt: skip
    return found


FAR_FROM_STATED = 3.0
"""A fitted cone farther from the stated one than so many of its standard uncertainties gets a warning."""


def _cone_notes(layout: Layout, adjustment: Adjustment) -> list[Finding]:
    if not adjustment.cone_from_shape:
        return []
    found = []
    for base, cone in zip(adjustment.cone_bases, adjustment.cone, strict=True):
        known = layout.bases[base].cone_known_to
        far = abs(cone) > FAR_FROM_STATED * known > 0.0
        angle = layout.units.angle
        stated = f"; the base is stated to {show(known, angle, 'angle')} (standard), so that a real dish is likely"
        found.append(
            Finding(
                Severity.WARNING if far else Severity.NOTE, "cone-from-shape", "device", base,
                f"the fitted cone of {show(float(cone), angle, 'angle', sign=True)} rests on the assumption that the "
                "surface itself is not dished about the base; a real dish of that shape has been taken out with it"
                + (stated if far else ""),
                "read some stations from a second place, at other radii, to tell a dish from a cone",
                line=layout.bases[base].line,
            )
        )  # fmt: skip
    return found
