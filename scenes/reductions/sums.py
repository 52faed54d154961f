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
    for part in _parts(len(station)):
        first = station[part] * (f + 1)
        for value, number in zip(*_columns(design, part), strict=True):
            place = first + number
            for i, a in enumerate(one[part].T):
                np.add.at(result[i], place, a * value)
    return np.moveaxis(result.reshape(one.shape[1], n, f + 1), 0, 1)[:, :, :f]


def frame_sums(design: Design) -> Floats:
    """Normal matrix ``(f, f)`` of the frame columns of a design."""
    f = design.frames
    below, square = np.zeros((f + 1) ** 2), np.zeros((f + 1) ** 2)
    for part in _parts(len(design.values)):
        values, numbers = _columns(design, part)
        for i, (value, number) in enumerate(zip(values, numbers, strict=True)):
            first = number * (f + 1)
            for j in range(i):
                np.add.at(below, first + numbers[j], value * values[j])
            np.add.at(square, first + number, value**2)
    lower = below.reshape(f + 1, f + 1)
    return (square.reshape(f + 1, f + 1) + lower + lower.T)[:f, :f]


PART = 8192
"""Observations worked on at once: new memory for all of them costs more than the arithmetic."""


def _parts(observations: int) -> list[slice]:
    """Slices of ``PART`` that cover the observations."""
    return [slice(at, min(at + PART, observations)) for at in range(0, observations, PART)]


def _columns(design: Design, part: slice) -> tuple[Floats, Indices]:
    """Values and numbers ``(k, .)`` column by column, each in one piece of memory; none counts as number f."""
    numbers = np.ascontiguousarray(design.numbers[part].T)
    if numbers.min(initial=0) < 0:
        numbers = np.where(numbers < 0, design.frames, numbers)
    return np.ascontiguousarray(design.values[part].T), numbers
