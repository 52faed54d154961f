"""Network: deviations of all stations and the frames of all set-ups, from all channels of all readings at once.

Unknown are the deviations of each station (up, aside, and its slopes where angles are read) and, per set-up, what the
crew sets but nobody measures: the frame of a base, of a line, of each stop of a prism, of an emitter in a spindle.
Every other error is a named source. Readings leave some of the unknowns open, such as the tilt of a bed against the
plane that it is read by; the least-norm solution is taken there, and ``open_directions`` tells which sums of unknowns
no reading reaches, so that a quantity that depends on them is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import solve_triangular

from ..errors import GeometryError
from ..model.layout import Layout
from ..model.survey import LevelBy, Method
from ..tracing.geometry import CHANNELS, SurveyGeometry
from ..tracing.sensitivity import channel_slopes
from ..tracing.spots import Spots, spots
from ..tracing.state import NOMINAL, RowState
from ..uncertainty.propagate import NEGLIGIBLE, Effect, Spread, reading_covariance
from ..uncertainty.sources import Source, source_fields
from ..vectors import Flags, Floats, Indices, frozen

__all__ = ["Network", "Observations", "Unknown", "observed", "solve_network", "unknowns_of"]

CONVERGED = 1e-12
"""Steps that move no reading by this [m, rad] end the iteration: a millionth of what a target resolves."""

MOST_ROUNDS = 50
SEEN = 0.1
"""A deviation is an unknown where some reading of its station moves by more than this share of it. A smaller share
comes from beams a little askew; such a component is taken as nominal, with the place of the station as a source."""

PLACED_WITHIN = 1e-3
"""Standard uncertainty [m] of the place of a station in directions that its readings hardly see: a target is set on a
mark by eye. Common practice."""

PLACED = "place of the station on its mark"

LEFT_OPEN = "what readings leave open"
OPEN_SIZE = 1e-3
"""Standard size [m] of what no reading tells, by its effect on readings: how far crews set emitters off."""

LOST = "a beam never meets its target; look at the findings of the plan"

RANK = 3e-4
"""Singular values of the scaled design below this share of the largest count as zero: a micrometre in a reading would
move such an unknown by millimetres. The glass of prisms and targets couples, by some 1e-5, what beams leave open."""

REACHED = 1e-3
"""A quantity is reached where no larger share of it lies in open directions. What is left, such as the glass of
see-through targets under a beam of unknown slope, is an error of its own."""

SMALL_ROW = 1e-3
"""Of several functionals, those below this share of the largest count as that large."""

SAME_WEIGHT = 1e-6
"""Size [m, rad] of the errors where none is stated: all readings count alike then."""


@dataclass(frozen=True, slots=True, eq=False)
class Observations:
    """Values that carry information, one per row and channel; o of them.

    Attributes
    ----------
    row, channel : (o,) int
        ``channel`` counts into ``CHANNELS``.
    value : (o,) float
        Metres or rad.
    free : (m,) float
        Per row, where the spot stood in the direction that carries no information, metres.
    """

    row: Indices
    channel: Indices
    value: Floats
    free: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Unknown:
    """One kind of unknown: a field of the state, and which rows share one value of it (-1: the row has none).

    ``keys`` name the values: a station; a set-up; or a set-up with its side and stop.
    """

    field: str
    group: Indices
    keys: tuple[tuple[str, ...], ...]


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
    spread : Spread
        Errors of the values by source.
    design : (o, p) float
        Change of the observations with the unknowns, at the solution.
    open_directions : (p, d) float
        Orthonormal in units of ``scale``: sums of unknowns that no reading reaches.
    scale : (p,) float
        Unit of each unknown in those directions.
    residual, residual_gain : (o,), (o, o) float
        Observation less model, metres or rad, and its change with the observations.
    redundancy : int
        Observations beyond those that the unknowns need.
    state : RowState
        State of the model at the solution.
    sources : tuple of Source
        All that act on the observations.
    """

    geometry: SurveyGeometry
    observations: Observations
    unknowns: tuple[Unknown, ...]
    values: Floats
    spread: Spread
    design: Floats
    open_directions: Floats
    scale: Floats
    residual: Floats
    residual_gain: Floats
    redundancy: int
    state: RowState
    sources: tuple[Source, ...]

    def column(self, field: str, *key: str) -> int | None:
        """Number of the unknown ``field`` of a key, or None where the network has no such unknown."""
        first = 0
        for unknown in self.unknowns:
            if unknown.field == field and key in unknown.keys:
                return first + unknown.keys.index(key)
            first += len(unknown.keys)
        return None

    def reaches(self, functional: Floats) -> bool:
        """Whether the readings determine ``functional @ values``; ``functional`` is (p,), or (k, p) for all of k."""
        scaled = np.atleast_2d(functional * self.scale)
        size = np.linalg.norm(scaled, axis=1)
        left = np.linalg.norm(scaled @ self.open_directions, axis=1)
        return bool(np.all(left <= REACHED * np.maximum(size, SMALL_ROW * size.max(initial=0.0))))

    def spread_of(self, functional: Floats) -> Spread:
        """Spread of ``functional @ values`` (k, p), reached but for a small share, which counts as an error too."""
        spread = self.spread.through(functional)
        left = OPEN_SIZE * ((functional * self.scale) @ self.open_directions)
        return replace(spread, others={LEFT_OPEN: left}) if np.any(np.abs(left) > NEGLIGIBLE) else spread

    def left_open(self, functional: Floats) -> Floats:
        """The part ``(p,)`` of a functional that no reading reaches, in units of ``scale``."""
        result: Floats = self.open_directions @ ((functional * self.scale) @ self.open_directions)
        return result

    def named(self) -> list[tuple[str, tuple[str, ...]]]:
        """Field and key of every unknown, in their order."""
        return [(unknown.field, key) for unknown in self.unknowns for key in unknown.keys]


