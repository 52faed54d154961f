"""Pieces of beams that run over each other are drawn once: many targets on one line make one beam."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats, Indices, length
from .beam_paths import BeamPaths, Look

__all__ = ["trimmed", "without_doubles"]

MOST_CURVES = 12
"""Different beams along one line that are told apart; what is left then is drawn as it is."""

LEAST_SHOWN = 0.15
"""A clipped or blocked piece is drawn over this share of its length at least, though a clear one runs along it."""


def _reach(paths: BeamPaths, pieces: Indices, share: Floats) -> Floats:
    """Places ``(n, ...)`` along their lines at the shares (n, ...) of pieces."""
    first, last = paths.place[pieces].T
    shape = (-1,) + (1,) * (share.ndim - 1)
    result: Floats = first.reshape(shape) + share * (last - first).reshape(shape)
    return result


def _share(paths: BeamPaths, pieces: Indices, place: Floats) -> Floats:
    """Shares ``(n, p)`` of pieces at places (n, p) along their lines."""
    first, last = paths.place[pieces].T[..., None]
    result: Floats = (place - first) / np.where(last != first, last - first, 1.0)
    return result


def _apart(paths: BeamPaths, pieces: Indices, others: Indices, place: Floats) -> Floats:
    """Largest distance ``(n,)`` [m] of two pieces as they are drawn, at the same places (n, p) along their line."""
    points = []
    for mine in (pieces, others):
        f = _share(paths, mine, place)[..., None]
        start, end, bow = (part[mine][:, None] for part in (paths.start, paths.end, paths.bow))
        points.append(start + f * (end - start) + f * (1.0 - f) * bow)
    result: Floats = length(points[0] - points[1]).max(axis=-1)
    return result


def without_doubles(paths: BeamPaths, pieces: Indices, tolerance: float) -> Indices:
    """The ``pieces`` (n,) less those that run within ``tolerance`` [m] along a longer one of them, all of their way."""
    span = _reach(paths, pieces, paths.span[pieces])
    low, high = span.min(axis=1), span.max(axis=1)
    left = np.lexsort((pieces, -(high - low), paths.line[pieces]))
    kept = []
    for _ in range(MOST_CURVES):
        if len(left) == 0:
            break
        line = paths.line[pieces[left]]
        first = np.append(True, line[1:] != line[:-1])
        longest = left[first]
        kept.append(longest)
        spine = longest[np.cumsum(first) - 1]
        slack = 1e-9 + 1e-6 * (high - low)[spine]
        inside = (low[left] >= low[spine] - slack) & (high[left] <= high[spine] + slack)
        middle = 0.5 * (low[left] + high[left])
        places = np.column_stack([low[left], middle, high[left]])
        double = inside & (_apart(paths, pieces[left], pieces[spine], places) <= tolerance)
        left = left[~first & ~double]
    result: Indices = np.sort(np.concatenate([np.zeros(0, dtype=np.int64), *kept, left]))
    return pieces[result]


def trimmed(paths: BeamPaths, pieces: Indices, clear: Indices, tolerance: float) -> Floats:
    """Spans ``(n, 2)`` of clipped, blocked or lost ``pieces``, less the way along which a ``clear`` one runs."""
    span = np.array(paths.span[pieces])
    order = np.argsort(paths.line[clear], kind="stable")
    lines = paths.line[clear][order]
    first, last = np.searchsorted(lines, paths.line[pieces]), np.searchsorted(lines, paths.line[pieces], side="right")
    count = last - first
    mine = np.repeat(np.arange(len(pieces)), count)
    other = clear[order[np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)]]
    reach = np.sort(_reach(paths, other, paths.span[other]), axis=1)
    start = _reach(paths, pieces, span)[mine, 0]
    slack = 1e-9 + 1e-6 * (reach[:, 1] - reach[:, 0])
    at_start = (reach[:, 0] <= start + slack) & (start <= reach[:, 1] + slack)
    at_start &= _apart(paths, pieces[mine], other, start[:, None]) <= tolerance
    forward = np.diff(paths.place[pieces], axis=1)[mine, 0] >= 0.0
    covered = _share(paths, pieces[mine], np.where(forward, reach[:, 1], reach[:, 0])[:, None])[:, 0]
    begin = span[:, 0].copy()
    np.maximum.at(begin, mine[at_start], covered[at_start])
    most = np.where(paths.look[pieces] == Look.LOST, 1.0, 1.0 - LEAST_SHOWN)
    span[:, 0] = np.minimum(begin, span[:, 0] + most * (span[:, 1] - span[:, 0]))
    return span
