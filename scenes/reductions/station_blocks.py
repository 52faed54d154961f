"""Observations gathered by station: errors inside a station are whitened at once, errors that stations share apart.

The covariance of the observations is that of blocks, one per station, and a few shared columns: C = D + U U^T. It is
never written out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..uncertainty.propagate import Effect
from ..vectors import Flags, Floats, Indices

__all__ = ["SAME_WEIGHT", "Batch", "Blocks", "blocks_of", "gathered"]

SAME_WEIGHT = 1e-6
"""Size [m, rad] of the errors where none is stated: all readings count alike then."""


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """K stations with b observations each.

    Attributes
    ----------
    station : (K,) int
    index : (K, b) int
        Their observations.
    whiten : (K, b, b) float
        Makes their errors alike and independent, about one in size.
    """

    station: Indices
    index: Indices
    whiten: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """All o observations by station, with what is known of their errors.

    Attributes
    ----------
    station : (o,) int
    own : (o,) float or None
        One over the size of each one's own error, where no station shares errors among its observations.
    batches : tuple of Batch
        Stations with the same number of observations, where it does; else empty.
    shared : (o, g) float
        One column per standard draw of an error that several stations share.
    complete : bool
        False where some observations have no error of their own, so that all count alike.
    """

    station: Indices
    own: Floats | None
    batches: tuple[Batch, ...]
    shared: Floats
    complete: bool

    def white(self, columns: Floats) -> Floats:
        """``columns`` (o,) or (o, q), whitened within each station."""
        if self.own is not None:
            return columns * (self.own if columns.ndim == 1 else self.own[:, None])
        result = np.empty_like(columns)
        for batch in self.batches:
            mine = columns[batch.index].reshape(*batch.index.shape, -1)
            result[batch.index] = (batch.whiten @ mine).reshape(*batch.index.shape, *columns.shape[1:])
        return result

    def _base(self) -> Floats:
        """Orthonormal columns ``(o, g)`` of what shared errors do to whitened observations."""
        base, _ = np.linalg.qr(np.concatenate([self.white(self.shared), np.eye(self.shared.shape[1])]))
        return base[: len(self.shared)]

    def weighted(self, white: Floats) -> Floats:
        """Weight of all observations times whitened ``(o, q)``, both whitened: what shared errors leave of them."""
        base = self._base()
        result: Floats = white - base @ (base.T @ white)
        return result

    def weights_alone(self) -> Floats:
        """Diagonal ``(o,)`` of the weight of all observations."""
        return self.diagonal(self._base())

    def diagonal(self, base: Floats, *others: Floats) -> Floats:
        """Diagonal ``(o,)`` of W (1 - base base^T - ...) W with W the whitening; all ``base`` are ``(o, q)``."""
        if self.own is not None:
            taken = sum((np.einsum("oq,oq->o", each, each) for each in (base, *others)), np.zeros(len(base)))
            result: Floats = self.own**2 * (1.0 - taken)
            return result
        result = np.zeros(len(base))
        for batch in self.batches:
            back = batch.whiten.transpose(0, 2, 1)
            result[batch.index] = np.einsum("kab,kab->kb", batch.whiten, batch.whiten)
            for each in (base, *others):
                result[batch.index] -= np.sum((back @ each[batch.index]) ** 2, axis=2)
        return result

    def unwhite(self, rows: Floats) -> Floats:
        """Functionals ``(k, o)`` of whitened observations as functionals of the observations themselves."""
        if self.own is not None:
            return rows * self.own
        result = np.empty_like(rows)
        for batch in self.batches:
            result[:, batch.index] = (rows[:, batch.index][:, :, None, :] @ batch.whiten)[:, :, 0, :]
        return result


def gathered(station: Indices) -> list[tuple[Indices, Indices]]:
    """Stations with the same number of observations ``(K,)``, and their observations ``(K, b)``, fewest first."""
    order = np.argsort(station, kind="stable")
    names, first, count = np.unique(station[order], return_index=True, return_counts=True)
    found = []
    for size in np.unique(count):
        chosen = np.nonzero(count == size)[0]
        found.append((names[chosen], order[first[chosen][:, None] + np.arange(size)]))
    return found


def _shared_columns(effect: Effect, station: Indices) -> tuple[Floats, Flags, bool]:
    """Columns ``(o, g)`` of the draws that several stations share, who feels others, and whether any of those meet."""
    felt = np.nonzero(effect.size)[0]
    own = np.zeros(len(effect.size), dtype=bool)
    if np.all(np.diff(effect.group[felt]) > 0):  # each has a draw of its own
        own[felt] = True
        return np.zeros((len(own), 0)), own, False
    numbers, place, count = np.unique(effect.group[felt], return_inverse=True, return_counts=True)
    if np.all(count == 1):
        own[felt] = True
        return np.zeros((len(own), 0)), own, False
    low = np.full(len(numbers), np.iinfo(np.int64).max)
    high = np.full(len(numbers), -1)
    np.minimum.at(low, place, station[felt])
    np.maximum.at(high, place, station[felt])
    across = np.nonzero(low < high)[0]
    column = np.full(len(numbers), -1)
    column[across] = np.arange(len(across))
    here = column[place] >= 0
    result = np.zeros((len(effect.size), len(across)))
    result[felt[here], column[place][here]] = effect.size[felt[here]]
    own[felt[~here]] = True
    return result, own, bool(np.any(count[low == high] > 1))


def blocks_of(station: Indices, effects: tuple[Effect, ...]) -> Blocks:
    """Observations by station, with what is known of their errors.

    Parameters
    ----------
    station : (o,) int
        Station of each observation.
    """
    o = len(station)
    columns, local, meet = [np.zeros((o, 0))], [], False
    for effect in effects:
        part, own, meets = _shared_columns(effect, station)
        columns.append(part)
        if own.any():
            local.append((np.where(own, effect.size, 0.0), effect.group, not meets))
            meet |= meets
    shared = np.concatenate(columns, axis=1)
    alone = sum((size**2 for size, _, _ in local), np.zeros(o))
    total = alone + np.einsum("og,og->o", shared, shared)
    least = np.where(total > 0.0, np.sqrt(total), SAME_WEIGHT)
    if not np.all(alone > SINGULAR * total):
        return _alike(station, least)
    if not meet:
        return Blocks(station, 1.0 / np.sqrt(alone), (), shared, complete=True)
    batches = []
    for names, index in gathered(station):
        covariance = _covariance(index, local)
        scale = 1.0 / least[index]
        try:
            root = np.linalg.cholesky(covariance * scale[:, :, None] * scale[:, None, :])
        except np.linalg.LinAlgError:
            return _alike(station, least)
        eye = np.broadcast_to(np.eye(index.shape[1]), root.shape)
        batches.append(Batch(names, index, np.linalg.solve(root, eye) * scale[:, None, :]))
    return Blocks(station, None, tuple(batches), shared, complete=True)


SINGULAR = 1e-14
"""Own variances below this share of the whole count as none."""


def _covariance(index: Indices, local: list[tuple[Floats, Indices, bool]]) -> Floats:
    """Covariance ``(K, b, b)`` of the errors that no two stations share."""
    k, b = index.shape
    result, diagonal = np.zeros((k, b, b)), np.zeros((k, b))
    for size, group, apart in local:
        mine = size[index]
        if apart or b == 1:
            diagonal += mine**2
        else:
            numbers = group[index]
            together = numbers[:, :, None] == numbers[:, None, :]
            result += np.where(together, mine[:, :, None] * mine[:, None, :], 0.0)
    result[:, np.arange(b), np.arange(b)] += diagonal
    return result


def _alike(station: Indices, least: Floats) -> Blocks:
    """All observations by their own size alone: some of them have no error of their own."""
    return Blocks(station, 1.0 / least, (), np.zeros((len(station), 0)), complete=False)