def observed(geometry: SurveyGeometry, values: dict[str, Floats], within: Floats) -> Observations:
    """Observations among the values of each channel ``{channel: (m,)}``, nan where not read.

    ``within`` (m,) [m] stands for the free direction where nobody noted it.
    """
    m = len(geometry.rows)
    rows, channels, found = [], [], []
    for number, channel in enumerate(CHANNELS):
        value = values.get(channel, np.full(m, np.nan))
        mine = np.nonzero(geometry.reads[channel] & np.isfinite(value))[0]
        rows.append(mine)
        channels.append(np.full(len(mine), number, dtype=np.int64))
        found.append(value[mine])
    unread = np.full(m, np.nan)
    free = np.where(geometry.frees_h, values.get("h", unread), values.get("v", unread))
    swept = ~(geometry.reads["h"] & geometry.reads["v"])
    free = np.where(swept, np.where(np.isfinite(free), free, within), 0.0)
    return Observations(np.concatenate(rows), np.concatenate(channels), np.concatenate(found), free)


def _keyed(field: str, keys: Sequence[tuple[str, ...]], mine: Flags) -> Unknown:
    """An unknown with one value per different key among the rows ``mine`` (m,)."""
    order = {key: None for key, here in zip(keys, mine, strict=True) if here}
    number = {key: i for i, key in enumerate(order)}
    group = np.array([number[key] if here else -1 for key, here in zip(keys, mine, strict=True)], dtype=np.int64)
    return Unknown(field, group, tuple(order))


