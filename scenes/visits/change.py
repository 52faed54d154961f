"""Change of a task between two visits of the same machine, about the same datum, with its own uncertainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.stats import chi2

from ..errors import GeometryError
from ..reductions.quantities.definition import Profile
from ..reductions.quantities.measured import Measured
from ..vectors import Floats
from .changed import Change, ChangedDeviations, NothingMoved
from .changed_values import changed_values
from .datum import OF_TASK, CommonDatum, datum_of, entries_of, profiles_of
from .forecast import Forecast
from .joint_errors import Joint, Visited, joint_of
from .persistent import check_anew

__all__ = ["change", "nothing_moved"]

NEGLIGIBLE_SHARE = 1e-9
"""Directions whose variance is below this share of the largest one are those that the datum took out."""


def change(
    one: Measured | Forecast, two: Measured, anew: tuple[str, ...] = (), at_rest: tuple[str, ...] = ()
) -> Change:
    """What changed from one visit to the other.

    Parameters
    ----------
    one : Measured or Forecast
        The same task at an earlier visit, or what is expected of ``two``: changes then count from the forecast.
    two : Measured
    anew : tuple of str
        What was changed or certified anew in between, so that its errors are others: ``mount``, ``target``,
        ``emitter``, ``base``, ``vial``, ``prism``, or the name of a device.
    at_rest : tuple of str
        Stations that are known not to have moved; they carry the datum of changes of form.

    Raises
    ------
    GeometryError
        Where the visits have nothing in common that could be compared.
    """
    found = one.found if isinstance(one, Forecast) else one
    forecast = one if isinstance(one, Forecast) else None
    if found is None:
        assert forecast is not None
        return _from_forecast(forecast, two, at_rest)
    _check_same(found, two)
    layouts = (found.evidence.layout, two.evidence.layout)
    check_anew(anew, layouts)
    joint = joint_of([
        Visited(layouts[0], found.evidence.network), Visited(layouts[1], two.evidence.network, tuple(anew))
    ])  # fmt: skip
    values = () if forecast else changed_values(found, two, joint)
    deviations, remarks = _deviations(found, two, joint, forecast, at_rest)
    if not values and not deviations:
        raise two.evidence.refuse(f"it has nothing in common with {found.evidence.visit} that could be compared")
    name = forecast.visit if forecast else found.evidence.visit
    return Change(
        two.evidence.task.name, name, two.evidence.visit, found, two, values, deviations, joint.common, tuple(anew),
        forecast is not None, remarks,
    )  # fmt: skip


def _check_same(one: Measured, two: Measured) -> None:
    a, b = one.evidence.task, two.evidence.task
    if (a.quantity, a.of, a.to) != (b.quantity, b.of, b.to):
        raise GeometryError(f"{a.name} asks for {a.quantity} and {b.name} for {b.quantity}: these cannot be compared")


def _deviations(
    one: Measured, two: Measured, joint: Joint, forecast: Forecast | None, at_rest: tuple[str, ...]
) -> tuple[tuple[ChangedDeviations, ...], tuple[str, ...]]:
    """Changes of the deviations that both visits tell, and remarks on those that they do not."""
    earlier = profiles_of(one)
    found, remarks = [], []
    for name, zone, profile in profiles_of(two):
        other = next((each for each in earlier if each[0] == name and _alike(each[2], profile)), None)
        if other is None or (forecast and forecast.of != name):
            continue
        earlier.remove(other)
        kept = [entry for entry in entries_of(other[2]) if entry in set(entries_of(profile))]
        if forecast:
            told = set(zip(forecast.stations, forecast.components, strict=True))
            kept = [entry for entry in kept if entry in told]
        if not kept:
            continue
        dropped = _dropped((other[2], profile), kept)
        values = one.evidence.network.values, two.evidence.network.values
        datum = datum_of((other[2], profile), (other[1], zone), values, kept, at_rest)
        if datum.rank <= 0:
            remarks.append(f"{name or 'deviations'}: too few stations are read at both visits")
            continue
        if at_rest and datum.words.startswith(OF_TASK):
            remarks.append(f"{name or 'deviations'}: count from {OF_TASK}, so that stations at rest carry no datum")
        made = _changed(name, (one, two), (other[2], profile), kept, datum, joint, forecast)
        found.append(replace(made, dropped=dropped))
    return tuple(found), tuple(remarks)


def _alike(one: Profile, two: Profile) -> bool:
    return one.kind == two.kind and bool(set(entries_of(one)) & set(entries_of(two)))


def _dropped(profiles: tuple[Profile, ...], kept: list[tuple[str, str]]) -> tuple[str, ...]:
    read = {name for name, _ in kept}
    return tuple(dict.fromkeys(name for each in profiles for name in each.stations if name not in read))


def _changed(
    name: str, visits: tuple[Measured, Measured], profiles: tuple[Profile, Profile], kept: list[tuple[str, str]],
    datum: CommonDatum, joint: Joint, forecast: Forecast | None,
) -> ChangedDeviations:  # fmt: skip
    """Changes of the entries ``kept`` about their datum."""
    told, rows = [], []
    for measured, profile in zip(visits, profiles, strict=True):
        order = {entry: number for number, entry in enumerate(entries_of(profile))}
        index = np.array([order[entry] for entry in kept], dtype=np.int64)
        rows.append(datum.projector @ profile.jacobian[index])
        deviations = profile.offsets[index] + profile.jacobian[index] @ measured.evidence.network.values
        told.append(datum.projector @ deviations)
        if not measured.evidence.network.reaches(rows[-1]):
            raise measured.evidence.refuse("its readings do not tell how the stations stand that both visits read")
    spread = joint.spread([-rows[0], rows[1]])
    alone = [joint.spread([-rows[0], 0.0 * rows[1]]), joint.spread([0.0 * rows[0], rows[1]])]
    covariance, before = spread.covariance(), told[0]
    if forecast:
        before, more = _expected(forecast, kept, datum)
        covariance = covariance + more
        apart_more = np.diag(more)
    else:
        apart_more = np.zeros(len(kept))
    moved = told[1] - before
    profile = profiles[1]
    order = {entry: number for number, entry in enumerate(entries_of(profile))}
    index = np.array([order[entry] for entry in kept], dtype=np.int64)
    return ChangedDeviations(
        of=name,
        stations=tuple(station for station, _ in kept),
        components=tuple(component for _, component in kept),
        places=profile.places[index],
        directions=profile.directions[index],
        before=before,
        after=told[1],
        change=moved,
        u=np.sqrt(np.clip(np.diag(covariance), 0.0, None)),
        apart=np.sqrt(sum((each.standard_uncertainty() ** 2 for each in alone), apart_more)),
        coverage_factor=visits[1].evidence.task.coverage_factor,
        covariance=covariance,
        kind=profile.kind,
        datum=datum.words,
        test=nothing_moved(moved, covariance, datum.rank),
    )


def _expected(forecast: Forecast, kept: list[tuple[str, str]], datum: CommonDatum) -> tuple[Floats, Floats]:
    """Expected deviations ``(k,)`` about the datum, and the covariance of what was added to those found."""
    order = {entry: i for i, entry in enumerate(zip(forecast.stations, forecast.components, strict=True))}
    index = np.array([order[entry] for entry in kept], dtype=np.int64)
    p = datum.projector
    return p @ forecast.values[index], p @ forecast.covariance[np.ix_(index, index)] @ p.T


def nothing_moved(moved: Floats, covariance: Floats, rank: int) -> NothingMoved:
    """Test of all changes at once.

    Source: the global congruency test of deformation networks, known covariance (any text on deformation surveys); the
    quadratic form has a chi-square distribution with the rank of the covariance.
    """
    size, axes = np.linalg.eigh(0.5 * (covariance + covariance.T))
    used = np.argsort(size)[::-1][:rank]
    used = used[size[used] > NEGLIGIBLE_SHARE * max(float(size.max(initial=0.0)), 1e-300)]
    chi_square = float(np.sum((moved @ axes[:, used]) ** 2 / size[used]))
    return NothingMoved(chi_square, len(used), float(chi2.sf(chi_square, len(used))) if len(used) else 1.0)


def _from_forecast(forecast: Forecast, two: Measured, at_rest: tuple[str, ...]) -> Change:
    """Change from a forecast that stands by itself: nothing is shared with it."""
    joint = joint_of([Visited(two.evidence.layout, two.evidence.network)])
    wanted = set(zip(forecast.stations, forecast.components, strict=True))
    for name, zone, profile in profiles_of(two):
        kept = [entry for entry in entries_of(profile) if entry in wanted]
        if name != forecast.of or not kept:
            continue
        datum = datum_of((profile,), (zone,), (two.evidence.network.values,), kept, at_rest)
        if datum.rank <= 0:
            continue
        index = np.array([entries_of(profile).index(entry) for entry in kept], dtype=np.int64)
        spread = joint.spread([datum.projector @ profile.jacobian[index]])
        before, more = _expected(forecast, kept, datum)
        after = datum.projector @ (profile.offsets[index] + profile.jacobian[index] @ two.evidence.network.values)
        covariance = spread.covariance() + more
        u = np.sqrt(np.clip(np.diag(covariance), 0.0, None))
        made = ChangedDeviations(
            name, tuple(station for station, _ in kept), tuple(part for _, part in kept), profile.places[index],
            profile.directions[index], before, after, after - before, u, u, two.evidence.task.coverage_factor,
            covariance, profile.kind, datum.words, nothing_moved(after - before, covariance, datum.rank),
            _dropped((profile,), kept),
        )  # fmt: skip
        return Change(
            two.evidence.task.name, forecast.visit, two.evidence.visit, None, two, (), (made,), (), expected=True
        )
    raise two.evidence.refuse(f"the forecast {forecast.visit} tells none of its deviations")
