"""Signatures: what a unit of every suspected error does to the observations of a network."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..reductions.network import Network
from ..reductions.unknowns import slopes_of
from ..tracing.geometry import CHANNELS
from ..tracing.sensitivity import channel_slopes
from ..vectors import Floats, Indices
from .suspects import Candidate

__all__ = ["Signatures", "signatures_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Signatures:
    """Columns of all candidates, those of single readings last.

    Attributes
    ----------
    candidates : tuple of Candidate
    of : (Q,) int
        Candidate that each column belongs to.
    columns : (o, Q) float
    """

    candidates: tuple[Candidate, ...]
    of: Indices
    columns: Floats

    def of_candidate(self, number: int) -> Indices:
        """Numbers of the columns of one candidate."""
        return np.nonzero(self.of == number)[0]


def signatures_of(network: Network, suspects: tuple[Candidate, ...], records: tuple[str, ...] = ()) -> Signatures:
    """Columns of the suspects, and of one wrong value in every single observation."""
    of = network.observations
    fields = tuple(dict.fromkeys(field for each in suspects for part in each.parts for field in part.moved))
    slopes = channel_slopes(network.geometry, fields, network.state)
    columns, numbers = [], []
    for number, each in enumerate(suspects):
        for part in each.parts:
            moved = sum(
                (np.nan_to_num(slopes_of(slopes, field, of)) * factor[of.row] for field, factor in part.moved.items()),
                np.zeros(len(of.row)),
            )
            columns.append(moved)
            numbers.append(number)
    single = tuple(_single(network, i, records) for i in range(len(of.row)))
    table = np.concatenate([np.array(columns).reshape(-1, len(of.row)).T, np.eye(len(of.row))], axis=1)
    every = np.concatenate([np.array(numbers, dtype=np.int64), len(suspects) + np.arange(len(single))])
    return Signatures((*suspects, *single), every, table)


def _single(network: Network, number: int, records: tuple[str, ...]) -> Candidate:
    return Candidate("bad reading", named_reading(network, number, records), ())


def named_reading(network: Network, number: int, records: tuple[str, ...] = ()) -> str:
    """One observation in words."""
    rows, row = network.geometry.rows, int(network.observations.row[number])
    channel = CHANNELS[int(network.observations.channel[number])]
    place = f" ({records[row]})" if records else ""
    return f"{channel} of {rows.stations[rows.station[row]]} from {rows.setups[rows.setup[row]]}{place}"