def unknowns_of(layout: Layout, geometry: SurveyGeometry) -> tuple[Unknown, ...]:
    """What the readings of ``geometry`` are to determine."""
    rows = geometry.rows
    stations = [layout.stations[rows.stations[i]] for i in rows.station]
    setups = [layout.setups[rows.setups[i]] for i in rows.setup]
    by_station = [(station.name,) for station in stations]
    by_setup = [(setup.name,) for setup in setups]
    stops = [
        (setup.name, str(int(side)), setup.prism.stops[stop].name if setup.prism and stop >= 0 else "")
        for setup, side, stop in zip(setups, rows.side, rows.stop, strict=True)
    ]
    lines = [(name, side) for name, side, _ in stops]
    lines = [(name, side if setup.prism else "0") for (name, side), setup in zip(lines, setups, strict=True)]
    measured = np.array([not station.is_datum for station in stations], dtype=bool)
    angles = measured & geometry.reads["pitch"]
    method = [setup.method for setup in setups]
    base = np.array([each is Method.BASE_PLANE for each in method], dtype=bool)
    level = base & np.array([setup.level_by is not LevelBy.VIAL for setup in setups], dtype=bool)
    spindle = np.array([each is Method.SPINDLE for each in method], dtype=bool)
    prism = rows.stop >= 0
    fixed = np.array([each is Method.PRISM_LINE for each in method], dtype=bool) & prism
    parts: list[tuple[str, Sequence[tuple[str, ...]], Flags]] = [
        ("deviation", by_station, measured),
        ("deviation_side", by_station, measured),
        ("deviation_along", by_station, measured),
        ("nod", by_station, angles),
        ("swing", by_station, angles),
        ("tilt_x", by_setup, level),
        ("tilt_y", by_setup, level),
        ("lift", by_setup, base),
        *((field, lines, ~base) for field in ("tilt_y", "tilt_z", "shift", "lift")),
        *((field, by_setup, spindle) for field in ("cone", "cone_side", "offset_y", "offset_z")),
        ("prism_x", stops, prism),
        ("prism_turn", stops, fixed),
    ]
    found = [_keyed(field, keys, mine) for field, keys, mine in parts if mine.any()]
    return tuple(unknown for unknown in found if unknown.keys)


def _only_seen(unknowns: tuple[Unknown, ...], design: Floats) -> tuple[Unknown, ...]:
    """The unknowns without the deviations that no reading sees."""
    kept, first = [], 0
    for unknown in unknowns:
        size = np.abs(design[:, first : first + len(unknown.keys)]).max(axis=0, initial=0.0)
        first += len(unknown.keys)
        seen = size > SEEN if unknown.field.startswith("deviation") else np.ones(len(size), dtype=bool)
        number = np.append(np.where(seen, np.cumsum(seen) - 1, -1), -1)
        keys = tuple(key for key, here in zip(unknown.keys, seen, strict=True) if here)
        if keys:
            kept.append(Unknown(unknown.field, number[unknown.group], keys))
    return tuple(kept)


def _stacked(slopes: dict[str, dict[str, Floats]], field: str, of: Observations) -> Floats:
    """Slopes ``(o,)`` of the observations with one field."""
    return np.stack([slopes[channel][field] for channel in CHANNELS])[of.channel, of.row]


def _design(unknowns: tuple[Unknown, ...], slopes: dict[str, dict[str, Floats]], of: Observations) -> Floats:
    columns = []
    for unknown in unknowns:
        part = np.zeros((len(of.row), len(unknown.keys)))
        group = unknown.group[of.row]
        here = np.nonzero(group >= 0)[0]
        part[here, group[here]] = _stacked(slopes, unknown.field, of)[here]
        columns.append(part)
    return np.concatenate(columns, axis=1)


def _effects(sources: tuple[Source, ...], slopes: dict[str, dict[str, Floats]], of: Observations) -> tuple[Effect, ...]:
    """Effects of the sources on the observations; those that reach none of them are left out."""
    found = []
    for source in sources:
        size = _stacked(slopes, source.field, of) * source.u[of.row]
        if np.any(size != 0.0):
            felt = np.nonzero(size)[0]
            groups, shared = np.unique(source.group[of.row[felt]], return_inverse=True)
            number = len(groups) + np.arange(len(size))  # those that do not feel it share nothing
            number[felt] = shared
            found.append(Effect(source.name, size, number, len(groups) + len(size), source.origin))
    return tuple(found)


