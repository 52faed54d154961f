"""Observations gathered by station: errors inside a station are whitened at once, errors that stations share apart.

The covariance of the observations is that of blocks, one per station, and a few shared columns: C = D + U U^T. It is
never written out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..uncertainty.propagate import Effect
from ..vectors import Floats, Indices

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
    """All o observations, in batches of stations with the same number of them.

    Attributes
    ----------
    shared : (o, g) float
        One column per standard draw of an error that several stations share.
    of_shared : tuple of (name, group)
        What each column is: the effect, and the number of its group.
    complete : bool
        False where some observations have no error of their own, so that all count alike.
    """

    batches: tuple[Batch, ...]
    shared: Floats
    of_shared: tuple[tuple[str, int], ...]
    complete: bool

    def white(self, columns: Floats) -> Floats:
        """``columns`` (o,) or (o, q), whitened within each station."""
        result = np.empty_like(columns)
        for batch in self.batches:
            mine = columns[batch.index].reshape(*batch.index.shape, -1)
            result[batch.index] = (batch.whiten @ mine).reshape(*batch.index.shape, *columns.shape[1:])
        return result

    def weighted(self, white: Floats) -> Floats:
        """Weight of all observations times whitened ``(o, q)``, both whitened: what shared errors leave of them."""
        base, _ = np.linalg.qr(np.concatenate([self.white(self.shared), np.eye(self.shared.shape[1])]))
        mine = base[: len(white)]
        result: Floats = white - mine @ (mine.T @ white)
        return result

    def weights_alone(self) -> Floats:
        """Diagonal ``(o,)`` of the weight of all observations."""
        result = np.zeros(len(self.shared))
        base, _ = np.linalg.qr(np.concatenate([self.white(self.shared), np.eye(self.shared.shape[1])]))
        for batch in self.batches:
            back = batch.whiten.transpose(0, 2, 1) @ base[batch.index]
            result[batch.index] = np.einsum("kab,kab->kb", batch.whiten, batch.whiten) - np.sum(back**2, axis=2)
        return result

    def unwhite(self, rows: Floats) -> Floats:
        """Functionals ``(k, o)`` of whitened observations as functionals of the observations themselves."""
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


def _shared_columns(effect: Effect, station: Indices) -> tuple[Floats, Indices, Indices]:
    """Columns ``(o, g)`` of the draws that several stations share, their group numbers, and the rest as ``(o,)``."""
    felt = np.nonzero(effect.size)[0]
    numbers, place = np.unique(effect.group[felt], return_inverse=True)
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
    own = np.zeros(len(effect.size), dtype=bool)
    own[felt[~here]] = True
    return result, numbers[across], own


def blocks_of(station: Indices, effects: tuple[Effect, ...]) -> Blocks:
    """Observations by station, with what is known of their errors.

    Parameters
    ----------
    station : (o,) int
        Station of each observation.
    """
    o = len(station)
    columns, names, local = [np.zeros((o, 0))], [], []
    for effect in effects:
        part, groups, own = _shared_columns(effect, station)
        columns.append(part)
        names += [(effect.name, int(group)) for group in groups]
        if own.any():
            local.append((np.where(own, effect.size, 0.0), effect.group, effect.apart))
    shared = np.concatenate(columns, axis=1)
    total = sum((size**2 for size, _, _ in local), np.zeros(o)) + np.einsum("og,og->o", shared, shared)
    least = np.where(total > 0.0, np.sqrt(total), SAME_WEIGHT)
    batches = []
    for names_of, index in gathered(station):
        covariance = _covariance(index, local)
        scale = 1.0 / least[index]
        try:
            root = np.linalg.cholesky(covariance * scale[:, :, None] * scale[:, None, :])
        except np.linalg.LinAlgError:
            return _alike(station, least)
        eye = np.broadcast_to(np.eye(index.shape[1]), root.shape)
        batches.append(Batch(names_of, index, np.linalg.solve(root, eye) * scale[:, None, :]))
    return Blocks(tuple(batches), shared, tuple(names), complete=True)


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
    batches = tuple(
        Batch(names, index, np.eye(index.shape[1]) / least[index][:, None, :]) for names, index in gathered(station)
    )
    return Blocks(batches, np.zeros((len(station), 0)), (), complete=False)
