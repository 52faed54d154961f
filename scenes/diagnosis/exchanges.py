"""Exchanges: records of two stations that changed places, values with a wrong sign or a slipped point.

Such an error has no free size: what the value should have been is known, so that the test is sharper than that of a
wrong value. With the change d that puts it right, chi-square falls by x = -2 d'p - d'S d, p the weighted residuals, S
their share; in a sound survey d'p is normal with the variance D = d'S d, so that x exceeds a value with the chance
of a normal variable beyond (x + D) / (2 sqrt D).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from ..reductions.network import Network
from ..vectors import Floats, Indices

__all__ = ["Exchange", "exchanges_of", "fall_of"]

SHOWS = 9.0
"""Exchanges that would change chi-square by less than this cannot be told, and are not tried."""


@dataclass(frozen=True, slots=True, eq=False)
class Exchange:
    """Exchanges of one kind, n of them, each of observations of one or two rows in up to c channels.

    Attributes
    ----------
    kind : str
    rows : (n, 2) int
        The second is -1 where there is one only.
    numbers : (n, 2 c) int
        Observations that change; -1: none.
    by : (n, 2 c) float
        What is added to them to put it right.
    """

    kind: str
    rows: Indices
    numbers: Indices
    by: Floats


def exchanges_of(network: Network) -> tuple[Exchange, ...]:
    """All pairs of rows of one set-up at different stations; and every row by itself, with sign or point put right."""
    rows, of = network.geometry.rows, network.observations
    m, channels = len(rows), np.unique(of.channel)
    number = np.full((m, len(channels)), -1)
    number[of.row, np.searchsorted(channels, of.channel)] = np.arange(len(of.row))
    value = np.append(of.value, 0.0)
    first, second = np.nonzero(
        np.triu(rows.setup[:, None] == rows.setup[None, :], 1) & (rows.station[:, None] != rows.station[None, :])
    )
    same = ((number[first] >= 0) == (number[second] >= 0)).all(axis=1)
    pairs = np.stack([first[same], second[same]], axis=1)
    one, two = number[pairs[:, 0]], number[pairs[:, 1]]
    step = np.where(one >= 0, value[two] - value[one], 0.0)
    found = [Exchange("swapped", pairs, np.concatenate([one, two], axis=1), np.concatenate([step, -step], axis=1))]
    alone = np.stack([np.arange(m), np.full(m, -1)], axis=1)
    for kind, factor in (("wrong sign", -2.0), ("point slipped", -0.9), ("point slipped", 9.0)):
        found.append(Exchange(kind, alone, number, np.where(number >= 0, factor * value[number], 0.0)))
    return tuple(found)


def fall_of(exchange: Exchange, push: Floats, share: Floats) -> tuple[Floats, Floats]:
    """Fall of chi-square ``(n,)`` and logarithm of its probability in a sound survey; nan where it cannot be told."""
    told = np.einsum("nc,nc->n", exchange.by, np.append(push, 0.0)[exchange.numbers])
    padded = np.pad(share, ((0, 1), (0, 1)))
    size = np.zeros(len(told))
    width = exchange.numbers.shape[1]
    for i in range(width):
        for j in range(width):
            size += exchange.by[:, i] * exchange.by[:, j] * padded[exchange.numbers[:, i], exchange.numbers[:, j]]
    fall = -2.0 * told - size
    shows = size > SHOWS
    root = np.sqrt(np.where(shows, size, 1.0))
    return np.where(shows, fall, np.nan), np.where(shows, norm.logsf((fall + size) / (2.0 * root)), np.nan)
