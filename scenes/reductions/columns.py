"""Columns of a network: which unknowns belong to one station, and which to set-ups and devices."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..vectors import Floats, Indices
from .unknowns import Observations, Unknown, slopes_of

__all__ = ["Columns", "Design", "columns_of", "design_parts"]

OF_STATIONS = ("deviation", "deviation_side", "deviation_along", "nod", "swing")
"""Unknowns of which every station has its own."""


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Where the p unknowns stand; n stations with up to B unknowns each, f unknowns of set-ups and devices.

    Attributes
    ----------
    fields : tuple of str
        The B fields of stations.
    of_station : (n, B) int
        Number of each unknown of a station; -1: there is none.
    of_frame : (f,) int
    count : int
        p.
    """

    fields: tuple[str, ...]
    of_station: Indices
    of_frame: Indices
    count: int

    def of_parts(self, station: Floats, frame: Floats) -> Floats:
        """Values ``(..., p)`` from those of stations ``(..., n, B)`` and frames ``(..., f)``."""
        result = np.zeros((*frame.shape[:-1], self.count))
        here = self.of_station >= 0
        result[..., self.of_station[here]] = station[..., here]
        result[..., self.of_frame] = frame
        return result

    def station_part(self, values: Floats) -> Floats:
        """Values ``(..., n, B)`` of stations among all ``(..., p)``; 0 where there is no unknown."""
        padded = np.concatenate([values, np.zeros((*values.shape[:-1], 1))], axis=-1)
        result: Floats = padded[..., self.of_station]
        return result


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Change of o observations with the unknowns; nothing that is always zero is written out.

    Attributes
    ----------
    station : (o, B) float
        With the unknowns of its own station.
    values, numbers : (o, k) float, (o, k) int
        With unknowns of frames, and which ones of the ``frames`` these are; -1: none.
    frames : int
    """

    station: Floats
    values: Floats
    numbers: Indices
    frames: int

    @property
    def frame(self) -> Floats:
        """Change ``(o, f)`` with all unknowns of frames, written out."""
        result = np.zeros((len(self.values), self.frames + 1))
        for value, number in zip(self.values.T, self.numbers.T, strict=True):
            result[np.arange(len(value)), number] += value
        return result[:, : self.frames]

    def moves(self, station: Floats, frame: Floats) -> Floats:
        """Moves ``(o,)`` for values ``(o, B)`` of each one's station and ``(f,)`` of frames."""
        padded = np.append(frame, 0.0)
        own: Floats = np.einsum("ob,ob->o", self.station, station)
        own += np.einsum("ok,ok->o", self.values, padded[self.numbers])
        return own


def columns_of(unknowns: tuple[Unknown, ...], station: Indices) -> Columns:
    """Where each unknown stands, in the order of the unknowns and of their keys.

    Parameters
    ----------
    station : (m,) int
        Station of each row.
    """
    stations = int(station.max(initial=-1)) + 1
    fields = tuple(dict.fromkeys(each.field for each in unknowns if each.field in OF_STATIONS))
    of_station = np.full((stations, len(fields)), -1, dtype=np.int64)
    frames: list[int] = []
    first = 0
    for unknown in unknowns:
        numbers = first + np.arange(len(unknown.keys))
        if unknown.field in fields:
            here = np.nonzero(unknown.group >= 0)[0]
            of_station[station[here], fields.index(unknown.field)] = numbers[unknown.group[here]]
        else:
            frames += numbers.tolist()
        first += len(unknown.keys)
    return Columns(fields, of_station, np.array(frames, dtype=np.int64), first)


def design_parts(
    unknowns: tuple[Unknown, ...], columns: Columns, slopes: dict[str, dict[str, Floats]], of: Observations
) -> Design:
    """Change of the observations with the unknowns, nothing written out that is always zero."""
    o = len(of.row)
    station, values, numbers, frames = np.zeros((o, len(columns.fields))), [np.zeros((o, 0))], [], 0
    for unknown in unknowns:
        group, slope = unknown.group[of.row], slopes_of(slopes, unknown.field, of)
        mine = np.where(group >= 0, slope, 0.0)
        if unknown.field in columns.fields:
            station[:, columns.fields.index(unknown.field)] += mine
        else:
            values.append(mine[:, None])
            numbers.append(np.where(group >= 0, frames + group, -1))
            frames += len(unknown.keys)
    which = np.stack(numbers, axis=1) if numbers else np.zeros((o, 0), dtype=np.int64)
    return Design(station, np.concatenate(values, axis=1), which, frames)
