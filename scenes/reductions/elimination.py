"""Elimination: weighted least squares with the stations taken out first, so that only set-ups and devices are left.

Unknown are the few values of each station, those of frames (set-ups, devices), and one standard draw of every error
that stations share, each with an observation of nought and the weight one. The last two make a small dense system (the
Schur complement of the stations), which is solved by QR and not by its normal matrix.

Source: the partitioned least squares of any text on adjustment; JCGM 102:2011, clause 6, for the covariance of what
observations share.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import solve_triangular

from ..vectors import Floats, Indices
from .columns import Columns, Design
from .reach import Reach
from .station_blocks import Batch, Blocks

__all__ = ["Elimination", "eliminated"]


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """K stations with b observations: their whitened design, its inverse normal matrix, and what ties it to the rest.

    ``design`` is (K, b, B), ``inverse`` (K, B, B), ``cross`` (K, B, r).
    """

    batch: Batch
    design: Floats
    inverse: Floats
    cross: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Elimination:
    """A solved system of o observations and p unknowns, ready for any right side.

    Attributes
    ----------
    blocks : Blocks
    columns : Columns
    reach : Reach
    parts : tuple
        The stations.
    basis : (o, r) float
        Orthonormal with ``basis_of_known``: what the rest tells, beyond the stations, of whitened observations.
    basis_of_known : (k, r) float
        The same of the k unknowns of frames that are known beforehand.
    triangle : (r, r) float
    leaks : Leaks, optional
        What open directions change all the same, by glass and slopes; None: nothing.
    """

    blocks: Blocks
    columns: Columns
    reach: Reach
    parts: tuple[_Part, ...]
    basis: Floats
    basis_of_known: Floats
    triangle: Floats
    leaks: Leaks | None = None

    def solution(self, observations: Floats, known: Floats) -> Floats:
        """Unknowns ``(p,)`` that explain observations ``(o,)`` and values known beforehand, in their u ``(k,)``."""
        white = self.blocks.white(observations)
        inner = self.inner_solution(white[:, None], known[:, None])[0]
        if self.leaks is not None:
            inner = self.leaks.mended_solution(inner, white, known)
        station, kept = inner[: self.columns.of_station.size], self.reach.kept
        rest = inner[len(station) :]
        values = self.columns.of_parts(station.reshape(self.columns.of_station.shape), kept @ rest[: kept.shape[1]])
        values = values - self.reach.open_directions @ (self.reach.datum @ values)
        result: Floats = self.reach.scale * values
        return result

    def gain(self, functional: Floats) -> tuple[Floats, Floats]:
        """Change of ``functional @ unknowns`` (k, p) with observations ``(k, o)`` and with what is known ``(k, .)``."""
        scaled = functional * self.reach.scale
        scaled = scaled - (scaled @ self.reach.open_directions) @ self.reach.datum
        inner = self.inner_functional(scaled)
        rows, known = self.inner_gain(inner)
        if self.leaks is not None:
            rows, known = self.leaks.mended_gain(inner, rows, known)
        return self.blocks.unwhite(rows), known

    def inner_functional(self, scaled: Floats) -> Floats:
        """Functionals ``(k, p)`` of scaled unknowns as those of stations and the rest ``(k, nB + r)``."""
        kept = self.reach.kept
        station = self.columns.station_part(scaled).reshape(len(scaled), -1)
        rest = np.zeros((len(scaled), len(self.triangle)))
        rest[:, : kept.shape[1]] = scaled[:, self.columns.of_frame] @ kept
        return np.concatenate([station, rest], axis=1)

    def inner_solution(self, white: Floats, known: Floats) -> Floats:
        """Stations and the rest ``(q, nB + r)`` for whitened observations ``(o, q)`` and known values ``(k, q)``."""
        rest = solve_triangular(self.triangle, self.basis.T @ white + self.basis_of_known.T @ known)
        station = np.zeros((*self.columns.of_station.shape, white.shape[1]))
        for part in self.parts:
            told = part.design.transpose(0, 2, 1) @ white[part.batch.index] - part.cross @ rest
            station[part.batch.station] = part.inverse @ told
        return np.concatenate([station.reshape(-1, white.shape[1]), rest]).T

    def inner_gain(self, inner: Floats) -> tuple[Floats, Floats]:
        """Change of functionals ``(k, nB + r)`` with whitened observations ``(k, o)`` and with what is known."""
        station, rest = self._pulled(inner)
        on = solve_triangular(self.triangle, rest.T, trans="T").T
        rows = on @ self.basis.T
        for part, own in zip(self.parts, station, strict=True):
            rows[:, part.batch.index] += (own @ part.design.transpose(0, 2, 1))[:, :, 0, :]
        return rows, on @ self.basis_of_known.T

    def inner_inverse(self, inner: Floats) -> Floats:
        """Inverse normal matrix times functionals ``(k, nB + r)``."""
        station, rest = self._pulled(inner)
        on = solve_triangular(self.triangle, solve_triangular(self.triangle, rest.T, trans="T")).T
        result = np.zeros((len(inner), *self.columns.of_station.shape))
        for part, own in zip(self.parts, station, strict=True):
            back = np.einsum("kij,kjr,qr->qki", part.inverse, part.cross, on, optimize=True)
            result[:, part.batch.station] = own[:, :, 0, :] - back
        return np.concatenate([result.reshape(len(inner), -1), on], axis=1)

    def _pulled(self, inner: Floats) -> tuple[list[Floats], Floats]:
        """Stations taken out of functionals: their own parts ``(k, K, 1, B)``, and what is left for the rest."""
        size = self.columns.of_station.size
        station = inner[:, :size].reshape(len(inner), *self.columns.of_station.shape)
        rest, pulled = inner[:, size:].copy(), []
        for part in self.parts:
            pulled.append(station[:, part.batch.station][:, :, None, :] @ part.inverse)
            rest -= np.einsum("qkxi,kir->qr", pulled[-1], part.cross, optimize=True)
        return pulled, rest

    def left(self, white: Floats) -> Floats:
        """What whitened observations ``(o, q)`` hold beyond all unknowns; its product with them is a chi-square."""
        result = white - self.basis @ (self.basis.T @ white)
        for part in self.parts:
            mine = white[part.batch.index]
            result[part.batch.index] -= part.design @ (part.inverse @ (part.design.transpose(0, 2, 1) @ mine))
        return result

    def seen_alone(self) -> Floats:
        """Squared size ``(o,)`` of what is left of an error in one observation alone: the diagonal of the share."""
        result = np.zeros(len(self.basis))
        for part in self.parts:
            index = part.batch.index
            own = np.einsum("kai,kij,kbj->kab", part.design, part.inverse, part.design, optimize=True)
            rest = self.basis[index]
            inner = np.eye(index.shape[1]) - own - rest @ rest.transpose(0, 2, 1)
            result[index] = np.einsum("kab,kac,kcb->kb", part.batch.whiten, inner, part.batch.whiten, optimize=True)
        return result


def eliminated(
    blocks: Blocks, design: Design, columns: Columns, reach: Reach, known: Indices, known_to: Floats
) -> Elimination:
    """The system of whitened observations.

    Parameters
    ----------
    known, known_to : (k,)
        Numbers among the frame unknowns that are known beforehand, and their standard uncertainties.
    """
    station = columns.station_part(reach.scale)
    scale = reach.scale[columns.of_frame]
    rest = blocks.white(np.concatenate([(design.frame * scale) @ reach.kept, blocks.shared], axis=1))
    beyond, parts = rest.copy(), []
    for batch in blocks.batches:
        mine = batch.whiten @ (design.station[batch.index] * station[batch.station][:, None, :])
        inverse = _pseudo_inverse(mine.transpose(0, 2, 1) @ mine, reach.ranks[batch.station])
        cross = mine.transpose(0, 2, 1) @ rest[batch.index]
        beyond[batch.index] -= mine @ (inverse @ cross)
        parts.append(_Part(batch, mine, inverse, cross))
    prior = np.zeros((len(known), rest.shape[1]))
    prior[:, : reach.kept.shape[1]] = (scale[:, None] * reach.kept)[known] / known_to[:, None]
    draws = np.zeros((blocks.shared.shape[1], rest.shape[1]))
    draws[:, reach.kept.shape[1] :] = np.eye(len(draws))
    basis, triangle = np.linalg.qr(np.concatenate([beyond, prior, draws]))
    o = len(beyond)
    system = Elimination(blocks, columns, reach, tuple(parts), basis[:o], basis[o : o + len(known)], triangle)
    return replace(system, leaks=_leaks(system, design))


@dataclass(frozen=True, slots=True, eq=False)
class Leaks:
    """Observations move a little, by glass and slopes of second order, along directions that count as open.

    The solution meets the datum M x = 0. With E, the effect of the open directions on whitened observations, the design
    of such solutions is J - E M; the normal matrix of J is known, and that of this one follows by Woodbury's identity.

    Attributes
    ----------
    effect : (o, d) float
        E.
    of_effect, of_open : (d, nB + r) float
        Inverse normal matrix times J^T E and times M^T.
    middle : (2 d, 2 d) float
    right, right_known : (2 d, o) and (2 d, k) float
    """

    effect: Floats
    of_effect: Floats
    of_open: Floats
    middle: Floats
    right: Floats
    right_known: Floats

    def mended_solution(self, inner: Floats, white: Floats, known: Floats) -> Floats:
        """The solution ``(nB + r,)`` that meets the datum."""
        both = np.concatenate([self.of_effect, self.of_open])
        result: Floats = inner - (self.effect.T @ white) @ self.of_open
        result -= (self.middle @ (self.right @ white + self.right_known @ known)) @ both
        return result

    def mended_gain(self, inner: Floats, rows: Floats, known: Floats) -> tuple[Floats, Floats]:
        """The gain of functionals ``(k, nB + r)`` of that solution."""
        on_open = inner @ self.of_open.T
        both = np.concatenate([inner @ self.of_effect.T, on_open], axis=1) @ self.middle
        return rows - on_open @ self.effect.T - both @ self.right, known - both @ self.right_known


SILENT = 1e-9
"""Open directions that move no whitened observation by more than this share of what others do leak nothing."""


def _leaks(system: Elimination, design: Design) -> Leaks | None:
    open_ = system.reach.open_directions
    if not open_.shape[1]:
        return None
    columns, scaled = system.columns, (open_ * system.reach.scale[:, None]).T
    station = columns.station_part(scaled)
    number = np.empty(len(design.station), dtype=np.int64)
    for part in system.parts:
        number[part.batch.index] = part.batch.station[:, None]
    moves = np.einsum("ob,dob->od", design.station, station[:, number]) + design.frame @ scaled[:, columns.of_frame].T
    effect = system.blocks.white(moves)
    largest = max((float(np.abs(part.design).max(initial=0.0)) for part in system.parts), default=0.0)
    if np.abs(effect).max(initial=0.0) <= SILENT * largest:
        return None
    nothing = np.zeros((system.basis_of_known.shape[0], effect.shape[1]))
    inner = system.inner_functional(system.reach.datum)
    of_effect, of_open = system.inner_solution(effect, nothing), system.inner_inverse(inner)
    rows, known = system.inner_gain(inner)
    told = effect - system.left(effect)
    cross, own = inner @ of_effect.T, inner @ of_open.T
    eye = np.eye(effect.shape[1])
    matrix = np.block([[effect.T @ (told - effect), cross.T - eye], [cross - eye, own]])
    return Leaks(
        effect, of_effect, of_open, np.linalg.inv(matrix),
        np.concatenate([told.T - cross.T @ effect.T, rows - own @ effect.T]),
        np.concatenate([(system.basis.T @ effect).T @ system.basis_of_known.T, known]),
    )  # fmt: skip


def _pseudo_inverse(normal: Floats, ranks: Indices) -> Floats:
    """Inverses ``(K, B, B)`` of normal matrices in the ``ranks`` (K,) sums that are determined."""
    own = np.sqrt(np.einsum("kii->ki", normal))
    scale = 1.0 / np.where(own > 0.0, own, 1.0)
    values, vectors = np.linalg.eigh(normal * scale[:, :, None] * scale[:, None, :])
    last = normal.shape[1] - ranks
    kept = np.arange(normal.shape[1]) >= last[:, None]
    inner = np.where(kept, 1.0 / np.where(kept, values, 1.0), 0.0)
    result: Floats = np.einsum("kij,kj,klj->kil", vectors, inner, vectors) * scale[:, :, None] * scale[:, None, :]
    return result
