"""See-through targets in the beams: which ones the light of each row passes before it reaches its own target."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model.layout import Layout
from ..vectors import Flags, Floats, Indices
from .rows import Rows
from .state import MOST_PLATES

__all__ = ["Plates", "passed_plates"]


@dataclass(frozen=True, slots=True, eq=False)
class Plates:
    """See-through targets that each beam passes, in the order of the light, at K places; thickness 0 where none stands.

    A target has the same place in all beams wherever the order allows, so that a field of the state such as
    ``wedge_h.1`` speaks of one and the same target in all rows of a batch and in all batches.

    Attributes
    ----------
    row : (m, K) int
        Row of the target that is passed; -1 where none stands.
    thickness, index, passes : (m, K) float
    """

    row: Indices
    thickness: Floats
    index: Floats
    passes: Floats

    @property
    def most(self) -> int:
        """Number of places."""
        return int(self.row.shape[1])


def passed_plates(layout: Layout, rows: Rows, distance: Floats) -> Plates:
    """Targets of the same batch that the light passes before each row's own; ``distance`` (m,) along the beam [m]."""
    m = len(rows)
    if not m or not any(layout.setups[name].through for name in rows.setups):
        return Plates(np.zeros((m, 0), dtype=np.int64), *np.zeros((3, m, 0)))
    sequence = _sequences(rows, distance)
    row = _placed(sequence, np.where(sequence >= 0, rows.target[sequence], -1), len(rows.targets))
    targets = [layout.targets[name] for name in rows.targets]
    thickness, index, passes = (
        np.where(row >= 0, np.array([getattr(target, name) for target in targets])[rows.target[row]], empty)
        for name, empty in (("thickness", 0.0), ("index", 1.0), ("passes", 1.0))
    )
    return Plates(row, thickness, index, passes)


def _sequences(rows: Rows, distance: Floats) -> Indices:
    """Rows ``(m, K)`` of the targets that each beam passes, the first one first, then -1."""
    keys = np.stack(
        [rows.setup, rows.side, np.unique(rows.turn, return_inverse=True)[1], rows.batch, rows.stop], axis=1
    )
    _, beam = np.unique(keys, axis=0, return_inverse=True)
    beam = beam.reshape(len(rows))
    _, first = np.unique(np.stack([beam, rows.station], axis=1), axis=0, return_index=True)  # one row for each target
    count = np.bincount(beam[first])
    start = np.cumsum(count) - count
    standing = np.full((len(count), int(count.max())), -1, dtype=np.int64)
    standing[beam[first], np.arange(len(first)) - start[beam[first]]] = first
    others = standing[beam]
    way = distance[others]
    passed: Flags = (
        (others >= 0) & (rows.station[others] != rows.station[:, None]) & (way > 0.0) & (way < distance[:, None])
    )
    order = np.argsort(np.where(passed, way, np.inf), axis=1, kind="stable")
    most = int(passed.sum(axis=1).max())
    result: Indices = np.take_along_axis(np.where(passed, others, -1), order, axis=1)[:, :most]
    return result


def _placed(sequence: Indices, target: Indices, targets: int) -> Indices:
    """``sequence`` (m, K) with each ``target`` (m, K) at its own place, if their order is the same everywhere."""
    place = _places(target, targets)
    if place is None or int(place.max(initial=0)) >= MOST_PLATES:
        return sequence
    row = np.full((len(sequence), int(place.max(initial=-1)) + 1), -1, dtype=np.int64)
    here, k = np.nonzero(sequence >= 0)
    row[here, place[target[here, k]]] = sequence[here, k]
    return row[:, (row >= 0).any(axis=0)]


def _places(target: Indices, targets: int) -> Indices | None:
    """Place of each of the ``targets`` behind all those that any beam passes before it; None where they go round."""
    before, after = target[:, :-1].ravel(), target[:, 1:].ravel()
    pairs = np.unique(np.stack([before, after], axis=1)[after >= 0], axis=0)
    place = np.zeros(targets, dtype=np.int64)
    for _ in range(targets + 1):
        least = place.copy()
        np.maximum.at(least, pairs[:, 1], place[pairs[:, 0]] + 1)
        if np.array_equal(least, place):
            return place
        place = least
    return None