def _sources_of_frames(layout: Layout, geometry: SurveyGeometry, sources: tuple[Source, ...]) -> tuple[Source, ...]:
    """The sources without those that only say how a beam lies in its housing where no reversal shows the housing.

    The frame of such a line is unknown and is that of its beam.
    """
    rows = geometry.rows
    setups = [layout.setups[rows.setups[i]] for i in rows.setup]
    beam = np.array([each.method is Method.LINE and not each.reversed for each in setups], dtype=bool)
    if not beam.any():
        return sources
    return tuple(
        replace(source, u=np.where(beam, 0.0, source.u)) if source.field in IN_HOUSING else source for source in sources
    )


def _turned_about(layout: Layout, geometry: SurveyGeometry) -> dict[str, Flags]:
    """Rows ``(m,)`` in which a whole reversal takes out the errors of a field: no weight may lean on what is stated."""
    rows = geometry.rows
    setups = [layout.setups[rows.setups[i]] for i in rows.setup]
    places = np.stack([rows.setup, rows.station, rows.stop], axis=1)
    sides = {tuple(place): set() for place in places.tolist()}  # type: dict[tuple[int, ...], set[int]]
    clocks: dict[tuple[int, ...], list[complex]] = {}
    for place, side, clock in zip(places.tolist(), rows.side.tolist(), rows.clock.tolist(), strict=True):
        sides[tuple(place)].add(side)
        clocks.setdefault(tuple(place), []).append(complex(np.cos(clock), np.sin(clock)))
    halves = {setup for (setup, _, _), found in sides.items() if len(found) < 2}
    whole = np.array([each.reversed for each in setups], dtype=bool) & ~np.isin(rows.setup, sorted(halves))
    round_ = np.array([abs(np.mean(clocks[tuple(place)])) < ALL_ROUND for place in places.tolist()], dtype=bool)
    prism = rows.stop >= 0
    by_field = {"mirror": whole & prism, "pyramid": whole & prism, "eccentric_h": round_, "eccentric_v": round_}
    line = np.array([each.method is Method.LINE for each in setups], dtype=bool)
    return {**by_field, **dict.fromkeys(IN_HOUSING, whole & line)}


def _weighed(layout: Layout, geometry: SurveyGeometry, sources: tuple[Source, ...]) -> tuple[Source, ...]:
    """The sources as they count in the weights: what reversals take out is as good as unknown."""
    turned = _turned_about(layout, geometry)
    return tuple(
        replace(source, u=np.where(turned[source.field], UNKNOWN * source.u, source.u))
        if source.field in turned and turned[source.field].any() else source
        for source in sources
    )  # fmt: skip


ALL_ROUND = 1e-6
"""Clock positions whose mean direction is below this go all round."""

UNKNOWN = 30.0
"""Errors that a reversal takes out weigh as if they were so many times as large as stated."""

IN_HOUSING = ("cone", "cone_side", "offset_y", "offset_z")


def _placed(asked: tuple[Unknown, ...], kept: tuple[Unknown, ...], station: Indices) -> tuple[Source, ...]:
    """Sources for the deviations that are no unknowns although their stations are measured."""
    found = []
    for unknown in asked:
        if not unknown.field.startswith("deviation"):
            continue
        group = next((each.group for each in kept if each.field == unknown.field), np.full(len(station), -1))
        u = np.where((unknown.group >= 0) & (group < 0), PLACED_WITHIN, 0.0)
        if u.any():
            found.append(Source(PLACED, unknown.field, station, frozen(u), "station", "common practice"))
    return tuple(found)


def _whitener(effects: tuple[Effect, ...], o: int) -> Floats:
    """Matrix ``(o, o)`` that makes the errors of the observations alike and independent, about one in size."""
    covariance = reading_covariance(effects, o) if effects else np.zeros((o, o))
    own = np.sqrt(np.diag(covariance))
    least = np.where(own > 0.0, own, SAME_WEIGHT)
    try:
        root = np.linalg.cholesky(covariance / np.outer(least, least))
    except np.linalg.LinAlgError:  # some readings have no error of their own
        return np.diag(1.0 / least)
    result: Floats = solve_triangular(root, np.diag(1.0 / least), lower=True)
    return result


