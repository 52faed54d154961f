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
from ..uncertainty.propagate import effects_of, reading_covariance
from ..uncertainty.sources import Source, source_fields
from ..vectors import Floats, Indices
from .cone import ConeTerms, cone_terms
from .ties import check_ties

__all__ = ["Adjustment", "adjust"]

CONVERGED = 1e-12
"""Steps below this [m, rad] end the iteration: a millionth of what a target resolves."""

MOST_ROUNDS = 50
SAME_WEIGHT = 1e-6
"""Size [m] of the errors where none is stated; it only sets what stated cones count against readings."""

UNSTATED_CONE = 1e-2
"""Standard uncertainty [rad] of a cone that its base does not state: larger than any that a base could be used with."""

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
    cone_shape : (n, B) float
        Height that a cone of 1 rad puts on the stations, beyond a plane, metres.
    gain, cone_gain : (n, m), (B, m) float
        Change of the deviations and of the cones with the readings.
    from_stated, cone_from_stated : (n, B), (B, B) float
        Their change with the stated cones, metres and rad per rad; where a cone rests on the shape there is none.
    residual, residual_gain : (m,), (m, m) float
        Reading less model, metres, all zero where nothing is read twice; and its change with the readings.
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
    cone_shape: Floats
    gain: Floats
    cone_gain: Floats
    from_stated: Floats
    cone_from_stated: Floats
    residual: Floats
    residual_gain: Floats
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


def _weights(sources: tuple[Source, ...], slopes: dict[str, Floats], stated: Floats) -> Floats:
    """Weights ``(m + B, m + B)`` of the readings and of the stated cones: inverse of their covariance, about one.

    Errors that readings share are part of it, so that a late re-reading under a drifting beam counts for less. Where
    some readings have no error of their own the covariance has no inverse, and all readings count alike.
    """
    m = len(slopes["deviation"])
    effects = effects_of(slopes, sources)
    alone = sum((effect.size**2 for effect in effects if effect.apart), np.zeros(m))
    covariance = np.zeros((m + len(stated), m + len(stated)))
    covariance[:m, :m] = reading_covariance(effects, m) if np.all(alone > 0.0) else np.eye(m) * SAME_WEIGHT**2
    covariance[range(m, m + len(stated)), range(m, m + len(stated))] = stated**2
    scale = float(np.mean(np.diag(covariance)[:m]))
    return np.asarray(np.linalg.inv(covariance / scale), dtype=np.float64)


def _solution(design: Floats, weights: Floats, conditions: Floats) -> Floats:
    """Change of all unknowns with the observations, ``(p, m)``: weighted least squares, deviations meet conditions."""
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


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """What is observed, what is unknown, and what is known beforehand."""

    geometry: SurveyGeometry
    v: Floats
    sideways: Floats
    unknowns: _Unknowns
    terms: ConeTerms
    sources: tuple[Source, ...]
    stated: Floats

    def slopes(self, state: RowState) -> dict[str, Floats]:
        """Slopes of the readings with all unknowns and sources."""
        fields = dict.fromkeys([*(part[0] for part in self.unknowns.parts), *source_fields(self.sources)])
        return sensitivities(self.geometry, tuple(fields), state)

    def solution(self, slopes: dict[str, Floats]) -> tuple[Floats, Floats]:
        """Design matrix and gain, both with the stated cones as observations after the readings."""
        design = _design(self.unknowns, slopes)
        known = np.zeros((len(self.stated), self.unknowns.count))
        if len(self.stated):
            known[:, -len(self.stated) :] = np.eye(len(self.stated))
        design = np.vstack([design, known])
        return design, _solution(design, _weights(self.sources, slopes, self.stated), self.terms.conditions)

    def at(self, values: Floats, aim: Floats) -> RowState:
        """State of the model for values of the unknowns."""
        parts = {field: values[first + group] for field, first, group in self.unknowns.parts}
        return replace(NOMINAL, aim=aim, **parts)

    def misfit(self, state: RowState, values: Floats) -> tuple[Floats, Floats]:
        """Observations less model: readings v and stated cones, and readings h."""
        seen = spots(self.geometry, state)
        cones = values[len(values) - len(self.stated) :] if len(self.stated) else np.zeros(0)
        return np.concatenate([self.v - seen.v, -cones]), np.nan_to_num(self.sideways - seen.h)


def _settled(problem: _Problem) -> tuple[Floats, Floats]:
    """Values of the unknowns and aims that explain the observations; the gain at the start serves all rounds."""
    values, aim = np.zeros(problem.unknowns.count), np.nan_to_num(problem.sideways)
    _, gain = problem.solution(problem.slopes(problem.at(values, aim)))
    for _ in range(MOST_ROUNDS):
        off, turn = problem.misfit(problem.at(values, aim), values)
        step = gain @ off
        values, aim = values + step, aim + turn
        if max(np.max(np.abs(step)), np.max(np.abs(turn))) < CONVERGED:
            return values, aim
    raise GeometryError("the adjustment does not settle; a reading far off its station is the usual cause")


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
    base_names = tuple(layout.setups[name].base for name in rows.setups)
    terms = cone_terms(geometry, places, base_names, cone)
    stated = np.zeros(0)
    if terms.bases:
        sources = tuple(source for source in sources if source.field != "cone")
        if not terms.from_shape:
            stated = np.array([layout.bases[base].cone_known_to for base in terms.bases])
            stated = np.where(stated > 0.0, stated, UNSTATED_CONE)
    sideways = np.full(len(rows), np.nan) if h is None else h
    problem = _Problem(geometry, v, sideways, _unknowns(rows, terms), terms, sources, stated)
    values, aim = _settled(problem)
    state = problem.at(values, aim)
    slopes = problem.slopes(state)
    design, gain = problem.solution(slopes)
    n, m, setups = len(rows.stations), len(rows), len(rows.setups)
    cones = n + 3 * setups
    return Adjustment(
        geometry=geometry,
        deviation=values[:n],
        tilt=values[n : n + 2 * setups].reshape(2, setups).T,
        lift=values[n + 2 * setups : cones],
        cone=values[cones:],
        cone_bases=terms.bases,
        cone_from_shape=terms.from_shape,
        cone_shape=terms.shape,
        gain=gain[:n, :m],
        cone_gain=gain[cones:, :m],
        from_stated=gain[:n, m:],
        cone_from_stated=gain[cones:, m:],
        residual=problem.misfit(state, values)[0][:m],
        residual_gain=np.eye(m) - design[:m] @ gain[:, :m],
        redundancy=m - problem.unknowns.count + terms.conditions.shape[1],
        state=state,
        slopes={field: slopes[field] for field in source_fields(sources)},
    )
