"""Trends of a task over dated visits: generalised least squares with the errors that the visits share.

Errors that persist move all visits alike, so that they count in a slope only where something was changed in between.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
from scipy.stats import chi2, t

from ..errors import GeometryError
from ..reductions.noise import NORMAL_95
from ..reductions.quantities.definition import Kind, Linear, Zone
from ..reductions.quantities.measured import Measured, bounds_of
from ..vectors import Floats
from .changed_values import functional_of
from .datum import datum_of, entries_of, profiles_of
from .joint_errors import Joint, Visited, joint_of
from .persistent import check_anew
from .trended import DAYS_OF_YEAR, Dated, Outlook, Reach, Trend

__all__ = ["fitted_trend", "since_adjusted", "trends"]

CENTURY = 100.0
SIGNIFICANCE = 0.05
"""Scatter that errors explain less often than this is more than errors."""


def since_adjusted(visits: Sequence[Dated]) -> tuple[Dated, ...]:
    """The visits since the machine was last moved on purpose, in the order of their dates."""
    ordered = sorted(visits, key=lambda each: each.date)
    last = max((number for number, each in enumerate(ordered) if each.adjusted), default=0)
    return tuple(ordered[last:])


def trends(visits: Sequence[Dated]) -> tuple[Trend, ...]:
    """Trends of the components of a task, then of its stations about the datum that all visits share.

    Parameters
    ----------
    visits : sequence of Dated
        Of one task; those before the last adjustment of the machine do not count.

    Raises
    ------
    GeometryError
        Fewer than two dates since then, or words of what is new that say nothing.
    """
    used = since_adjusted(visits)
    if len({each.date for each in used}) < 2:
        raise GeometryError("a trend needs two or more visits on different dates since the machine was last adjusted")
    check_anew([word for each in used for word in each.anew], [each.measured.evidence.layout for each in used])
    joint = joint_of([
        Visited(each.measured.evidence.layout, each.measured.evidence.network, each.anew) for each in used
    ])  # fmt: skip
    return (*_of_values(used, joint), *_of_stations(used, joint))


def _years(visits: Sequence[Dated]) -> Floats:
    return np.array([(each.date - visits[0].date).days for each in visits]) / DAYS_OF_YEAR


def _stacked(rows: Sequence[Floats]) -> list[Floats]:
    """Functionals of every visit ``(n k, p)`` such that the results stand visit by visit."""
    n, k = len(rows), len(rows[0])
    made = []
    for number, part in enumerate(rows):
        whole = np.zeros((n * k, part.shape[1]))
        whole[number * k : (number + 1) * k] = part
        made.append(whole)
    return made


def _of_values(visits: Sequence[Dated], joint: Joint) -> list[Trend]:
    """Trends of the components that every visit tells."""
    found = []
    for number, asked in enumerate(visits[-1].measured.definition.values):
        each = [
            next((pair for pair in _pairs(visit.measured) if pair[0].name == asked.name and pair[0].kind == asked.kind),
                 None)
            for visit in visits
        ]  # fmt: skip
        told = [pair for pair in each if pair is not None]
        if len(told) < len(visits):
            continue
        rows = [functional_of(visit.measured, pair[0]) for visit, pair in zip(visits, told, strict=True)]
        covariance = joint.spread(_stacked(rows)).covariance()
        component = visits[-1].measured.components[number]
        limits: list[tuple[float, bool]] = []
        if asked.limit is not None:
            upper, lower = bounds_of(asked.limit, isinstance(asked, Linear))
            limits = [(upper, True)] if lower is None else [(upper, True), (lower, False)]
        values = np.array([pair[1] for pair in told])
        found.append(_named(visits, asked.name, "", "", component.kind, values, covariance, limits))
    return found


def _pairs(measured: Measured) -> list[tuple[Linear | Zone, float]]:
    return [
        (asked, component.value)
        for asked, component in zip(measured.definition.values, measured.components, strict=True)
    ]


def _of_stations(visits: Sequence[Dated], joint: Joint) -> list[Trend]:
    """Trends of the deviations that every visit tells, about the datum that they share."""
    found = []
    for name, zone, profile in profiles_of(visits[-1].measured):
        others = [
            next((each for each in profiles_of(visit.measured)
                  if each[0] == name and each[2].kind == profile.kind and set(entries_of(each[2])) &
                  set(entries_of(profile))), None)
            for visit in visits
        ]  # fmt: skip
        told = [each for each in others if each is not None]
        if len(told) < len(visits):
            continue
        kept = [e for e in entries_of(told[0][2]) if all(e in set(entries_of(each[2])) for each in told)]
        if not kept:
            continue
        networks = [visit.measured.evidence.network for visit in visits]
        datum = datum_of(
            [each[2] for each in told], [told[0][1], zone], [network.values for network in networks], kept
        )  # fmt: skip
        if datum.rank <= 0:
            continue
        rows, values = [], []
        for each, network in zip(told, networks, strict=True):
            order = {entry: i for i, entry in enumerate(entries_of(each[2]))}
            index = [order[entry] for entry in kept]
            rows.append(datum.projector @ each[2].jacobian[index])
            values.append(datum.projector @ (each[2].offsets[index] + each[2].jacobian[index] @ network.values))
        n, k = len(visits), len(kept)
        covariance = joint.spread(_stacked(rows)).covariance().reshape(n, k, n, k)
        table = np.array(values)
        found += [
            _named(visits, name, station, component, profile.kind, table[:, i], covariance[:, i, :, i], [])
            for i, (station, component) in enumerate(kept)
        ]
    return found


def _named(
    visits: Sequence[Dated], of: str, station: str, component: str, kind: Kind, values: Floats, covariance: Floats,
    limits: Sequence[tuple[float, bool]],
) -> Trend:  # fmt: skip
    task = visits[-1].measured.evidence.task.name
    dates = tuple(each.date for each in visits)
    return fitted_trend(task, of, station, component, kind, dates, values, covariance, limits)


def fitted_trend(
    task: str, of: str, station: str, component: str, kind: Kind, dates: tuple[date, ...], values: Floats,
    covariance: Floats, limits: Sequence[tuple[float, bool]] = (),
) -> Trend:  # fmt: skip
    """The line through dated values ``(n,)`` with their covariance ``(n, n)``; ``limits`` are upper (True) or lower.

    Where the values scatter about it by more than their errors explain (chi-square beyond 95 %), the machine itself
    scatters: the covariance is widened by that ratio and the factor is that of Student t.
    Source: generalised least squares, and the ratio of Birge, Physical Review 40, 207 (1932), quoted from memory.
    """
    years = np.array([(each - dates[0]).days for each in dates]) / DAYS_OF_YEAR
    design = np.column_stack([np.ones(len(years)), years])
    size = float(np.sqrt(np.diag(covariance)).max())
    if size <= 0.0:
        raise GeometryError("values without any uncertainty tell no trend")
    weight = np.linalg.pinv(covariance / size**2, rcond=1e-12, hermitian=True)
    normal = np.linalg.inv(design.T @ weight @ design)
    start, slope = normal @ design.T @ weight @ values
    off = values - start - slope * years
    fitted, factor = size**2 * normal, NORMAL_95
    scatter = probability = None
    free = len(values) - 2
    if free > 0:
        chi_square = float(off @ weight @ off) / size**2
        scatter, probability = float(np.sqrt(chi_square / free)), float(chi2.sf(chi_square, free))
        if probability < SIGNIFICANCE:
            fitted, factor = fitted * chi_square / free, float(t.ppf(0.975, free))
    u = np.sqrt(np.diag(covariance))
    line = (float(start), float(slope))
    reach = tuple(_reach(*limit, line, fitted, factor, dates[0], float(years[-1])) for limit in limits)
    return Trend(
        task, of, station, component, kind, dates, values, u, *line, fitted, factor, scatter, probability,
        tuple(sorted(reach, key=lambda each: (each.when is None, each.when or dates[0]))),
    )  # fmt: skip


def _reach(
    limit: float, upper: bool, line: tuple[float, float], covariance: Floats, factor: float, first: date, now: float
) -> Reach:
    """When the line meets a limit; the interval holds the dates at which it may do so.

    Source: the interval of Fieller for a ratio, Journal of the Royal Statistical Society B 16, 175 (1954), quoted from
    memory.
    """
    start, slope = line
    here = start + slope * now
    if here > limit if upper else here < limit:
        return Reach(Outlook.REACHED, limit)
    if abs(slope) <= factor * np.sqrt(covariance[1, 1]):
        return Reach(Outlook.NO_TREND, limit)
    if (slope > 0.0) is not upper:
        return Reach(Outlook.AWAY, limit)
    when = (limit - start) / slope
    if when - now > CENTURY:
        return Reach(Outlook.FAR, limit)
    gap, k2 = start - limit, factor**2
    a = slope**2 - k2 * covariance[1, 1]
    b = gap * slope - k2 * covariance[0, 1]
    c = gap**2 - k2 * covariance[0, 0]
    root = np.sqrt(max(b * b - a * c, 0.0))
    early, late = (-b - root) / a, (-b + root) / a
    return Reach(
        Outlook.AHEAD, limit, _date(first, when), _date(first, max(early, 0.0)),
        _date(first, late) if late - now <= CENTURY else None,
    )  # fmt: skip


def _date(first: date, years: float) -> date:
    return first + timedelta(days=round(years * DAYS_OF_YEAR))
