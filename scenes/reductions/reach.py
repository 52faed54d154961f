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
from .station_blocks import gathered

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
    """

    scale: Floats
    ranks: Indices
    kept: Floats
    open_directions: Floats

    @property
    def rank(self) -> int:
        """Number of sums that are determined."""
        return int(self.ranks.sum()) + int(self.kept.shape[1])


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


def reach_of(design: Design, columns: Columns, station: Indices) -> Reach:
    """What the nominal ``design`` reaches.

    Parameters
    ----------
    station : (o,) int
        Station of each observation.

    Raises
    ------
    GeometryError
        A beam misses its target.
    """
    if not (np.isfinite(design.station).all() and np.isfinite(design.frame).all()):
        raise GeometryError(LOST)
    n, b = columns.of_station.shape
    f = design.frame.shape[1]
    norms = np.zeros((n, b))
    np.add.at(norms, station, design.station**2)
    of_frame = np.linalg.norm(design.frame, axis=0)
    norms = np.sqrt(norms)
    largest = max(float(norms.max(initial=0.0)), float(of_frame.max(initial=0.0)))
    scale = columns.of_parts(_scales(norms, largest), _scales(of_frame, largest))
    mine, frame = columns.station_part(scale)[station] * design.station, design.frame * scale[columns.of_frame]
    normal, cross = np.zeros((n, b, b)), np.zeros((n, b, f))
    for names, index in gathered(station):
        part = mine[index]
        normal[names] = part.transpose(0, 2, 1) @ part
        cross[names] = part.transpose(0, 2, 1) @ frame[index]
    least = RANK**2 * _largest(normal, cross, frame.T @ frame)
    values, vectors = np.linalg.eigh(normal)
    determined = values > least
    inverse = np.einsum("nij,nj,nkj->nik", vectors, np.where(determined, 1.0 / np.where(determined, values, 1.0), 0.0),
                        vectors)  # fmt: skip
    pulled = inverse @ cross
    left = frame.T @ frame - np.einsum("nif,nig->fg", cross, pulled)
    mass = np.eye(f) + np.einsum("nif,nig->fg", pulled, pulled)
    lost = np.zeros((f, 0))
    if f:
        sizes, sums = eigh(0.5 * (left + left.T), mass)
        lost = sums[:, sizes <= least]
    kept = null_space(lost.T) if lost.shape[1] else np.eye(f)
    return Reach(scale, determined.sum(axis=1), kept, _open(columns, lost, pulled, vectors, determined))


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
