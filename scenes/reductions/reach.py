"""Reach: which sums of unknowns the readings determine, and which they leave open.

Stations are eliminated first: what is left to tell are the few unknowns of set-ups and devices.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import eigh, null_space

from ..errors import GeometryError
from ..vectors import Flags, Floats, Indices
from .columns import Columns, Design
from .sums import cross_sums, frame_sums, station_sums

__all__ = ["LOST", "RANK", "Reach", "reach_of"]

LOST = "a beam never meets its target; look at the findings of the plan"

RANK = 3e-4
"""Singular values of the scaled design below this share of the largest count as zero: a micrometre in a reading would
move such an unknown by millimetres. The glass of prisms and targets couples, by some 1e-5, what beams leave open."""

POWER_STEPS = 30


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """What a design of n stations with B unknowns each and f frame unknowns reaches.

    Attributes
    ----------
    scale : (p,) float
        Unit of each unknown, in which its column has the size one.
    ranks : (n,) int
        Sums of its own unknowns that each station determines.
    kept : (f, r) float
        Orthonormal sums of frame unknowns, in units of ``scale``, that the readings determine.
    open_directions : (p, d) float
        Orthonormal in units of ``scale``: sums of unknowns that no reading reaches.
    datum : (d, p) float
        What is nought in a solution: its stations hold nothing of an open direction, which set-ups and devices take
        up; where a direction moves no station, its least square.
    """

    scale: Floats
    ranks: Indices
    kept: Floats
    open_directions: Floats
    datum: Floats

    @property
    def rank(self) -> int:
        """Number of sums that are determined."""
        return int(self.ranks.sum()) + int(self.kept.shape[1])

    def off_datum(self, values: Floats) -> float:
        """How far values ``(p,)`` miss the datum, in the units of readings."""
        return float(np.max(np.abs(self.datum @ (values / self.scale)), initial=0.0))

    def at_datum(self, values: Floats) -> Floats:
        """Values ``(p,)`` moved along what is open until they meet the datum."""
        result: Floats = values - self.scale * (self.open_directions @ (self.datum @ (values / self.scale)))
        return result


def _scales(size: Floats, largest: float) -> Floats:
    seen = size > RANK * max(largest, 1e-300)
    result: Floats = np.where(seen, 1.0 / np.where(seen, size, 1.0), 1.0)
    return result


def _largest(normal: Floats, cross: Floats, frames: Floats) -> float:
    """Largest eigenvalue of the normal matrix of all unknowns, by the power method."""
    station, frame = np.ones(normal.shape[:2]), np.ones(len(frames))
    value = 0.0
    for _ in range(POWER_STEPS):
        size = float(np.sqrt(np.sum(station**2) + frame @ frame))
        if size == 0.0:
            return 0.0
        station, frame = station / size, frame / size
        up = np.einsum("nij,nj->ni", normal, station) + cross @ frame
        frame = np.einsum("nif,ni->f", cross, station) + frames @ frame
        value, station = float(np.sqrt(np.sum(up**2) + frame @ frame)), up
    return value


def reach_of(design: Design, columns: Columns, station: Indices, like: Reach | None = None) -> Reach:
    """What a ``design`` reaches.

    Parameters
    ----------
    station : (o,) int
        Station of each observation.
    like : Reach, optional
        Reach of the nominal design. How many sums are open is taken from there, and only what they are is found anew:
        glass and slopes of second order must not decide what counts as measured.

    Raises
    ------
    GeometryError
        A beam misses its target.
    """
    if not (np.isfinite(design.station).all() and np.isfinite(design.values).all()):
        raise GeometryError(LOST)
    n, b = columns.of_station.shape
    f = design.frames
    normal = station_sums(station, design.station, design.station, n)
    frames = frame_sums(design, np.ones(len(station)))
    norms, of_frame = np.sqrt(np.einsum("nii->ni", normal)), np.sqrt(np.diag(frames))
    largest = max(float(norms.max(initial=0.0)), float(of_frame.max(initial=0.0)))
    scale = columns.of_parts(_scales(norms, largest), _scales(of_frame, largest)) if like is None else like.scale
    mine, frame = columns.station_part(scale), scale[columns.of_frame]
    normal = normal * mine[:, :, None] * mine[:, None, :]
    frames = frames * np.outer(frame, frame)
    cross = cross_sums(station, design.station, design, n) * mine[:, :, None] * frame
    least = RANK**2 * _largest(normal, cross, frames)
    values, vectors = np.linalg.eigh(normal)
    determined = values > least if like is None else np.arange(b) >= b - like.ranks[:, None]
    inner = np.where(determined, 1.0 / np.where(determined, values, 1.0), 0.0)
    inverse = np.einsum("nij,nj,nkj->nik", vectors, inner, vectors)
    pulled = inverse @ cross
    left = frames - np.einsum("nif,nig->fg", cross, pulled, optimize=True)
    mass = np.eye(f) + np.einsum("nif,nig->fg", pulled, pulled, optimize=True)
    lost = np.zeros((f, 0))
    if f:
        sizes, sums = eigh(0.5 * (left + left.T), mass)
        lost = sums[:, sizes <= least] if like is None else sums[:, : f - like.kept.shape[1]]
    kept = null_space(lost.T) if lost.shape[1] else np.eye(f)
    open_ = _open(columns, lost, pulled, vectors, determined)
    return Reach(scale, determined.sum(axis=1), kept, open_, _datum(columns, open_))


MOVES_STATIONS = 1e-3
"""Share of an open direction that must lie in stations for them to carry the datum."""


def _datum(columns: Columns, open_: Floats) -> Floats:
    """Conditions ``(d, p)`` that set what is open; their product with the open directions is one."""
    mine = np.zeros(columns.count, dtype=bool)
    mine[columns.of_station[columns.of_station >= 0]] = True
    if not open_.shape[1]:
        return open_.T
    left, sizes, turn = np.linalg.svd(open_ * mine[:, None], full_matrices=False)
    carried = sizes > MOVES_STATIONS
    result: Floats = turn[carried].T @ ((left[:, carried] / sizes[carried]).T * mine)
    alone = turn[~carried]
    rest = alone @ open_.T
    return result + alone.T @ (rest - (rest @ open_) @ result)


def _open(columns: Columns, lost: Floats, pulled: Floats, vectors: Floats, determined: Flags) -> Floats:
    """Orthonormal sums ``(p, d)`` of unknowns that change no reading."""
    by_frames = columns.of_parts(-np.moveaxis(pulled @ lost, 2, 0), lost.T)
    exists = columns.of_station >= 0
    station, number = np.nonzero(~determined)
    alone = np.zeros((len(station), *columns.of_station.shape))
    alone[np.arange(len(station)), station] = vectors[station, :, number]
    own = columns.of_parts(np.where(exists, alone, 0.0), np.zeros((len(station), len(lost))))
    own = own[np.linalg.norm(own, axis=1) > 0.5]
    together = np.concatenate([by_frames, own]).T
    if not together.shape[1]:
        return together
    left, sizes, _ = np.linalg.svd(together, full_matrices=False)
    result: Floats = left[:, sizes > 1e-9 * sizes[0]]
    return result
