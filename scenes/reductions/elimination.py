"""Elimination: weighted least squares with the stations taken out first, so that only set-ups and devices are left.

Unknown are the few values of each station, those of frames (set-ups, devices), and one standard draw of every error
that stations share, each with an observation of nought and the weight one. The last two make a small dense system: the
Schur complement of the stations. Nothing of the size of observations times unknowns is built unless it is asked for.

Source: the partitioned least squares of any text on adjustment; JCGM 102:2011, clause 6, for the covariance of what
observations share.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import solve_triangular
from scipy.sparse import csr_array, hstack

from ..errors import GeometryError
from ..vectors import Floats, Indices
from .columns import Columns, Design
from .leaks import Leaks
from .reach import Reach
from .station_blocks import Blocks
from .sums import cross_sums, frame_sums, station_sums

__all__ = ["Elimination", "eliminated"]


@dataclass(frozen=True, slots=True, eq=False)
class Elimination:
    """A solved system of o observations and p unknowns, ready for any right side.

    Attributes
    ----------
    blocks : Blocks
    columns : Columns
    reach : Reach
    station : (o, B) float
        Whitened change of the observations with the unknowns of their station.
    rest : (o, f + g)
        The same of frames and shared draws; sparse where nothing mixes observations.
    inverse : (n, B, B) float
        Inverse normal matrices of the stations.
    pulled : (n, B, r) float
        What the rest does to the stations.
    kept : (f + g, r) float
        The rest in the sums that are determined.
    known : (k, r) float
        Change of what is known beforehand, in its u.
    root : (r, r) float
        Lower Cholesky root of the normal matrix of the rest.
    leaks : Leaks, optional
        What open directions change all the same, by glass and slopes; None: nothing.
    """

    blocks: Blocks
    columns: Columns
    reach: Reach
    station: Floats
    rest: Floats | csr_array
    inverse: Floats
    pulled: Floats
    kept: Floats
    known: Floats
    root: Floats
    leaks: Leaks | None = None

    def solution(self, observations: Floats, known: Floats) -> Floats:
        """Unknowns ``(p,)`` that explain observations ``(o,)`` and values known beforehand, in their u ``(k,)``."""
        white = self.blocks.white(observations)
        inner = self.inner_solution(white[:, None], known[:, None])[0]
        if self.leaks is not None:
            inner = self.leaks.mended_solution(inner, white, known)
        values = self._of_inner(inner[None])[0]
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

    def variances(self) -> Floats:
        """Variances ``(p,)`` of all unknowns at their datum, where the weights are those of the observations.

        Leaks are left out.
        """
        n, b = self.columns.of_station.shape
        on = solve_triangular(self.root, self.pulled.reshape(n * b, -1).T, lower=True).reshape(-1, n, b)
        station = np.einsum("nii->ni", self.inverse) + np.einsum("rni,rni->ni", on, on)
        frames = solve_triangular(self.root, self.kept[: len(self.columns.of_frame)].T, lower=True)
        own = self.columns.of_parts(station, np.einsum("rf,rf->f", frames, frames))
        open_, datum = self.reach.open_directions, self.reach.datum
        told = self._of_inner(self.inner_inverse(self.inner_functional(datum)))
        middle = datum @ told.T
        variance = own - 2.0 * np.einsum("pd,dp->p", open_, told) + np.einsum("pd,de,pe->p", open_, middle, open_)
        result: Floats = self.reach.scale**2 * variance
        return result

    def inner_functional(self, scaled: Floats) -> Floats:
        """Functionals ``(k, p)`` of scaled unknowns as those of stations and the rest ``(k, nB + r)``."""
        station = self.columns.station_part(scaled).reshape(len(scaled), self.columns.of_station.size)
        frames = self.columns.of_frame
        return np.concatenate([station, scaled[:, frames] @ self.kept[: len(frames)]], axis=1)

    def _of_inner(self, inner: Floats) -> Floats:
        """Scaled unknowns ``(k, p)`` of stations and the rest ``(k, nB + r)``."""
        shape = self.columns.of_station.shape
        station, rest = inner[:, : shape[0] * shape[1]], inner[:, shape[0] * shape[1] :]
        frames = (rest @ self.kept.T)[:, : len(self.columns.of_frame)]
        return self.columns.of_parts(station.reshape(len(inner), *shape), frames)

    def inner_solution(self, white: Floats, known: Floats) -> Floats:
        """Stations and the rest ``(q, nB + r)`` for whitened observations ``(o, q)`` and known values ``(k, q)``."""
        n, b = self.columns.of_station.shape
        told = station_sums(self.blocks.station, self.station, white, n)
        rest = self.kept.T @ (self.rest.T @ white) + self.known.T @ known
        rest = self._rest(rest - np.einsum("nir,niq->rq", self.pulled, told, optimize=True))
        station = self.inverse @ told - self.pulled @ rest
        return np.concatenate([station.reshape(n * b, -1), rest]).T

    def inner_gain(self, inner: Floats) -> tuple[Floats, Floats]:
        """Change of functionals ``(k, nB + r)`` with whitened observations ``(k, o)`` and with what is known."""
        solved = self.inner_inverse(inner)
        return self._observed(solved), solved[:, self.columns.of_station.size :] @ self.known.T

    def inner_inverse(self, inner: Floats) -> Floats:
        """Inverse normal matrix times functionals ``(k, nB + r)``."""
        n, b = self.columns.of_station.shape
        station, rest = inner[:, : n * b].reshape(len(inner), n, b), inner[:, n * b :]
        rest = self._rest(rest.T - np.einsum("nir,kni->rk", self.pulled, station, optimize=True)).T
        own = np.einsum("nij,knj->kni", self.inverse, station)
        own -= np.einsum("nir,kr->kni", self.pulled, rest, optimize=True)
        return np.concatenate([own.reshape(len(inner), n * b), rest], axis=1)

    def _rest(self, right: Floats) -> Floats:
        inner = solve_triangular(self.root, right, lower=True)
        result: Floats = solve_triangular(self.root, inner, lower=True, trans="T")
        return result

    def _observed(self, inner: Floats) -> Floats:
        """Whitened observations ``(k, o)`` of stations and the rest ``(k, nB + r)``."""
        n, b = self.columns.of_station.shape
        mine = inner[:, : n * b].reshape(len(inner), n, b)[:, self.blocks.station]
        rest = (self.rest @ (self.kept @ inner[:, n * b :].T)).T
        result: Floats = np.einsum("ob,kob->ko", self.station, mine) + rest
        return result

    def left(self, white: Floats) -> Floats:
        """What whitened observations ``(o, q)`` hold beyond all unknowns; its product with them is a chi-square."""
        nothing = np.zeros((len(self.known), white.shape[1]))
        return white - self._observed(self.inner_solution(white, nothing)).T

    def seen_alone(self) -> Floats:
        """Squared size ``(o,)`` of what is left of an error in one observation alone: the diagonal of the share."""
        values, vectors = np.linalg.eigh(self.inverse)
        half = vectors * np.sqrt(np.clip(values, 0.0, None))[:, None, :]
        own = np.einsum("ob,obj->oj", self.station, half[self.blocks.station])
        beyond = self.rest @ self.kept - np.einsum("ob,obr->or", self.station, self.pulled[self.blocks.station])
        return self.blocks.diagonal(own, solve_triangular(self.root, beyond.T, lower=True).T)


def eliminated(
    blocks: Blocks, design: Design, columns: Columns, reach: Reach, known: Indices, known_to: Floats
) -> Elimination:
    """The system of whitened observations.

    Parameters
    ----------
    known, known_to : (k,)
        Numbers among the frame unknowns that are known beforehand, and their standard uncertainties.

    Raises
    ------
    GeometryError
        Where the weights leave a sum of unknowns without any, although readings see it.
    """
    n = len(columns.of_station)
    scale, g = reach.scale[columns.of_frame], blocks.shared.shape[1]
    station = blocks.white(design.station * columns.station_part(reach.scale)[blocks.station])
    rest, cross, normal = _rest_of(blocks, design, station, scale, n)
    inverse = _pseudo_inverse(station_sums(blocks.station, station, station, n), reach.ranks)
    kept = np.zeros((len(scale) + g, reach.kept.shape[1] + g))
    kept[: len(scale), : reach.kept.shape[1]] = reach.kept
    kept[len(scale) :, reach.kept.shape[1] :] = np.eye(g)
    pulled = inverse @ cross
    inner = normal - np.einsum("nir,nis->rs", cross, pulled, optimize=True)
    prior = (scale[:, None] * reach.kept)[known] / known_to[:, None]
    prior = np.concatenate([prior, np.zeros((len(known), g))], axis=1)
    inner = kept.T @ inner @ kept + prior.T @ prior
    inner[reach.kept.shape[1] :, reach.kept.shape[1] :] += np.eye(g)
    try:
        root = np.linalg.cholesky(inner)
    except np.linalg.LinAlgError:
        raise GeometryError(
            "the stated uncertainties differ by too much for a solution; look for one that is far too small"
        ) from None
    system = Elimination(blocks, columns, reach, station, rest, inverse, pulled @ kept, kept, prior, root)
    return replace(system, leaks=_leaks(system, design))


def _rest_of(
    blocks: Blocks, design: Design, station: Floats, scale: Floats, n: int
) -> tuple[Floats | csr_array, Floats, Floats]:
    """Whitened frames and shared draws ``(o, f + g)``, what ties them to stations, and their normal matrix."""
    f, shared = design.frames, blocks.white(blocks.shared)
    if blocks.own is None:
        rest = np.concatenate([blocks.white(design.frame * scale), shared], axis=1)
        return rest, station_sums(blocks.station, station, rest, n), rest.T @ rest
    sized = design.values * np.append(scale, 0.0)[design.numbers] * blocks.own[:, None]
    mine = Design(station, sized, design.numbers, f)
    o, k = sized.shape
    numbers = np.where(design.numbers < 0, 0, design.numbers).ravel()
    frames = csr_array((sized.ravel(), numbers, np.arange(o + 1) * k), shape=(o, f))
    ties = [cross_sums(blocks.station, station, mine, n), station_sums(blocks.station, station, shared, n)]
    cross = np.concatenate(ties, axis=2)
    both = frames.T @ shared
    normal = np.block([[frame_sums(mine, np.ones(o)), both], [both.T, shared.T @ shared]])
    return (hstack([frames, csr_array(shared)], format="csr") if shared.shape[1] else frames), cross, normal


SILENT = 1e-9
"""Open directions that move no whitened observation by more than this share of what others do leak nothing."""


def _leaks(system: Elimination, design: Design) -> Leaks | None:
    open_ = system.reach.open_directions
    if not open_.shape[1]:
        return None
    columns, scaled = system.columns, (open_ * system.reach.scale[:, None]).T
    parts = zip(columns.station_part(scaled), scaled[:, columns.of_frame], strict=True)
    moves = [design.moves(station[system.blocks.station], frame) for station, frame in parts]
    effect = system.blocks.white(np.stack(moves, axis=1))
    largest = float(np.abs(system.station).max(initial=0.0))
    if np.abs(effect).max(initial=0.0) <= SILENT * largest:
        return None
    nothing = np.zeros((len(system.known), effect.shape[1]))
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
        np.concatenate([of_effect[:, columns.of_station.size :] @ system.known.T, known]),
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
