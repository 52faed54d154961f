"""Ranking: which suspects explain what the readings do not agree on, the best first, then the next given the best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln
from scipy.stats import chi2

from ..reductions.consistency import Control
from ..reductions.network import Network
from ..vectors import Flags, Floats, Indices
from .diagnosis import LEVEL
from .exchanges import Exchange, exchanges_of, fall_of
from .signatures import Signatures

__all__ = ["MOST", "Found", "log_chance", "ranked"]

MOST = 5
"""Suspects that are named."""

SEEN = 1e-3
"""An error of which the readings show each other less than this share cannot be told."""

AS_GOOD = 6.0
"""Explanations whose chi-square, counted with two for each parameter, is within this of the best are as good."""

EVEN = 0.5
"""Explanations whose chances differ by less than this, as a logarithm, are even."""

FAMILIES = 2
"""Errors with a size, and exchanges: each family may raise half of the false alarms."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """One explanation.

    Attributes
    ----------
    candidate : int
        Number in the signatures; -1: an exchange.
    exchange : Exchange, optional
        With ``number``, which of its rows.
    sizes, u : (q,) float
    parameters : int
    drop, probability, seen : float
    others : tuple of (candidate, kind, rows)
        Explanations as good; a candidate of -1 is an exchange.
    """

    candidate: int
    exchange: Exchange | None
    number: int
    sizes: Floats
    u: Floats
    parameters: int
    drop: float
    probability: float
    seen: float
    others: tuple[tuple[int, str, tuple[int, int]], ...]


class _Scores:
    """Score tests of all candidates at once, with what was found so far projected out."""

    def __init__(self, control: Control, signatures: Signatures, network: Network) -> None:
        blocks, columns = control.system.blocks, signatures.columns
        white = blocks.white(columns)
        self.inner = white.T @ control.system.left(white)
        self.inner = 0.5 * (self.inner + self.inner.T)
        self.told = columns.T @ control.push
        self.whole = np.einsum("oq,oq->q", white, blocks.weighted(white))
        self.signatures, self.o = signatures, len(control.push)
        self.exchanges = exchanges_of(network)
        self.groups = self._groups()

    def _groups(self) -> list[tuple[Indices, Indices]]:
        """Candidates with the same number of columns ``(n,)``, and their columns ``(n, q)``."""
        order = np.argsort(self.signatures.of, kind="stable")
        names, first, count = np.unique(self.signatures.of[order], return_index=True, return_counts=True)
        return [
            (names[count == q], order[first[count == q][:, None] + np.arange(q)]) for q in np.unique(count)
        ]  # fmt: skip

    def tests(self) -> tuple[Floats, Floats, Floats]:
        """Fall of chi-square, parameters and share seen of every candidate, ``(C,)``; 0 parameters: cannot be told."""
        count = len(self.signatures.candidates)
        drop, parameters, seen = np.zeros(count), np.zeros(count), np.zeros(count)
        for names, columns in self.groups:
            size = np.sqrt(np.where(self.whole[columns] > 0.0, self.whole[columns], 1.0))
            block = self.inner[columns[:, :, None], columns[:, None, :]] / (size[:, :, None] * size[:, None, :])
            values, vectors = np.linalg.eigh(block)
            told = np.einsum("nij,ni->nj", vectors, self.told[columns] / size)
            shows = values > SEEN
            drop[names] = np.sum(np.where(shows, told**2 / np.where(shows, values, 1.0), 0.0), axis=1)
            parameters[names], seen[names] = shows.sum(axis=1), np.clip(values.max(axis=1), 0.0, 1.0)
        return drop, parameters, seen

    def falls(self) -> list[tuple[Floats, Floats]]:
        """Fall of chi-square and logarithm of its probability, of every exchange of every kind."""
        push, share = self.told[-self.o :], self.inner[-self.o :, -self.o :]
        return [fall_of(each, push, share) for each in self.exchanges]

    def sizes(self, candidate: int) -> tuple[Floats, Floats]:
        """Best sizes of a candidate and their standard uncertainties."""
        columns = self.signatures.of_candidate(candidate)
        inverse = self._inverse(columns)
        return inverse @ self.told[columns], np.sqrt(np.clip(np.diag(inverse), 0.0, None))

    def _inverse(self, columns: Indices) -> Floats:
        size = np.sqrt(np.where(self.whole[columns] > 0.0, self.whole[columns], 1.0))
        block = self.inner[np.ix_(columns, columns)] / np.outer(size, size)
        result: Floats = np.linalg.pinv(block, rcond=SEEN, hermitian=True) / np.outer(size, size)
        return result

    def take_out(self, candidate: int) -> None:
        """Count a candidate as known."""
        columns = self.signatures.of_candidate(candidate)
        inverse = self._inverse(columns)
        across = self.inner[:, columns]
        self.told = self.told - across @ (inverse @ self.told[columns])
        self.inner = self.inner - across @ inverse @ across.T

    def put_right(self, exchange: Exchange, number: int) -> None:
        """Count an exchange as put right."""
        moved = np.zeros(self.o + 1)
        np.add.at(moved, exchange.numbers[number], exchange.by[number])
        self.told = self.told + self.inner[:, -self.o :] @ moved[: self.o]


def ranked(control: Control, signatures: Signatures, network: Network) -> tuple[list[Found], Floats, int]:
    """Explanations that stand out, the share of each candidate that is seen ``(C,)``, and how many were tried."""
    scores = _Scores(control, signatures, network)
    found: list[Found] = []
    seen_first, tried = np.zeros(0), 0
    while len(found) < MOST:
        drop, parameters, seen = scores.tests()
        falls = scores.falls()
        told = parameters > 0
        pairs = int(sum(np.isfinite(fall).sum() for fall, _ in falls))
        if not len(seen_first):
            seen_first, tried = np.where(told, seen, 0.0), int(told.sum()) + pairs
        log_p = np.where(told, log_chance(drop, np.maximum(parameters, 1.0)), 0.0)
        log_p += np.log(FAMILIES * max(told.sum(), 1))
        best, log_best = _plainest(log_p, told, signatures), float(log_p.min())
        kind, number = _best_exchange(falls)
        log_pair = float("inf")
        if kind >= 0:
            log_pair = float(falls[kind][1][number]) + np.log(FAMILIES * max(pairs, 1))
        if min(log_best, log_pair) > np.log(LEVEL):
            break
        by_pair = log_pair < log_best
        value = float(falls[kind][0][number]) if by_pair else float(drop[best] - 2.0 * parameters[best])
        as_good = _as_good(scores, drop, parameters, falls, value)
        if by_pair:
            exchange = scores.exchanges[kind]
            others = tuple(each for each in as_good if each[2] != tuple(exchange.rows[number]) or each[0] >= 0)
            found.append(Found(-1, exchange, number, np.zeros(0), np.zeros(0), 0, float(falls[kind][0][number]),
                               float(np.exp(min(log_pair, 0.0))), 1.0, others))  # fmt: skip
            scores.put_right(exchange, number)
            continue
        sizes, u = scores.sizes(best)
        others = tuple(each for each in as_good if each[0] != best)
        found.append(Found(best, None, -1, sizes, u, int(parameters[best]), float(drop[best]),
                           float(np.exp(min(log_best, 0.0))), float(seen[best]), others))  # fmt: skip
        scores.take_out(best)
    return found, seen_first, tried


def _plainest(log_p: Floats, told: Flags, signatures: Signatures) -> int:
    """The least likely by chance; of those that are even with it a wrong reading, which is the plainest of errors."""
    even = np.nonzero(told & (log_p <= log_p.min() + EVEN))[0].tolist()
    plain = [i for i in even if signatures.candidates[i].kind == "bad reading"]
    return min(plain or even, key=lambda i: float(log_p[i]))


FAR = 200.0
"""Beyond this the tail of chi-square is taken from its first term: the chance itself would be nought in float64."""


def log_chance(drop: Floats, parameters: Floats) -> Floats:
    """Logarithm ``(n,)`` of the chance that chi-square of so many parameters is above ``drop``, however far out."""
    near = chi2.logsf(np.minimum(drop, FAR), parameters)
    half = 0.5 * np.maximum(drop, FAR)
    far = (0.5 * parameters - 1.0) * np.log(half) - half - gammaln(0.5 * parameters)
    result: Floats = np.where(drop > FAR, far, near)
    return result


def _best_exchange(falls: list[tuple[Floats, Floats]]) -> tuple[int, int]:
    """Kind and number of the exchange of least probability; -1 where none can be told."""
    best, where = np.inf, (-1, -1)
    for kind, (_, log_p) in enumerate(falls):
        if np.isfinite(log_p).any():
            number = int(np.nanargmin(log_p))
            if log_p[number] < best:
                best, where = float(log_p[number]), (kind, number)
    return where


MOST_OTHERS = 6


def _as_good(
    scores: _Scores, drop: Floats, parameters: Floats, falls: list[tuple[Floats, Floats]], value: float
) -> list[tuple[int, str, tuple[int, int]]]:
    """Explanations that are as good as one whose chi-square, with two for each parameter, falls by ``value``.

    One of each kind comes before a second of any, so that many exchanges do not hide a plain wrong reading.
    """
    worth = np.where(parameters > 0, drop - 2.0 * parameters, -np.inf)
    found = [(float(worth[i]), (int(i), scores.signatures.candidates[i].kind, (-1, -1)))
             for i in np.nonzero(worth >= value - AS_GOOD)[0]]  # fmt: skip
    for exchange, (fall, _) in zip(scores.exchanges, falls, strict=True):
        for i in np.nonzero(np.nan_to_num(fall, nan=-np.inf) >= value - AS_GOOD)[0]:
            found.append((float(fall[i]), (-1, exchange.kind, (int(exchange.rows[i, 0]), int(exchange.rows[i, 1])))))
    found.sort(key=lambda each: -each[0])
    kinds = [each[1] for _, each in found]
    order = sorted(range(len(found)), key=lambda place: (kinds[:place].count(kinds[place]), place))
    return [found[place][1] for place in order[: MOST_OTHERS + 1]]
