"""Beams as they are drawn: every piece of the way of the light, bent and enlarged, and what becomes of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np

from ..tracing.air import bend_in
from ..tracing.beam import point_on_path
from ..tracing.geometry import SurveyGeometry
from ..tracing.paths import Paths, paths_of
from ..tracing.sight import Sight, SightLines
from ..tracing.spots import Spots, spots
from ..tracing.state import NOMINAL, RowState
from ..vectors import Flags, Floats, Indices, dot, length, unit
from .emitters import EXIT_AHEAD
from .exaggeration import enlarged, sweep_axes

__all__ = ["BeamPaths", "Look", "beam_paths"]

UP = np.array([0.0, 0.0, 1.0])

FOOT_STEP, TURN_STEP = 1.0e-4, 1.0e-5
"""Nominal pieces nearer to each other than this [m, rad] lie on one line."""

OFF_HALVES = 0.381966
"""Added before rounding, so that round numbers lie in the middle of their class and not on its edge."""

_GLASS_ENDS = ("mirror 1", "mirror 2", "exit")


class Look(IntEnum):
    """What becomes of a piece of a beam; the first three are those of ``Sight``."""

    CLEAR = 0
    CLIPPED = 1
    BLOCKED = 2
    LOST = 3


@dataclass(frozen=True, slots=True, eq=False)
class BeamPaths:
    """Beams of m rows in k pieces, from corner to corner in the order of the light, world, metres.

    Attributes
    ----------
    row : (k,) int
    look : (k,) int
        ``Look`` of the piece.
    start, end : (k, 3) float
        Its corners where the drawing puts them.
    bow : (k, 3) float
        A point at the share f of the piece stands ``f (1 - f) bow`` beside the straight way.
    span : (k, 2) float
        Share at which the drawn part begins and ends: behind the exit port, before an obstacle.
    line : (k,) int
        Number of the nominal straight line that the piece lies on; what lies on one may coincide.
    place : (k, 2) float
        Where its corners lie along that line, metres.
    sight : (m,) int
        ``Sight`` of each row; -1 where the beam never meets its detector.
    mark, heading : (m, 3) float
        Where a beam is touched or stopped, and the direction of the light there; nan elsewhere.
    """

    row: Indices
    look: Indices
    start: Floats
    end: Floats
    bow: Floats
    span: Floats
    line: Indices
    place: Floats
    sight: Indices
    mark: Floats
    heading: Floats

    def of(self, pieces: Indices, span: Floats, steps: int) -> Floats:
        """Points ``(n, steps + 1, 3)`` along some ``pieces`` (n,), between the shares ``span`` (n, 2)."""
        share = span[:, :1] + (span[:, 1:] - span[:, :1]) * np.linspace(0.0, 1.0, steps + 1)
        return _curve(self.start[pieces], self.end[pieces], self.bow[pieces], share)

    def pieces_of(self, rows: Indices) -> Indices:
        """Numbers of all pieces of some rows."""
        result: Indices = np.nonzero(np.isin(self.row, rows))[0]
        return result


def _curve(start: Floats, end: Floats, bow: Floats, share: Floats) -> Floats:
    """Points ``(n, p, 3)`` at the shares (n, p) of curves from ``start`` to ``end``."""
    f = share[..., None]
    result: Floats = start[:, None] + f * (end - start)[:, None] + f * (1.0 - f) * bow[:, None]
    return result


def _corners(geometry: SurveyGeometry, seen: Spots) -> tuple[Paths, Floats, Flags]:
    """Paths, their corners ``(m, c, 3)`` with an end for lost beams as well, and which rows are lost."""
    paths = paths_of(geometry, seen)
    points = np.array(paths.points)
    lost = ~np.isfinite(points[:, -1, 0])
    if lost.any():
        leg, centre = seen.train.leg, geometry.detector_centres()
        far = length(centre - leg.origin)
        stub = point_on_path(leg.origin, leg.direction, leg.curvature, far)
        stub = np.where(np.isfinite(stub), stub, geometry.sources())
        points[lost, -1] = np.broadcast_to(stub, (len(lost), 3))[lost]
    return paths, points, lost


@dataclass(frozen=True, slots=True, eq=False)
class _Chain:
    """Pieces as pairs of corners: row, and first and last corner, ``(k,)``."""

    row: Indices
    first: Indices
    last: Indices


def _chain(here: Flags) -> _Chain:
    rows, firsts, lasts = [], [], []
    before = np.zeros(len(here), dtype=np.int64)
    for corner in range(1, here.shape[1]):
        mine = np.nonzero(here[:, corner])[0]
        rows.append(mine)
        firsts.append(before[mine])
        lasts.append(np.full(len(mine), corner))
        before = np.where(here[:, corner], corner, before)
    row, first, last = (np.concatenate(part) for part in (rows, firsts, lasts))
    order = np.lexsort((last, row))
    return _Chain(row[order], first[order], last[order])


def _drawn_corners(geometry: SurveyGeometry, points: Floats, nominal: Floats, factor: float) -> Floats:
    """Corners with what they stand off their nominal places enlarged; across the sweep only, behind what sweeps."""
    if factor == 1.0:
        return points
    nominal = np.where(np.isfinite(nominal), nominal, points)
    axes, sweeps = sweep_axes(geometry)
    behind = np.ones(points.shape[1], dtype=bool)
    behind[: 5 if len(geometry.noses.rows) else 1] = False  # the emitter and the four corners of a prism
    across = sweeps[:, None] & behind
    return enlarged(points, nominal, factor, axes[:, None, :], across)


def _bows(
    geometry: SurveyGeometry, state: RowState, chain: _Chain, chord: Floats, glass: Flags, factor: float
) -> Floats:
    """Bows ``(k, 3)`` of the pieces: light in air bends evenly, in glass not at all."""
    gradient = np.broadcast_to(np.asarray(geometry.gradient + state.gradient), (len(geometry.rows),))[chain.row]
    size = length(chord)
    along = chord / np.where(size > 0.0, size, 1.0)[:, None]
    bend = bend_in(along, gradient[:, None] * UP, geometry.index_slope[chain.row])
    axes, sweeps = sweep_axes(geometry)
    axes, sweeps = axes[chain.row], sweeps[chain.row] & ~_before_prism(geometry, chain)
    bow = -0.5 * (size**2 * ~glass)[:, None] * bend
    return enlarged(bow, np.zeros_like(bow), factor, axes, sweeps)


def _before_prism(geometry: SurveyGeometry, chain: _Chain) -> Flags:
    """Pieces from an emitter to a prism, or in it."""
    through = np.zeros(len(geometry.rows), dtype=bool)
    through[geometry.noses.rows] = True
    result: Flags = through[chain.row] & (chain.last <= 4)
    return result


def _looks(
    chain: _Chain, size: Floats, sight: Indices, reach: Floats, lost: Flags
) -> tuple[Indices, Floats, Indices, Floats]:
    """Look and end of the drawn share ``(k,)``, and of every row the piece that is touched (-1) and the share there."""
    total = np.cumsum(size)
    first = np.unique(chain.row, return_index=True)[1]
    before = total - size
    before = before - before[first][np.searchsorted(chain.row[first], chain.row)]
    number = np.arange(len(chain.row))
    within = np.append(chain.row[1:] != chain.row[:-1], True) | (reach[chain.row] <= before + size)
    piece = np.full(len(sight), -1, dtype=np.int64)
    hits = number[within & (sight[chain.row] > Sight.CLEAR) & ~lost[chain.row]]
    piece[chain.row[hits[::-1]]] = hits[::-1]  # the first one of each row stays
    at = piece[chain.row]
    behind = (at >= 0) & (number >= at)
    look = np.where(behind, sight[chain.row], int(Look.CLEAR))
    blocked = sight[chain.row] == Sight.BLOCKED
    share = np.clip((reach[chain.row] - before) / np.where(size > 0.0, size, 1.0), 0.0, 1.0)
    until = np.where((number == at) & blocked, share, 1.0)
    until = np.where((number > at) & behind & blocked, 0.0, until)
    end = np.append(chain.row[1:] != chain.row[:-1], True)
    look = np.where(end & lost[chain.row], int(Look.LOST), look)
    return look, until, piece, share


def _lines(start: Floats, end: Floats) -> tuple[Indices, Floats]:
    """Numbers ``(k,)`` of the straight lines that pieces lie on, and the places ``(k, 2)`` of their ends along them."""
    chord = end - start
    size = length(chord)
    along = np.where(size[:, None] > 0.0, chord, [1.0, 0.0, 0.0])
    along = unit(along)
    lead = np.take_along_axis(along, np.argmax(np.abs(along) > 0.5, axis=1)[:, None], axis=1)
    along = along * np.where(lead < 0.0, -1.0, 1.0)
    place = np.stack([dot(start, along), dot(end, along)], axis=1)
    foot = start - place[:, :1] * along
    key = np.column_stack([foot / FOOT_STEP, along / TURN_STEP])
    line = np.unique(np.floor(key + OFF_HALVES).astype(np.int64), axis=0, return_inverse=True)[1]
    return line.reshape(-1).astype(np.int64), place


def beam_paths(
    geometry: SurveyGeometry,
    seen: Spots,
    sight: SightLines,
    state: RowState = NOMINAL,
    factor: float = 1.0,
    nominal: Spots | None = None,
) -> BeamPaths:
    """Paths of all beams in ``state``, from the exit port through prism and see-through targets to the detector.

    Parameters
    ----------
    geometry : SurveyGeometry
    seen : Spots
        Trace in ``state``, without leading axes.
    sight : SightLines
        One per row; ``reach`` counts along the path from the emitter.
    factor : float
        What a beam stands off its nominal straight way is drawn this much larger than life: errors of the state and
        the bending in a temperature gradient. Where a base or a prism sweeps a plane, only what lies across it.
    nominal : Spots, optional
        Trace of the nominal state without a gradient, to save time where many states are drawn.
    """
    paths, points, lost = _corners(geometry, seen)
    if factor == 1.0:
        plain = points
    else:
        still = spots(replace(geometry, gradient=0.0)) if nominal is None else nominal
        plain = _corners(geometry, still)[1]
    drawn = _drawn_corners(geometry, points, plain, factor)
    here = np.isfinite(points[..., 0]) & np.isfinite(drawn[..., 0])
    chain = _chain(here)
    start, end = drawn[chain.row, chain.first], drawn[chain.row, chain.last]
    chord = points[chain.row, chain.last] - points[chain.row, chain.first]
    size = length(chord)
    in_glass = np.array([place in _GLASS_ENDS or place.startswith("back") for place in paths.places])
    bow = _bows(geometry, state, chain, chord, in_glass[chain.last], factor)
    look, until, piece, share = _looks(chain, size, sight.sight, sight.reach, lost)
    begin = np.where((chain.first == 0) & geometry.sweeps[chain.row], np.minimum(EXIT_AHEAD, 0.5 * size * until), 0.0)
    span = np.column_stack([begin / np.where(size > 0.0, size, 1.0), until])
    line, place = _lines(plain[chain.row, chain.first], plain[chain.row, chain.last])
    mark, heading = np.full((len(lost), 3), np.nan), np.full((len(lost), 3), np.nan)
    hit = np.nonzero(piece >= 0)[0]
    at = piece[hit]
    mark[hit] = _curve(start[at], end[at], bow[at], share[at, None])[:, 0]
    heading[hit] = unit(chord[at])
    kept = np.nonzero((until > 0.0) & (size > 0.0))[0]
    return BeamPaths(
        row=chain.row[kept], look=look[kept], start=start[kept], end=end[kept], bow=bow[kept], span=span[kept],
        line=line[kept], place=place[kept], sight=np.where(lost, -1, sight.sight), mark=mark, heading=heading,
    )  # fmt: skip
