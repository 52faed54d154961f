"""Normal equations of a network by sums over its observations: each touches one station and a few frame unknowns."""

from __future__ import annotations

import numpy as np

from ..vectors import Floats, Indices
from .columns import Design

__all__ = ["cross_sums", "frame_sums", "station_sums"]


def station_sums(station: Indices, one: Floats, other: Floats, n: int) -> Floats:
    """Sums ``(n, B, q)`` over the observations of each station of the products of ``(o, B)`` and ``(o, q)``."""
    result = np.empty((n, one.shape[1], other.shape[1]))
    for i, a in enumerate(one.T):
        for j, b in enumerate(other.T):
            result[:, i, j] = np.bincount(station, a * b, n)
    return result


def cross_sums(station: Indices, one: Floats, design: Design, n: int) -> Floats:
    """Sums ``(n, B, f)`` of the products of ``(o, B)`` with the frame columns of a design."""
    f = design.frames
    result = np.zeros((one.shape[1], n * (f + 1)))
    for value, number in zip(design.values.T, design.numbers.T, strict=True):
        place = station * (f + 1) + np.where(number < 0, f, number)
        for i, a in enumerate(one.T):
            result[i] += np.bincount(place, a * value, n * (f + 1))
    return np.moveaxis(result.reshape(one.shape[1], n, f + 1), 0, 1)[:, :, :f]


def frame_sums(design: Design, weight: Floats) -> Floats:
    """Weighted normal matrix ``(f, f)`` of the frame columns of a design."""
    f = design.frames
    result = np.zeros((f + 1) ** 2)
    columns = np.where(design.numbers < 0, f, design.numbers)
    for i in range(columns.shape[1]):
        for j in range(i + 1):
            part = np.bincount(columns[:, i] * (f + 1) + columns[:, j], weight * design.values[:, i]
                               * design.values[:, j], (f + 1) ** 2)  # fmt: skip
            result += part
            if j < i:
                result += part.reshape(f + 1, f + 1).T.ravel()
    return result.reshape(f + 1, f + 1)[:f, :f]
