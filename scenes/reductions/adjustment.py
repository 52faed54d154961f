"""Adjustment: deviations of all stations and the planes of all set-ups, from all readings at once.

Unknown are one deviation per station and, per set-up, two tilts and a lift of its base (and one cone per base where it
is fitted). Readings cannot tell a tilted bed from tilted planes, so the deviations are given about their own
least-squares plane: a choice of datum that no form value depends on. Gauss-Newton on the traced model.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.survey import UnknownCone
from ..tracing.geometry import SurveyGeometry
from ..tracing.rows import Rows
from ..tracing.sensitivity import sensitivities
from ..tracing.spots import spots
from ..tracing.state import NOMINAL, RowState
from ..uncertainty.propagate import spread_of
from ..uncertainty.sources import Source, source_fields
from ..vectors import Floats, Indices
from .cone import ConeTerms, cone_terms
from .ties import check_ties

__all__ = ["Adjustment", "adjust"]

CONVERGED = 1e-12
"""Steps below this [m, rad] end the iteration: a millionth of what a target resolves."""

MOST_ROUNDS = 20
SETUP_FIELDS = ("tilt_x", "tilt_y", "lift")


@dataclass(frozen=True, slots=True, eq=False)
class Adjustment:
    """Result of an adjustment; n stations, m readings, S set-ups, B bases with a fitted cone.

    Attributes
    ----------
    deviation : (n,) float
        Surface above the least-squares plane of the deviations, along the surface normal, metres.
    tilt : (S, 2) float; lift : (S,) float
        Planes of the set-ups against their levelled nominal place, rad and metres.
    cone : (B,) float; cone_bases : tuple of str
        Fitted cones beyond the stated ones, rad.
    cone_from_shape : bool
        True where they rest on the assumption that the surface itself is not dished about the base.
    gain, cone_gain : (n, m), (B, m) float
        Change of the deviations and of the cones with the readings.
    residual : (m,) float
        Reading less model, metres: all zero where nothing is read twice.
    redundancy : int
        Readings beyond those that the unknowns need.
    state : RowState
        State of the model at the solution.
    slopes : {field: (m,)}
        Change of the readings with each source's field at the solution.
    """

    geometry: SurveyGeometry
    deviation: Floats
    tilt: Floats
    lift: Floats
    cone: Floats
    cone_bases: tuple[str, ...]
    cone_from_shape: bool
    gain: Floats
    cone_gain: Floats
    residual: Floats
    redundancy: int
    state: RowState
    slopes: dict[str, Floats]


@dataclass(frozen=True, slots=True, eq=False)
class _Unknowns:
    """Columns of the unknowns: (field, first column, group of each row)."""

    parts: tuple[tuple[str, int, Indices], ...]
    count: int


def _unknowns(rows: Rows, terms: ConeTerms) -> _Unknowns:
    groups: list[tuple[str, Indices, int]] = [("deviation", rows.station, len(rows.stations))]
    groups += [(field, rows.setup, len(rows.setups)) for field in SETUP_FIELDS]
    if terms.bases:
        groups.append(("cone", terms.base_of_row, len(terms.bases)))
    parts, count = [], 0
    for field, group, size in groups:
        parts.append((field, count, group))
        count += size
    return _Unknowns(tuple(parts), count)


def _design(unknowns: _Unknowns, slopes: dict[str, Floats]) -> Floats:
    m = len(slopes["deviation"])
    design = np.zeros((m, unknowns.count))
    for field, first, group in unknowns.parts:
        design[np.arange(m), first + group] += slopes[field]
    return design


def _weights(sources: tuple[Source, ...], slopes: dict[str, Floats]) -> Floats:
    """Weight matrix ``(m, m)`` of the readings: the inverse of their covariance, scaled to about one.

    Errors that readings share are part of it, so that a late re-reading under a drifting beam counts for less. Where no
    source differs from reading to reading the covariance has no inverse, and all readings count alike.
    """
    m = len(slopes["deviation"])
    covariance = spread_of(np.eye(m), slopes, sources).covariance() if sources else np.zeros((m, m))
    single = sum(
        ((slopes[source.field] * source.u) ** 2 for source in sources if source.shared == "reading"), np.zeros(m)
    )
    if not np.all(single > 0.0):
        return np.eye(m)
    scale = float(np.mean(np.diag(covariance)))
    return np.asarray(np.linalg.inv(covariance / scale), dtype=np.float64)


def _solution(design: Floats, weights: Floats, conditions: Floats) -> Floats:
    """Change of all unknowns with the readings, ``(p, m)``: weighted least squares, deviations square to conditions."""
    p, c, n = design.shape[1], conditions.shape[1], len(conditions)
    normal = np.zeros((p + c, p + c))
    weighted = design.T @ weights
    normal[:p, :p] = weighted @ design
    normal[:n, p:] = conditions
    normal[p:, :n] = conditions.T
    right = np.vstack([weighted, np.zeros((c, design.shape[0]))])
    try:
        result: Floats = np.linalg.solve(normal, right)[:p]
    except np.linalg.LinAlgError:
        raise GeometryError("the readings do not determine the deviations; read more stations") from None
    return result


def adjust(
    layout: Layout,
    geometry: SurveyGeometry,
    v: Floats,
    places: Floats,
    sources: tuple[Source, ...],
    cone: UnknownCone = UnknownCone.STATED,
    h: Floats | None = None,
) -> Adjustment:
    """Deviations of the stations of ``geometry`` that explain the readings ``v`` (m,) [m].

    Parameters
    ----------
    places : (n, 2) float
        Stations in the plane of the measured surface, metres.
    sources : tuple of Source
        Give the weights, and name the fields whose slopes are wanted afterwards.
    cone : UnknownCone
        Whether the cone of each base is solved for.
    h : (m,) float, optional
        Sideways readings, metres, nan where none was taken; the beam is then turned to where they say that it was.

    Raises
    ------
    GeometryError
        Too few stations, stations on one line, set-ups without common stations, or a cone that cannot be found.
    """
    rows = geometry.rows
    check_ties(rows, places)
    terms = cone_terms(geometry, places, tuple(layout.setups[name].base for name in rows.setups), cone)
    unknowns = _unknowns(rows, terms)
    fields = tuple(dict.fromkeys([*(part[0] for part in unknowns.parts), *source_fields(sources)]))
    values = np.zeros(unknowns.count)
    sideways = np.full(len(rows), np.nan) if h is None else h
    state = replace(NOMINAL, aim=np.nan_to_num(sideways))
    for _ in range(MOST_ROUNDS):
        slopes = sensitivities(geometry, fields, state)
        gain = _solution(_design(unknowns, slopes), _weights(sources, slopes), terms.conditions)
        seen = spots(geometry, state)
        step = gain @ (v - seen.v)
        values = values + step
        state = replace(state, **{field: values[first + group] for field, first, group in unknowns.parts})
        turn = np.nan_to_num(sideways - seen.h)
        state = replace(state, aim=state.aim + turn)
        if max(np.max(np.abs(step)), np.max(np.abs(turn))) < CONVERGED:
            break
    else:
        raise GeometryError("the adjustment does not settle; a reading far off its station is the usual cause")
    n, setups = len(rows.stations), len(rows.setups)
    return Adjustment(
        geometry=geometry,
        deviation=values[:n],
        tilt=values[n : n + 2 * setups].reshape(2, setups).T,
        lift=values[n + 2 * setups : n + 3 * setups],
        cone=values[n + 3 * setups :],
        cone_bases=terms.bases,
        cone_from_shape=terms.from_shape,
        gain=gain[:n],
        cone_gain=gain[n + 3 * setups :],
        residual=v - spots(geometry, state).v,
        redundancy=len(rows) - unknowns.count + terms.conditions.shape[1],
        state=state,
        slopes={field: slopes[field] for field in source_fields(sources)},
    )
