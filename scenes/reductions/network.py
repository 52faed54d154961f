"""Network: deviations of all stations and the frames of all set-ups, from all channels of all readings at once.

Unknown are the deviations of each station (up, aside, and its slopes where angles are read) and, per set-up, what the
crew sets but nobody measures: the frame of a base, of a line, of each stop of a prism, of an emitter in a spindle.
Every other error is a named source. Readings leave some of the unknowns open, such as the tilt of a bed against the
plane that it is read by; the least-norm solution is taken there, and ``open_directions`` tells which sums of unknowns
no reading reaches, so that a quantity that depends on them is refused.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import solve_triangular

from ..errors import GeometryError
from ..model.layout import Layout
from ..tracing.geometry import CHANNELS, SurveyGeometry
from ..tracing.sensitivity import channel_slopes
from ..tracing.spots import Spots, spots
from ..tracing.state import NOMINAL, RowState
from ..uncertainty.propagate import NEGLIGIBLE, Spread
from ..uncertainty.sources import Source, source_fields
from ..vectors import Floats
from .unknowns import Observations, Unknown, design_of, observed, only_seen, unknowns_of
from .weights import PLACED, acting_sources, effects_on, weighed, whitener

__all__ = ["LOST", "PLACED", "Network", "Observations", "Unknown", "observed", "solve_network", "unknowns_of"]

CONVERGED = 1e-12
"""Steps that move no reading by this [m, rad] end the iteration: a millionth of what a target resolves."""

MOST_ROUNDS = 50
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


def _gain(design: Floats, reach: _Reach, white: Floats) -> Floats:
    """Change ``(p, o)`` of the unknowns with the observations: weighted least squares in what is reached."""
    seen = (design * reach.scale) @ reach.reached
    left, right = np.linalg.qr(white @ seen)
    inner = solve_triangular(right, left.T @ white)
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
    wanted = only_seen(asked, np.nan_to_num(design_of(asked, nominal, observations)))
    if sources:
        sources = acting_sources(layout, geometry, sources, asked, wanted)
    fields = tuple(dict.fromkeys([*named, *source_fields(sources)]))
    values, aim = np.zeros(sum(len(each.keys) for each in wanted)), observations.free
    state = _state(wanted, values, aim)
    turn, rounds = np.zeros_like(aim), 0
    reach = _reach(design_of(wanted, nominal, observations))
    while True:
        if rounds < 2:  # the second slopes are those at the solution, but for a nanometre
            slopes = channel_slopes(geometry, fields, state)
            effects = effects_on(sources, slopes, observations)
            design = design_of(wanted, slopes, observations)
            if not all(np.isfinite(part).all() for part in (design, *(effect.size for effect in effects))):
                raise GeometryError(LOST)
            in_weights = effects_on(weighed(layout, geometry, sources), slopes, observations)
            gain = _gain(design, reach, whitener(in_weights, len(observations.row)))
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