@dataclass(frozen=True, slots=True, eq=False)
class _Reach:
    """Sums of unknowns that the readings reach, ``(p, rank)``, and those that they do not, in units of ``scale``."""

    reached: Floats
    open_directions: Floats
    scale: Floats


def _reach(design: Floats) -> _Reach:
    """What the nominal ``design`` (o, p) reaches."""
    if not np.isfinite(design).all():
        raise GeometryError(LOST)
    size = np.linalg.norm(design, axis=0)
    seen = size > RANK * max(float(size.max(initial=0.0)), 1e-300)
    scale = np.where(seen, 1.0 / np.where(seen, size, 1.0), 1.0)
    _, values, rows = np.linalg.svd(design * scale, full_matrices=True)
    rank = int(np.count_nonzero(values > RANK * values[0])) if len(values) else 0
    return _Reach(rows[:rank].T, rows[rank:].T, scale)


def _gain(design: Floats, reach: _Reach, whitener: Floats) -> Floats:
    """Change ``(p, o)`` of the unknowns with the observations: weighted least squares in what is reached."""
    seen = (design * reach.scale) @ reach.reached
    left, right = np.linalg.qr(whitener @ seen)
    inner = solve_triangular(right, left.T @ whitener)
    result: Floats = reach.scale[:, None] * (reach.reached @ inner)
    return result


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


def solve_network(
    layout: Layout,
    geometry: SurveyGeometry,
    observations: Observations,
    sources: tuple[Source, ...],
    unknowns: Callable[[Layout, SurveyGeometry], tuple[Unknown, ...]] = unknowns_of,
) -> Network:
    """Unknowns that explain the observations.

    Raises
    ------
    GeometryError
        A beam that misses its target at nominal, or readings that no state near the layout explains.
    """
    if not np.isfinite(observations.value).all():
        raise ValueError("observations must be finite")
    asked = unknowns(layout, geometry)
    named = tuple(dict.fromkeys(each.field for each in asked))
    nominal = channel_slopes(geometry, named)
    wanted = _only_seen(asked, np.nan_to_num(_design(asked, nominal, observations)))
    if sources:
        sources = (*_sources_of_frames(layout, geometry, sources), *_placed(asked, wanted, geometry.rows.station))
    fields = tuple(dict.fromkeys([*named, *source_fields(sources)]))
    values, aim = np.zeros(sum(len(each.keys) for each in wanted)), observations.free
    state = _state(wanted, values, aim)
    turn, rounds = np.zeros_like(aim), 0
    reach = _reach(_design(wanted, nominal, observations))
    while True:
        if rounds < 2:  # the second slopes are those at the solution, but for a nanometre
            slopes = channel_slopes(geometry, fields, state)
            effects = _effects(sources, slopes, observations)
            design = _design(wanted, slopes, observations)
            if not all(np.isfinite(part).all() for part in (design, *(effect.size for effect in effects))):
                raise GeometryError(LOST)
            weighed = _effects(_weighed(layout, geometry, sources), slopes, observations)
            gain = _gain(design, reach, _whitener(weighed, len(observations.row)))
        off, turn = _misfit(geometry, spots(geometry, state), observations)
        step = gain @ off
        values, aim, rounds = values + step, aim + turn, rounds + 1
        state = _state(wanted, values, aim)
        if (
            rounds > 1
            and max(np.max(np.abs(design @ step), initial=0.0), np.max(np.abs(turn), initial=0.0)) < CONVERGED
        ):
            break
        if rounds > MOST_ROUNDS:
            raise GeometryError("the network does not settle; a reading far off its station is the usual cause")
    residual, _ = _misfit(geometry, spots(geometry, state), observations)
    return Network(
        geometry=geometry,
        observations=observations,
        unknowns=wanted,
        values=values,
        spread=Spread(gain, effects, {}),
        design=design,
        open_directions=reach.open_directions,
        scale=reach.scale,
        residual=residual,
        residual_gain=np.eye(len(off)) - design @ gain,
        redundancy=len(off) - reach.reached.shape[1],
        state=state,
        sources=sources,
    )
