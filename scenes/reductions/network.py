"""Network: deviations of all stations and the frames of all set-ups, from all channels of all readings at once.

Unknown are the deviations of each station (up, aside, and its slopes where angles are read) and, per set-up, what the
crew sets but nobody measures: the frame of a base, of a line, of each stop of a prism, of an emitter in a spindle.
Every other error is a named source; some of them can be solved for (``nuisances``). Readings leave some of the
unknowns open, such as the tilt of a bed against the plane that it is read by; set-ups take that up as far as they can
(the datum), and ``open_directions`` tells which sums of unknowns no reading reaches, so that a quantity that depends on
them is refused.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from ..errors import GeometryError
from ..model.layout import Layout
from ..tracing.geometry import CHANNELS, SurveyGeometry
from ..tracing.sensitivity import channel_slopes
from ..tracing.spots import Spots, spots
from ..tracing.state import NOMINAL, RowState
from ..uncertainty.propagate import NEGLIGIBLE, Effect, Spread
from ..uncertainty.sources import Source, source_fields
from ..vectors import Floats, Indices
from .columns import Columns, Design, columns_of, design_parts
from .cone_from_shape import Assumed, assumed_cones
from .elimination import Elimination, eliminated
from .nuisances import NUISANCES, Prior, nuisances_of, without_fitted
from .reach import LOST, RANK, Reach, reach_of
from .station_blocks import blocks_of
from .unknowns import Observations, Unknown, observed, only_seen, slopes_of, unknowns_of
from .weights import PLACED, acting_sources, effects_on, weighed

__all__ = ["LOST", "PLACED", "RANK", "Fitted", "Network", "Observations", "Unknown", "observed", "solve_network",
           "unknowns_of"]  # fmt: skip

CONVERGED = 1e-12
"""Steps that move no reading by this [m, rad] end the iteration: a millionth of what a target resolves."""

MOST_ROUNDS = 50
LEFT_OPEN = "what readings leave open"
OPEN_SIZE = 1e-3
"""Standard size [m] of what no reading tells, by its effect on readings: how far crews set emitters off."""

REACHED = 1e-3
"""A quantity is reached where no larger share of it lies in open directions. What is left, such as the glass of
see-through targets under a beam of unknown slope, is an error of its own."""

SMALL_ROW = 1e-3
"""Of several functionals, those below this share of the largest count as that large."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A nuisance that was solved for.

    Attributes
    ----------
    word : str
        As a task names it, such as ``cone``.
    field : str
        Of the state, which says its unit.
    key : tuple of str
        Of which base, stop, target or set-up.
    value, u : float
        Beyond what the layout states, and its standard uncertainty, SI units of the field.
    stated_u : float
        What was known of it beforehand; 0: nothing.
    from_shape : bool
        True where it rests on the assumption that the surface itself is not dished.
    """

    word: str
    field: str
    key: tuple[str, ...]
    value: float
    u: float
    stated_u: float
    from_shape: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """Result; p unknowns, o observations, d directions that stay open.

    Attributes
    ----------
    geometry : SurveyGeometry
    observations : Observations
    unknowns : tuple of Unknown
    values : (p,) float
        In the order of the unknowns and of their keys, metres and rad.
    open_directions : (p, d) float
        Orthonormal in units of ``scale``: sums of unknowns that no reading reaches.
    scale : (p,) float
        Unit of each unknown in those directions.
    residual : (o,) float
        Observation less model, metres or rad.
    redundancy : int
        Observations beyond those that the unknowns need.
    state : RowState
        State of the model at the solution.
    sources : tuple of Source
        All that act on the observations.
    effects : tuple of Effect
        What they do to the observations.
    columns, parts : Columns, Design
        Where the unknowns stand, and the change of the observations with them at the solution.
    solved, control : Elimination
        The weighted system, and the same by the stated covariance alone: how the readings control each other.
    priors : tuple of Prior
        What was known beforehand of nuisances that are solved for, in the order of the system's known values.
    nuisances : tuple of Prior
        All nuisances that are solved for.
    assumed : Assumed
        Cones that rest on the shape of the surface.
    """

    geometry: SurveyGeometry
    observations: Observations
    unknowns: tuple[Unknown, ...]
    values: Floats
    open_directions: Floats
    scale: Floats
    residual: Floats
    redundancy: int
    state: RowState
    sources: tuple[Source, ...]
    effects: tuple[Effect, ...]
    columns: Columns
    parts: Design
    solved: Elimination
    control: Elimination
    priors: tuple[Prior, ...]
    nuisances: tuple[Prior, ...]
    assumed: Assumed
    _made: dict[str, object] = field(default_factory=dict)

    def column(self, field: str, *key: str) -> int | None:
        """Number of the unknown ``field`` of a key, or None where the network has no such unknown."""
        if "columns" not in self._made:
            named = self.named()
            self._made["columns"] = {each: number for number, each in reversed(list(enumerate(named)))}
        found = self._made["columns"]
        assert isinstance(found, dict)
        return found.get((field, key))

    @property
    def design(self) -> Floats:
        """Change ``(o, p)`` of the observations with the unknowns, at the solution, written out."""
        if "design" not in self._made:
            o = len(self.residual)
            station = np.zeros((o, *self.columns.of_station.shape))
            station[np.arange(o), self.station_of_observation] = self.parts.station
            self._made["design"] = self.columns.of_parts(station, self.parts.frame)
        found = self._made["design"]
        assert isinstance(found, np.ndarray)
        return found

    @property
    def station_of_observation(self) -> Indices:
        """Station ``(o,)`` of each observation."""
        found: Indices = self.geometry.rows.station[self.observations.row]
        return found

    @property
    def spread(self) -> Spread:
        """Errors of all values by source."""
        if "spread" not in self._made:
            self._made["spread"] = self._spread_of(np.eye(len(self.values)))
        found = self._made["spread"]
        assert isinstance(found, Spread)
        return found

    @property
    def residual_gain(self) -> Floats:
        """Change ``(o, o)`` of the residuals with the observations."""
        result: Floats = np.eye(len(self.residual)) - self.design @ self.spread.gain
        return result

    def reaches(self, functional: Floats) -> bool:
        """Whether the readings determine ``functional @ values``; ``functional`` is (p,), or (k, p) for all of k."""
        scaled = np.atleast_2d(functional * self.scale)
        size = np.linalg.norm(scaled, axis=1)
        left = np.linalg.norm(scaled @ self.open_directions, axis=1)
        return bool(np.all(left <= REACHED * np.maximum(size, SMALL_ROW * size.max(initial=0.0))))

    def spread_of(self, functional: Floats) -> Spread:
        """Spread of ``functional @ values`` (k, p), reached but for a small share, which counts as an error too."""
        spread = self._spread_of(functional)
        left = OPEN_SIZE * ((functional * self.scale) @ self.open_directions)
        if not np.any(np.abs(left) > NEGLIGIBLE):
            return spread
        return replace(spread, others={**spread.others, LEFT_OPEN: left})

    def _spread_of(self, functional: Floats) -> Spread:
        gain, known = self.solved.gain(functional)
        others = dict(self.assumed.errors_of(functional))
        for number, prior in enumerate(self.priors):
            before = others.get(prior.source, np.zeros((len(functional), 0)))
            others[prior.source] = np.concatenate([before, known[:, number : number + 1]], axis=1)
        return Spread(gain, self.effects, others)

    def left_open(self, functional: Floats) -> Floats:
        """The part ``(p,)`` of a functional that no reading reaches, in units of ``scale``."""
        result: Floats = self.open_directions @ ((functional * self.scale) @ self.open_directions)
        return result

    def named(self) -> list[tuple[str, tuple[str, ...]]]:
        """Field and key of every unknown, in their order."""
        return [(unknown.field, key) for unknown in self.unknowns for key in unknown.keys]

    def fitted(self) -> tuple[Fitted, ...]:
        """The nuisances that were solved for."""
        found = []
        for prior in self.nuisances:
            number = self.column(prior.field, *prior.key)
            if number is None:
                continue
            one = np.zeros((1, len(self.values)))
            one[0, number] = 1.0
            u = float(self._spread_of(one).standard_uncertainty()[0])
            shape = prior in self.assumed.priors
            found.append(Fitted(prior.word, prior.field, prior.key, float(self.values[number]), u, prior.u, shape))
        return tuple(found)


def _state(unknowns: tuple[Unknown, ...], values: Floats, aim: Floats) -> RowState:
    parts: dict[str, Floats] = {}
    first = 0
    for unknown in unknowns:
        mine = np.append(values[first : first + len(unknown.keys)], 0.0)[unknown.group]
        parts[unknown.field] = parts.get(unknown.field, np.zeros(len(mine))) + mine
        first += len(unknown.keys)
    return replace(NOMINAL, aim=aim, **parts)


def _misfit(geometry: SurveyGeometry, seen: Spots, of: Observations) -> tuple[Floats, Floats]:
    """Observations less model, and how far the spots stand from where they stood in the free direction."""
    m = len(geometry.rows)
    model = np.stack([np.broadcast_to(getattr(seen, channel), (m,)) for channel in CHANNELS])[of.channel, of.row]
    free = np.where(geometry.frees_h, seen.h, seen.v)
    swept = ~(geometry.reads["h"] & geometry.reads["v"])
    return of.value - model, np.where(swept, np.nan_to_num(of.free - free), 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Posed:
    """What is asked of the readings: unknowns with what is known of them, sources, and what the readings reach."""

    unknowns: tuple[Unknown, ...]
    priors: tuple[Prior, ...]
    sources: tuple[Source, ...]
    columns: Columns
    reach: Reach


def _posed(
    layout: Layout, geometry: SurveyGeometry, of: Observations, sources: tuple[Source, ...],
    asked: tuple[Unknown, ...], words: tuple[str, ...],
) -> _Posed:  # fmt: skip
    """The problem at the nominal layout; nuisances that readings do not tell stay sources, or are refused."""
    extra, priors = nuisances_of(layout, geometry, sources, words)
    named = tuple(dict.fromkeys(each.field for each in (*asked, *extra)))
    nominal = channel_slopes(geometry, named)
    wanted = only_seen(asked, nominal, of)
    extra = tuple(each for each in extra if _is_felt(each, nominal, of))
    priors = tuple(each for each in priors if each.field in {unknown.field for unknown in extra})
    acting = acting_sources(layout, geometry, sources, asked, wanted) if sources else sources
    station = geometry.rows.station
    while True:
        unknowns = (*wanted, *extra)
        columns = columns_of(unknowns, station)
        reach = reach_of(design_parts(unknowns, columns, nominal, of), columns, station[of.row])
        dropped = _untold(unknowns, priors, reach)
        if not dropped:
            return _Posed(unknowns, priors, without_fitted(acting, extra, priors), columns, reach)
        extra = tuple(each for each in extra if each.field not in dropped)
        priors = tuple(each for each in priors if each.field not in dropped)


TOLD = 1e-6
"""A nuisance is told where no larger share of it lies in open directions."""


def _is_felt(unknown: Unknown, slopes: dict[str, dict[str, Floats]], of: Observations) -> bool:
    """Whether any reading moves with an unknown."""
    mine = unknown.group[of.row] >= 0
    return bool(np.any(np.abs(slopes_of(slopes, unknown.field, of)[mine]) > 0.0))


def _told(unknowns: tuple[Unknown, ...], prior: Prior, reach: Reach) -> bool:
    """Whether the readings tell a nuisance."""
    number = [(unknown.field, key) for unknown in unknowns for key in unknown.keys].index((prior.field, prior.key))
    return float(np.sum(reach.open_directions[number] ** 2)) <= TOLD


def _untold(unknowns: tuple[Unknown, ...], priors: tuple[Prior, ...], reach: Reach) -> set[str]:
    """Fields of nuisances that stay as stated since readings do not tell them; a cone may rest on the shape."""
    found = set()
    for prior in priors:
        if prior.word == "cone" or _told(unknowns, prior, reach):
            continue
        if prior.u == 0.0:
            nuisance = NUISANCES[prior.word]
            raise GeometryError(
                f"the {nuisance.about} ({', '.join(prior.key)}) cannot be found from these readings: {nuisance.more}"
            )
        found.add(prior.field)
    return found


def _frame_number(unknowns: tuple[Unknown, ...], columns: Columns, prior: Prior) -> int:
    """Place of a nuisance among the frame unknowns."""
    named = [(unknown.field, key) for unknown in unknowns for key in unknown.keys]
    return int(np.nonzero(columns.of_frame == named.index((prior.field, prior.key)))[0][0])


def solve_network(
    layout: Layout,
    geometry: SurveyGeometry,
    observations: Observations,
    sources: tuple[Source, ...],
    unknowns: Callable[[Layout, SurveyGeometry], tuple[Unknown, ...]] = unknowns_of,
    fitted: tuple[str, ...] = (),
) -> Network:
    """Unknowns that explain the observations.

    Parameters
    ----------
    fitted : tuple of str
        Nuisances that are solved for too, by their words in ``NUISANCES``.

    Raises
    ------
    GeometryError
        A beam that misses its target at nominal, readings that no state near the layout explains, or a nuisance that
        they cannot tell.
    """
    if not np.isfinite(observations.value).all():
        raise ValueError("observations must be finite")
    posed = _posed(layout, geometry, observations, sources, unknowns(layout, geometry), fitted)
    wanted, columns, reach = posed.unknowns, posed.columns, posed.reach
    fields = tuple(dict.fromkeys([*(each.field for each in wanted), *source_fields(posed.sources)]))
    station = geometry.rows.station[observations.row]
    on_shape = tuple(each for each in posed.priors if not _told(wanted, each, reach))
    priors = tuple(each for each in posed.priors if each.u > 0.0 and each not in on_shape)
    known = np.array([_frame_number(wanted, columns, prior) for prior in priors], dtype=np.int64)
    known_to = np.array([prior.u for prior in priors])
    values, aim, turn = np.zeros(columns.count), observations.free, np.zeros_like(observations.free)
    state, rounds = _state(wanted, values, aim), 0
    while True:
        if rounds < 2:  # the second slopes are those at the solution, but for a nanometre
            slopes = channel_slopes(geometry, fields, state)
            effects = effects_on(posed.sources, slopes, observations)
            design = design_parts(wanted, columns, slopes, observations)
            if not all(np.isfinite(part).all() for part in (design.station, design.values, *(e.size for e in effects))):
                raise GeometryError(LOST)
            reach = reach_of(design, columns, station, posed.reach)
            turned = weighed(layout, geometry, posed.sources)
            in_weights = effects if turned == posed.sources else effects_on(turned, slopes, observations)
            solved = eliminated(blocks_of(station, in_weights), design, columns, reach, known, known_to)
        off, turn = _misfit(geometry, spots(geometry, state), observations)
        step = solved.solution(off, -values[columns.of_frame][known] / known_to)
        off_datum = reach.off_datum(values + step)
        values, aim, rounds = reach.at_datum(values + step), aim + turn, rounds + 1
        state = _state(wanted, values, aim)
        moved = np.max(np.abs(design.moves(columns.station_part(step)[station], step[columns.of_frame])), initial=0.0)
        if rounds > 1 and max(moved, off_datum, np.max(np.abs(turn), initial=0.0)) < CONVERGED:
            break
        if rounds > MOST_ROUNDS:
            raise GeometryError("the network does not settle; a reading far off its station is the usual cause")
    control = solved if in_weights is effects else eliminated(
        blocks_of(station, effects), design, columns, reach, known, known_to
    )  # fmt: skip
    assumed = assumed_cones(on_shape, wanted, values, reach, design, columns)
    residual, _ = _misfit(geometry, spots(geometry, state), observations)
    return Network(
        geometry=geometry,
        observations=observations,
        unknowns=wanted,
        values=values,
        open_directions=assumed.open_directions,
        scale=reach.scale,
        residual=residual,
        redundancy=len(off) - reach.rank,
        state=state,
        sources=posed.sources,
        effects=effects,
        columns=columns,
        parts=design,
        solved=solved,
        control=control,
        priors=priors,
        nuisances=posed.priors,
        assumed=assumed,
    )
